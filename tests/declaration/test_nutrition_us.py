"""The amounts of a US serving: each step of the increments, sums by hand, and that it never passes for a whole panel."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Any

import pytest
from published import cases

from labelsvc.declaration.compute import nutrition
from labelsvc.declaration.context import labelling_rule
from labelsvc.declaration.nutrition_us import increment
from labelsvc.errors import InputError
from labelsvc.rules.load import rules_of

RULES = rules_of("us", dt.date(2026, 3, 2))
# USDA SR release 26: pork blade 10080, table salt 02047; an invented sugar with fibre
PORK = {"fat": "12.36", "saturates": "4.35", "carbohydrate": "0", "sugars": "0", "protein": "17.42", "sodium_mg": "61"}
SALT = {"fat": "0", "saturates": "0", "carbohydrate": "0", "sugars": "0", "protein": "0", "sodium_mg": "38758"}
SUGAR = {"fat": "0", "saturates": "0", "carbohydrate": "90", "sugars": "90", "protein": "0", "sodium_mg": "0", "fibre": "10"}


def asked(**changes: Any) -> dict[str, Any]:
    uses = (("pork", "1000 g", PORK), ("salt", "30 g", SALT), ("sugar", "20 g", SUGAR))
    ingredients = [{"name": name, "weight": weight, "per_100g": held} for name, weight, held in uses]
    return nutrition({"market": "us", "finished_weight": "650 g", "serving": "28 g", "ingredients": ingredients, **changes})


@pytest.mark.parametrize(
    ("nutrient", "amount", "printed"),
    [(one["nutrient"], amount, printed) for one in cases("increment") for amount, printed in one["printed"].items()],
)
def test_increment_when_at_a_step_then_as_the_table_has_it(nutrient: str, amount: str, printed: str) -> None:
    assert increment(nutrient, Decimal(amount), labelling_rule(RULES, "nutrition_rounding")) == printed


def test_serving_when_worked_by_hand_then_the_same() -> None:
    answer = asked()
    # 28 g of 650 g: fat 123.6 x 28 / 650 = 5.3243; saturates 43.5 -> 1.8738; sodium (610 + 11627.4) -> 527.1495 mg
    # carbohydrate with fibre (18 + 2) -> 0.8615; fibre 2 -> 0.0862; sugars 18 -> 0.7754; protein 174.2 -> 7.5040
    # calories 5.3243 x 9 + 0.8615 x 4 + 7.5040 x 4 = 81.38
    assert answer["declared"] == {
        "calories": "80", "total_fat": "5 g", "saturated_fat": "2 g", "sodium_mg": "530 mg",
        "total_carbohydrate": "less than 1 g", "dietary_fiber": "0 g", "sugars": "less than 1 g", "protein": "8 g",
    }  # fmt: skip
    # of 65 g, 20 g, 2400 mg, 300 g and 25 g: 8.19, 9.37, 21.96, 0.29, 0.34
    assert answer["daily_values"] == {
        "total_fat": "8%", "saturated_fat": "9%", "sodium_mg": "22%", "total_carbohydrate": "0%", "dietary_fiber": "0%",
    }  # fmt: skip
    assert Decimal(answer["per_serving"]["protein"]).quantize(Decimal("0.0001")) == Decimal("7.5040")


def test_serving_then_said_to_be_no_whole_panel() -> None:
    (finding,) = asked()["findings"]
    assert finding["rule"] == "us.labelling.nutrition"
    assert "No whole panel" in finding["message"]
    assert "cholesterol" in finding["message"]


@pytest.mark.parametrize(
    ("changes", "field"),
    [({"serving": None}, "market"), ({"serving": "0 g"}, "serving"), ({"finished_weight": "250 g"}, "finished_weight")],
)
def test_serving_when_a_field_is_wrong_then_the_error_names_it(changes: dict[str, Any], field: str) -> None:
    with pytest.raises(InputError) as caught:
        asked(**changes)
    assert caught.value.field == field
