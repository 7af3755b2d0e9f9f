"""The nutrition declaration against published cases, at the steps of rounding, and what must hold whatever is asked."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from published import REQUESTS, as_printed, cases

from labelsvc.declaration.compute import nutrition
from labelsvc.declaration.context import labelling_rule
from labelsvc.declaration.nutrition import NutritionLine, control_range_of_fat, nutrition_declaration, rounded
from labelsvc.errors import InputError
from labelsvc.rules.load import rules_of
from labelsvc.shape import read_shape
from labelsvc.units import Mass

RULES = rules_of("eu", dt.date(2026, 3, 2))
# USDA SR release 26: pork blade 10080, table salt 02047
PORK = {"fat": "12.36", "saturates": "4.35", "carbohydrate": "0", "sugars": "0", "protein": "17.42", "sodium_mg": "61"}
SALT = {"fat": "0", "saturates": "0", "carbohydrate": "0", "sugars": "0", "protein": "0", "sodium_mg": "38758"}


def request(**changes: Any) -> dict[str, Any]:
    ingredients = [{"name": "pork", "weight": "1000 g", "per_100g": PORK}, {"name": "salt", "weight": "30 g", "per_100g": SALT}]
    return {"market": "eu", "finished_weight": "650 g", "ingredients": ingredients, **changes}


@pytest.mark.parametrize("case", cases("nutrition"), ids=lambda case: case["id"])
@pytest.mark.parametrize("market", ["eu", "gb"])
def test_nutrition_when_published_then_same_values(case: dict[str, Any], market: str) -> None:
    asked = {**REQUESTS["nutrition"][1](case), "market": market}
    answer = nutrition(asked)
    for name, text in case["exact"].items():
        assert as_printed(answer["per_100g"][name], text) == Decimal(text), name
    assert {name: answer["declared"][name] for name in case.get("declared", {})} == case.get("declared", {})
    lines = [read_shape(NutritionLine, one, "ingredient") for one in asked["ingredients"]]
    finished = Mass.parse(asked["finished_weight"])
    assert nutrition_declaration(lines, market=market, finished_weight=finished).as_json() == answer


def test_nutrition_when_dried_then_only_water_is_lost() -> None:
    answer = nutrition(request())
    # fat 123.6 / 6.5 = 19.0154; protein 174.2 / 6.5 = 26.8; sodium (610 + 11627.4) / 6.5 = 1882.6769 mg, x 2.5 = 4.7067 g
    # kJ: 19.0154 x 37 + 26.8 x 17 = 703.57 + 455.6 = 1159.17; kcal: 171.14 + 107.2 = 278.34
    expected = {"energy_kj": "1159 kJ", "energy_kcal": "278 kcal", "fat": "19 g", "saturates": "6.7 g", "carbohydrate": "0 g"}
    assert answer["declared"] == {**expected, "sugars": "0 g", "protein": "27 g", "salt": "4.7 g"}
    assert answer["per_100g"]["protein"] == "26.8"


def test_energy_when_fibre_acid_and_alcohol_are_given_then_counted() -> None:
    # 10 x 8 + 2 x 13 + 1 x 29 = 135 kJ; 10 x 2 + 2 x 3 + 1 x 7 = 33 kcal
    nothing = dict.fromkeys(["fat", "saturates", "carbohydrate", "sugars", "protein", "sodium_mg"], "0")
    one = {"name": "wine", "weight": "100 g", "per_100g": {**nothing, "fibre": "10", "organic_acid": "2", "alcohol": "1"}}
    answer = nutrition(request(ingredients=[one], finished_weight="100 g"))
    assert (answer["per_100g"]["energy_kj"], answer["per_100g"]["energy_kcal"]) == ("135", "33")
    assert answer["declared"]["fibre"] == "10 g"


@pytest.mark.parametrize(
    ("name", "grams", "printed"),
    [
        ("fat", "0.499", "<0.5 g"),
        ("fat", "0.5", "0.5 g"),
        ("fat", "9.94", "9.9 g"),
        ("fat", "9.96", "10 g"),
        ("fat", "10.5", "11 g"),
        ("fat", "0", "0 g"),
        ("saturates", "0.09", "0 g"),
        ("saturates", "0.1", "0.1 g"),
        ("salt", "0.0124", "0 g"),
        ("salt", "0.0125", "0.01 g"),
        ("salt", "0.994", "0.99 g"),
        ("salt", "0.996", "1.0 g"),
        ("salt", "1.05", "1.1 g"),
    ],
)
def test_rounding_when_at_a_step_then_by_the_guidance(name: str, grams: str, printed: str) -> None:
    assert rounded(name, Decimal(grams), labelling_rule(RULES, "nutrition_rounding")) == printed


@pytest.mark.parametrize(
    ("declared", "low", "high"),
    [
        ("9.9", "8.4", "11.4"),
        ("10", "8", "12"),
        ("30", "24", "36"),
        ("40", "32", "48"),
        ("40.1", "32.1", "48.1"),
        ("1", "0", "2.5"),
    ],
)
def test_control_range_of_fat_then_by_the_guidance(declared: str, low: str, high: str) -> None:
    # 1.5 g, 20 % and 8 g by hand
    rule = labelling_rule(RULES, "nutrition_tolerance_fat")
    assert control_range_of_fat(Decimal(declared), rule) == (Decimal(low), Decimal(high))


@pytest.mark.parametrize("case", cases("tolerance"), ids=lambda case: case["id"])
def test_control_range_of_fat_when_published_then_the_same(case: dict[str, Any]) -> None:
    rule = labelling_rule(RULES, "nutrition_tolerance_fat")
    assert control_range_of_fat(Decimal(case["declared_fat"]), rule) == (Decimal(case["low"]), Decimal(case["high"]))


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"market": "us"}, "market"),
        ({"finished_weight": "0 g"}, "finished_weight"),
        ({"finished_weight": "200 g"}, "finished_weight"),
        ({"ingredients": []}, "ingredients"),
        ({"extra": 1}, "extra"),
        ({"ingredients": [{"name": "x", "weight": "1 g", "per_100g": {**PORK, "fat": 1.5}}]}, "ingredients[0].per_100g.fat"),
        (
            {"ingredients": [{"name": "x", "weight": "1 g", "per_100g": {**PORK, "fat": "4"}}]},
            "ingredients[0].per_100g.saturates",
        ),
        (
            {"ingredients": [{"name": "x", "weight": "1 g", "per_100g": {**PORK, "sugars": "1"}}]},
            "ingredients[0].per_100g.sugars",
        ),
        ({"ingredients": [{"name": "x", "weight": "1 g", "per_100g": {"fat": "1"}}]}, "ingredients[0].per_100g.saturates"),
    ],
)
def test_request_when_a_field_is_wrong_then_the_error_names_it(changes: dict[str, Any], field: str) -> None:
    with pytest.raises(InputError) as caught:
        nutrition(request(**changes))
    assert caught.value.field == field


@given(st.integers(min_value=500, max_value=1030), st.integers(min_value=2, max_value=50))
@settings(max_examples=40, deadline=None)
def test_nutrition_when_scaled_or_in_ounces_then_the_same(finished: int, times: int) -> None:
    def asked(factor: int, unit: str) -> dict[str, Any]:
        pork = {"name": "pork", "weight": f"{1000 * factor} {unit}", "per_100g": PORK}
        return request(ingredients=[pork], finished_weight=f"{finished * factor} {unit}")

    assert nutrition(asked(1, "g")) == nutrition(asked(times, "g")) == nutrition(asked(1, "oz"))
