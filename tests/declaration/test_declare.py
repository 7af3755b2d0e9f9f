"""The declaration through both doors, against published cases, at the limits, and what must hold whatever is asked."""

from __future__ import annotations

import datetime as dt
import random
from decimal import Decimal
from typing import Any

import pytest
from declaration_samples import emphasised, neck, pork, premix, request
from hypothesis import given, settings
from hypothesis import strategies as st
from published import REQUESTS, as_printed, cases

from labelsvc.declaration.compute import declaration
from labelsvc.declaration.declare import Declaration, declare
from labelsvc.declaration.ingredient_use import IngredientUse
from labelsvc.errors import InputError
from labelsvc.units import Mass


def typed(asked: dict[str, Any]) -> Declaration:
    """The same request through the typed door that the label uses."""
    return declare(
        [IngredientUse.from_json(one, f"ingredients[{at}]") for at, one in enumerate(asked["ingredients"])],
        market=asked["market"],
        language=asked["language"],
        on=dt.date.fromisoformat(asked["on"]),
        finished_weight=Mass.parse(asked["finished_weight"]),
        food_name=asked["food_name"],
    )


def finding(answer: dict[str, Any], rule: str) -> dict[str, Any]:
    return next(one for one in answer["findings"] if one["rule"] == rule)


def test_neck_when_dried_reads_as_the_law_asks() -> None:
    answer = declaration(request(neck()))
    assert answer["ingredient_list"] == ("Ingredients: pork, salt, sugar, black pepper, mustard, preservative (sodium nitrite)")
    # 1000 / 650 = 153.846
    assert answer["quantity_statement"] == "Made with 154 g of pork per 100 g of finished product"
    assert emphasised(answer) == ["mustard"]
    assert answer["allergens"] == ["mustard"]
    assert answer["statements"] == []


@pytest.mark.parametrize("case", cases("quantity"), ids=lambda case: case["id"])
def test_quantity_when_published_then_same_figure_and_form(case: dict[str, Any]) -> None:
    asked = REQUESTS["quantity"][1](case)
    answer = declaration(asked)
    assert {one["name"]: one["value"] for one in answer["quantities"]} == case["values"]
    assert {one["form"] for one in answer["quantities"]} == {case["form"]}
    exact = {one["name"]: one["exact"] for one in answer["quantities"]}
    assert {name: exact[name] for name in case.get("exact", {})} == case.get("exact", {})
    assert [words for words in case.get("in_list", []) if words not in answer["ingredient_list"]] == []
    assert typed(asked).as_json() == answer


@pytest.mark.parametrize("case", cases("raw_meat"), ids=lambda case: case["id"])
def test_quantity_when_the_loss_is_published_then_its_grams_of_raw_meat(case: dict[str, Any]) -> None:
    (meat,) = declaration(REQUESTS["raw_meat"][1](case))["quantities"]
    assert meat["form"] == "grams_per_100g"
    assert as_printed(meat["exact"], case["grams_per_100g"]) == Decimal(case["grams_per_100g"])


@pytest.mark.parametrize("case", cases("shown"), ids=lambda case: case["id"])
def test_list_when_meat_has_too_much_fat_and_skin_then_both_stand_beside_it(case: dict[str, Any]) -> None:
    listed = declaration(request(case["uses"]))["ingredient_list"].removeprefix("Ingredients: ").split(", ")
    assert sorted(line.split(" (")[0] for line in listed) == sorted(case["in_list"])


@pytest.mark.parametrize("case", cases("allergen"), ids=lambda case: case["id"])
@pytest.mark.parametrize("market", ["eu", "gb"])
def test_allergen_when_published_then_stands_out_or_not(case: dict[str, Any], market: str) -> None:
    asked = request([pork(), *case["uses"]], market=market)
    answer = declaration(asked)
    assert emphasised(answer) == case["emphasised"]
    assert answer["allergens"] == case["allergens"]
    assert [use["name"] for use in case["uses"] if use["name"] not in answer["ingredient_list"]] == []
    if "contains" in case:
        assert answer["contains"] == case["contains"]
    assert typed(asked).as_json() == answer


@pytest.mark.parametrize("case", cases("spices")[0]["cases"], ids=lambda case: case["in_list"])
def test_spices_when_not_over_2_percent_of_food_then_class_name(case: dict[str, Any]) -> None:
    # 13 g of 650 g is exactly 2 %, 13.65 g is 2.1 %
    spices = [
        {"name": name, "weight": f"{grams} g", "category": "spice"}
        for name, grams in zip(["black pepper", "fennel seed"], case["grams"], strict=True)
    ]
    assert declaration(request([pork(), *spices]))["ingredient_list"] == f"Ingredients: pork, {case['in_list']}"


def test_spice_class_when_one_is_an_allergen_then_it_keeps_its_name() -> None:
    spices = [
        {"name": "black pepper", "weight": "4 g", "category": "spice"},
        {"name": "coriander", "weight": "3 g", "category": "spice"},
        {"name": "mustard seed", "weight": "2 g", "category": "spice", "allergens": ["mustard"]},
    ]
    assert declaration(request([pork(), *spices]))["ingredient_list"] == "Ingredients: pork, spices, mustard seed"


def test_order_when_dried_then_by_weight_at_use_not_finished() -> None:
    answer = declaration(request([{"name": "potato", "weight": "500 g"}, pork("600 g")], finished_weight="400 g"))
    assert answer["ingredient_list"] == "Ingredients: pork, potato"


def test_premix_salt_joins_sea_salt_and_keeps_one_line() -> None:
    answer = declaration(request([pork(), {"name": "sea salt", "weight": "25 g"}, premix("25 g")]))
    assert answer["ingredient_list"] == "Ingredients: pork, salt, preservative (sodium nitrite)"


def test_premix_when_its_parts_miss_some_then_rest_is_salt_with_a_note() -> None:
    mix = premix()
    del mix["components"][0]
    answer = declaration(request([pork(), mix]))
    assert answer["ingredient_list"] == "Ingredients: pork, salt, preservative (sodium nitrite)"
    assert "rest is taken as salt" in finding(answer, "eu.labelling.ingredient_order")["message"]


def test_premix_when_its_carrier_holds_an_unnamed_allergen_then_it_is_shown() -> None:
    answer = declaration(request([pork(), premix(allergens=["wheat"])]))
    assert answer["ingredient_list"].endswith("curing salt (salt, preservative (sodium nitrite), wheat)")
    assert emphasised(answer) == ["wheat"]


def test_compound_when_not_a_cure_then_its_parts_follow_in_brackets() -> None:
    sauce = {
        "name": "soy sauce",
        "weight": "50 g",
        "allergens": ["soy", "wheat"],
        "components": [
            {"name": "water", "percent": 60},
            {"name": "soybeans", "percent": 15},
            {"name": "wheat", "percent": 14},
            {"name": "salt", "percent": 11},
        ],
    }
    answer = declaration(request([pork(), sauce]))
    assert answer["ingredient_list"] == "Ingredients: pork, soy sauce (water, soybeans, wheat, salt)"
    assert emphasised(answer) == ["soybeans", "wheat"]


def test_additives_of_one_class_in_the_tail_then_one_class_word() -> None:
    agents = [
        {"name": name, "weight": weight, "additive": {"name": name, "function": function}}
        for name, weight, function in [
            ("sodium nitrite", "0.15 g", "preservative"),
            ("potassium nitrate", "0.3 g", "preservative"),
            ("sodium ascorbate", "0.5 g", "antioxidant"),
        ]
    ]
    assert declaration(request([pork(), *agents]))["ingredient_list"] == (
        "Ingredients: pork, antioxidant (sodium ascorbate), preservatives (potassium nitrate, sodium nitrite)"
    )


def test_additive_when_class_is_not_the_laws_then_noted() -> None:
    agent = {"name": "agent", "weight": "1 g", "additive": {"name": "agent", "function": "magic"}}
    answer = declaration(request([pork(), agent]))
    assert "magic (agent)" in answer["ingredient_list"]
    assert finding(answer, "eu.labelling.additive_class")["severity"] == "note"


@pytest.mark.parametrize(
    ("finished", "expected"),
    [
        ("900 g", "Ingredients: pork"),  # less than the pork: no water is left
        ("1052 g", "Ingredients: pork (95 %)"),  # 52 / 1052 = 4.94 %: may be left out
        ("1053 g", "Ingredients: pork (95 %), water"),  # 53 / 1053 = 5.03 %
    ],
)
def test_added_water_when_over_5_percent_of_finished_then_listed(finished: str, expected: str) -> None:
    answer = declaration(request([pork(), {"name": "water", "weight": "100 g"}], finished_weight=finished))
    assert answer["ingredient_list"] == expected
    assert answer["statements"] == (["with added water"] if "water" in expected else [])


def test_added_water_when_exactly_5_percent_then_left_out() -> None:
    answer = declaration(request([pork("950 g"), {"name": "water", "weight": "50 g"}], finished_weight="1000 g"))
    assert answer["ingredient_list"] == "Ingredients: pork (95 %)"


def test_quantity_when_exactly_100_percent_then_stays_a_percentage() -> None:
    answer = declaration(request([pork("650 g")]))
    assert [(one["form"], one["value"]) for one in answer["quantities"]] == [("percent", "100")]
    over = declaration(request([pork("650.001 g")]))
    assert [(one["form"], one["value"]) for one in over["quantities"]] == [("grams_per_100g", "100")]


def test_quantity_when_just_under_100_percent_then_never_rounded_up_to_100() -> None:
    answer = declaration(request([pork("99.97 g"), {"name": "salt", "weight": "2 g"}], finished_weight="100 g"))
    assert answer["quantities"][0]["value"] == "99.9"


def test_quantity_when_the_name_mentions_a_nut_then_given_but_not_for_a_little_flavour() -> None:
    def named(grams: str) -> list[str]:
        nuts = {"name": "pistachio", "weight": grams, "allergens": ["pistachio"]}
        answer = declaration(request([pork("600 g"), nuts], food_name="Salami with pistachio"))
        return [one["name"] for one in answer["quantities"]]

    assert named("13 g") == ["pork"]  # 13 / 650 = 2 %
    assert named("13.1 g") == ["pork", "pistachio"]


def test_chicken_when_over_both_limits_then_three_entries() -> None:
    # M2. Protein 20: collagen over = 20 * (0.15 - 0.10) / 0.9 = 1.1111; tissue 5.1389; fat (20 - 0.15 * 94.8611) / 0.85 = 6.7892
    meat = {"name": "chicken", "weight": "1000 g", "category": "meat", "species": "chicken"}
    uses = [{**meat, "fat_percent": "20", "collagen_percent": "15", "protein_percent": "20"}]
    answer = declaration(request(uses, finished_weight="1000 g"))
    assert answer["ingredient_list"] == "Ingredients: chicken (88 %), chicken fat, chicken connective tissue"
    # 100 - 5.138889 - 6.789216
    assert answer["quantities"][0]["exact"].startswith("88.07189")


def test_meat_mixture_when_mammals_dominate_then_their_limits_hold_for_all() -> None:
    # M4: 60 % beef and 40 % turkey at 24 % fat: under 25, though turkey alone would be held to 15
    parts = [{"name": "beef", "percent": 60, "species": "cattle"}, {"name": "turkey", "percent": 40, "species": "turkey"}]
    mince = {"name": "mince", "weight": "1000 g", "category": "meat", "fat_percent": "24", "components": parts}
    assert declaration(request([mince], finished_weight="1000 g"))["ingredient_list"] == "Ingredients: beef (60 %), turkey (40 %)"


def test_meat_when_fat_is_at_the_limit_then_it_is_all_meat() -> None:
    assert declaration(request([pork(fat_percent="30")]))["ingredient_list"] == "Ingredients: pork"
    assert declaration(request([pork(fat_percent="30.1")]))["ingredient_list"] == "Ingredients: pork, pork fat"


def test_meat_when_fat_is_not_known_then_called_unchecked() -> None:
    assert finding(declaration(request([pork()])), "eu.labelling.meat_limits")["message"].startswith("Unchecked")


def test_meat_when_named_by_its_animal_then_printed_by_the_meats_word() -> None:
    uses = [{"name": "Neck 14", "weight": "700 g", "category": "meat", "species": "pig"}]
    assert declaration(request(uses))["ingredient_list"] == "Ingredients: pork"


def test_sulphites_when_a_source_is_not_known_then_declared() -> None:
    wine = {"name": "red wine", "weight": "20 g", "allergens": ["sulphites"]}
    answer = declaration(request([pork(), wine]))
    assert answer["allergens"] == ["sulphur dioxide and sulphites"]
    assert finding(answer, "eu.labelling.sulphites")["found"] is None


def test_sulphites_when_two_small_sources_add_up_over_the_limit_then_both_stand_out() -> None:
    # (50 * 70 + 50 * 70) / 650 = 10.77
    uses = [{"name": name, "weight": "50 g", "so2_mg_per_kg": "70"} for name in ("red wine", "vinegar")]
    answer = declaration(request([pork(), *uses]))
    assert emphasised(answer) == ["sulphur dioxide and sulphites"] * 2
    assert finding(answer, "eu.labelling.sulphites")["found"] == "10.769"


@pytest.mark.parametrize(
    ("form", "allergens", "declared"),
    [
        ("maltodextrin", ["barley"], ["barley"]),
        ("glucose_syrup", ["barley"], []),
        ("distillate", ["rye"], []),
        (None, ["wheat"], ["wheat"]),
    ],
)
def test_exemption_when_the_law_names_the_form_only(form: str | None, allergens: list[str], declared: list[str]) -> None:
    use = {"name": "syrup", "weight": "5 g", "allergens": allergens, **({"form": form} if form else {})}
    assert declaration(request([pork(), use]))["allergens"] == declared


def test_allergen_when_only_the_name_tells_it_then_declared_with_a_warning() -> None:
    answer = declaration(request([pork(), {"name": "celery powder", "weight": "3 g"}]))
    assert emphasised(answer) == ["celery"]
    assert finding(answer, "eu.labelling.allergens")["severity"] == "warn"


def test_dextrose_when_its_name_says_wheat_but_no_form_is_given_then_declared() -> None:
    assert declaration(request([pork(), {"name": "wheat dextrose", "weight": "3 g"}]))["allergens"] == ["wheat"]


def test_us_list_when_at_2_percent_then_in_the_tail_without_class_words() -> None:
    # U2: 13 g of 650 g is exactly 2.0 %
    answer = declaration(
        request([pork(), {"name": "salt", "weight": "30 g"}, {"name": "sugar", "weight": "13 g"}, premix()], market="us")
    )
    assert answer["ingredient_list"] == "Ingredients: pork, salt, contains 2% or less of sugar, sodium nitrite"
    assert answer["quantities"] == []
    assert answer["quantity_statement"] == ""
    assert emphasised(answer) == []


@pytest.mark.parametrize(("on", "expected"), [("2022-12-31", None), ("2023-01-01", "Contains: sesame seeds")])
def test_us_sesame_when_the_act_begins_then_in_the_contains_statement(on: str, expected: str | None) -> None:
    # U4; 21 USC 321(qq) names sesame from 1 January 2023
    use = {"name": "spice crust", "weight": "20 g", "allergens": ["sesame"]}
    assert declaration(request([pork(), use], market="us", on=on)).get("contains") == expected


def test_sweeteners_then_the_name_is_accompanied() -> None:
    use = {"name": "sorbitol", "weight": "2 g", "additive": {"name": "sorbitols", "function": "sweetener"}}
    assert declaration(request([pork(), use]))["statements"] == ["with sweetener"]


def test_finished_weight_over_all_ingredients_then_warned() -> None:
    answer = declaration(request([pork("600 g")]))
    assert finding(answer, "eu.labelling.ingredient_order")["severity"] == "warn"


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"market": "fr"}, "market"),
        ({"language": "xx"}, "language"),
        ({"on": "1.3.2026"}, "on"),
        ({"on": "2010-01-01"}, "on"),
        ({"finished_weight": "0 g"}, "finished_weight"),
        ({"finished_weight": 650}, "finished_weight"),
        ({"ingredients": []}, "ingredients"),
        ({"colour": "red"}, "colour"),
        ({"food_name": " "}, "food_name"),
        ({"ingredients": [{"name": "pork"}]}, "ingredients[0].weight"),
        ({"ingredients": [pork(fat_percent=0.5)]}, "ingredients[0].fat_percent"),
        ({"ingredients": [pork(fat_percent="101")]}, "ingredients[0].fat_percent"),
        ({"ingredients": [pork(allergens=["nuts"])]}, "ingredients[0].allergens[0]"),
        ({"ingredients": [pork(allergens=["dust"])]}, "ingredients[0].allergens[0]"),
        ({"ingredients": [pork(allergens="milk")]}, "ingredients[0].allergens"),
        ({"ingredients": [pork(form="powder")]}, "ingredients[0].form"),
        ({"ingredients": [pork(quantify="yes")]}, "ingredients[0].quantify"),
        ({"ingredients": [pork(additive={"name": "x"})]}, "ingredients[0].additive.function"),
        (
            {"ingredients": [pork(additive={"name": "x", "function": "acid", "e_number": "250"})]},
            "ingredients[0].additive.e_number",
        ),
        ({"ingredients": [pork(components=[{"name": "x", "percent": 0.5}])]}, "ingredients[0].components[0].percent"),
        (
            {"ingredients": [pork(components=[{"name": "x", "percent": 60}, {"name": "y", "percent": 41}])]},
            "ingredients[0].components",
        ),
    ],
)
def test_request_when_a_field_is_wrong_then_the_error_names_it(changes: dict[str, Any], field: str) -> None:
    with pytest.raises(InputError) as caught:
        declaration({**request(neck()), **changes})
    assert caught.value.field == field


_grams = st.integers(min_value=1, max_value=3000)
_names = ["salt", "sugar", "mustard seed", "celery powder", "garlic", "wheat flour", "soya sauce", "egg white", "thyme"]
_uses = st.lists(st.tuples(st.sampled_from(_names), _grams), min_size=1, max_size=7)


def _request(uses: list[tuple[str, int]], finished: int, times: int = 1, unit: str = "g") -> dict[str, Any]:
    ingredients = [{"name": name, "weight": f"{grams * times} {unit}"} for name, grams in uses]
    return request(
        [pork(f"{1000 * times} {unit}"), premix(f"{3 * times} {unit}"), *ingredients],
        finished_weight=f"{finished * times} {unit}",
    )


@given(_uses, _grams, st.randoms(use_true_random=False))
@settings(max_examples=60, deadline=None)
def test_declaration_when_lines_are_shuffled_then_the_same(
    uses: list[tuple[str, int]], finished: int, chance: random.Random
) -> None:
    asked = _request(uses, finished)
    shuffled = list(asked["ingredients"])
    chance.shuffle(shuffled)
    assert declaration({**asked, "ingredients": shuffled}) == declaration(asked)


@given(_uses, _grams, st.integers(min_value=2, max_value=500))
@settings(max_examples=60, deadline=None)
def test_declaration_when_all_weights_are_scaled_or_in_ounces_then_same_text_and_figures(
    uses: list[tuple[str, int]], finished: int, times: int
) -> None:
    first = declaration(_request(uses, finished))
    for other in (declaration(_request(uses, finished, times)), declaration(_request(uses, finished, unit="oz"))):
        assert other["ingredient_list"] == first["ingredient_list"]
        assert other["quantities"] == first["quantities"]


@given(_uses, _grams)
@settings(max_examples=60, deadline=None)
def test_runs_then_they_join_to_the_text_and_say_every_allergen(uses: list[tuple[str, int]], finished: int) -> None:
    answer = declaration(_request(uses, finished))
    assert "".join(run["text"] for run in answer["runs"]) == answer["ingredient_list"]
    said = " ".join(emphasised(answer))
    words = {"soybeans": "soya", "eggs": "egg"}
    assert [name for name in answer["allergens"] if words.get(name, name) not in said] == []
    expected = {name.split()[0] for name, _ in uses} & {"mustard", "celery", "wheat", "soya", "egg"}
    assert {words.get(name, name) for name in answer["allergens"]} == expected


def test_added_water_when_it_is_a_meat_preparation_then_named_however_little_it_is() -> None:
    # Annex VII part A point 1: 50 g in 1000 g is 5 %, left out of a meat product, not of a meat preparation
    wet = [pork("950 g"), {"name": "water", "weight": "80 g"}]
    assert declaration(request(wet, finished_weight="1000 g"))["ingredient_list"] == "Ingredients: pork (95 %)"
    named = declaration(request(wet, finished_weight="1000 g", is_preparation=True))["ingredient_list"]
    assert named == "Ingredients: pork (95 %), water"


@pytest.mark.parametrize(
    ("percent", "tail"),
    [("2", "contains 2% or less of sugar, pepper"), ("1.5", "sugar, contains 1.5% or less of pepper"),
     ("1.0", "sugar, pepper"), ("0.5", "sugar, pepper")],
)  # fmt: skip
def test_us_tail_when_a_smaller_share_is_chosen_then_nothing_over_it_stands_there(percent: str, tail: str) -> None:
    # 21 CFR 101.4(a)(2): 2, 1.5, 1.0 or 0.5; 16 g of 1000 g are 1.6 %, 15 g are just 1.5 %
    uses = [pork("1500 g"), {"name": "sugar", "weight": "16 g"}, {"name": "pepper", "weight": "15 g"}]
    answer = declaration(request(uses, market="us", finished_weight="1000 g", tail_percent=percent))
    assert answer["ingredient_list"] == f"Ingredients: pork, {tail}"


def test_us_tail_when_the_share_is_none_of_the_law_s_then_refused() -> None:
    with pytest.raises(InputError, match=r"^tail_percent: expected one of 2, 1\.5, 1\.0, 0\.5"):
        declaration(request(neck(), market="us", tail_percent="1.2"))
    with pytest.raises(InputError, match=r"^tail_percent: expected none outside the US"):
        declaration(request(neck(), tail_percent="2"))


def test_bone_then_it_is_no_meat() -> None:
    # 1000 g with 20 % bone are 800 g of meat: 800 / 650 = 123.08
    answer = declaration(request([pork(bone_percent="20")]))
    assert answer["quantity_statement"] == "Made with 123 g of pork per 100 g of finished product"


def test_additive_when_named_only_then_its_class_is_known_and_said() -> None:
    answer = declaration(request([pork(), {"name": "Sodium nitrite", "weight": "0.1 g"}]))
    assert answer["ingredient_list"] == "Ingredients: pork, preservative (sodium nitrite)"
    assert "is taken for the additive E 250" in finding(answer, "eu.labelling.ingredient_order")["message"]


def test_names_when_given_for_the_language_then_printed_else_noted() -> None:
    uses = [pork(), {"name": "juniper", "weight": "4 g", "names": {"fr": "genièvre"}}, {"name": "bay", "weight": "1 g"}]
    answer = declaration(request(uses, language="fr"))
    assert answer["ingredient_list"] == "Ingrédients: porc, genièvre, bay"
    assert finding(answer, "words.fr.names")["message"].endswith("language of the label: bay.")
