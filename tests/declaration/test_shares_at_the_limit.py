"""The figures that a label turns on, in every market that has them: just under, at, and just over.

Regulation (EU) 1169/2011; the United Kingdom keeps the same text. All foods here weigh 1000 g when finished, so that a gram is a
tenth of a per cent. Which limit has its test where is held by ``tests/rules/test_every_limit_has_its_case.py``.
"""

import datetime as dt
from decimal import Decimal
from typing import Any

import pytest
from declaration_samples import request
from label_asked import AMERICAN, GB, US, asked, found, stops, text

from labelsvc.declaration import particulars
from labelsvc.declaration.compute import declaration
from labelsvc.declaration.context import context_for
from labelsvc.declaration.origin import origin_height_mm

MARKETS = pytest.mark.parametrize("market", ["eu", "gb"])
ON = dt.date(2026, 3, 2)


def listed(market: str, *uses: dict[str, Any], pork: str = "1100 g", **more: Any) -> dict[str, Any]:
    meat = {"name": "pork", "weight": pork, "category": "meat", "species": "pig", "fat_percent": "10"}
    return declaration(request([meat, *uses], finished_weight="1000 g", market=market, **more))


def preservative(weight: str, name: str, number: str) -> dict[str, Any]:
    return {"name": name, "weight": weight, "additive": {"name": name, "e_number": number, "function": "preservative"}}


@MARKETS
@pytest.mark.parametrize(
    ("second", "words"), [("9.999 g", "spices"), ("10 g", "spices"), ("10.001 g", "fennel seed, black pepper")]
)
def test_spices_when_together_over_2_percent_then_each_by_its_name(market: str, second: str, words: str) -> None:
    # Annex VII B.7: not over 2 %
    spices = [("black pepper", "10 g"), ("fennel seed", second)]
    answer = listed(market, *({"name": name, "weight": weight, "category": "spice"} for name, weight in spices))
    assert answer["ingredient_list"] == f"Ingredients: pork, {words}"


@MARKETS
@pytest.mark.parametrize(
    ("weight", "words"),
    [
        ("19.999 g", "preservatives (sodium lactate, sodium nitrite), sugar"),
        ("20 g", "preservative (sodium lactate), sugar, preservative (sodium nitrite)"),
        ("20.001 g", "preservative (sodium lactate), sugar, preservative (sodium nitrite)"),
    ],
)
def test_minor_ingredients_when_each_is_under_2_percent_then_may_stand_together(market: str, weight: str, words: str) -> None:
    # Annex VII A.6: in a different order where each is less than 2 % of the finished product
    lactate, nitrite = preservative(weight, "sodium lactate", "E325"), preservative("0.1 g", "sodium nitrite", "E250")
    answer = listed(market, lactate, {"name": "sugar", "weight": "10 g"}, nitrite)
    assert answer["ingredient_list"] == f"Ingredients: pork, {words}"


@pytest.mark.parametrize(
    ("weight", "words"),
    [
        ("19.999 g", "contains 2% or less of sugar, salt"),
        ("20 g", "contains 2% or less of sugar, salt"),
        ("20.001 g", "sugar, contains 2% or less of salt"),
    ],
)
def test_us_minor_ingredients_when_at_2_percent_then_still_in_the_tail(weight: str, words: str) -> None:
    # 21 CFR 101.4(a)(2): no ingredient to which it applies over the stated percent
    answer = listed("us", {"name": "sugar", "weight": weight}, {"name": "salt", "weight": "5 g"})
    assert answer["ingredient_list"] == f"Ingredients: pork, {words}"


@MARKETS
@pytest.mark.parametrize(("pork", "form"), [("999.999 g", "percent"), ("1000 g", "percent"), ("1000.001 g", "grams_per_100g")])
def test_quantity_when_over_100_percent_then_in_grams(market: str, pork: str, form: str) -> None:
    # Annex VIII 4(a): exceeds 100 %
    uses = {"name": "salt", "weight": "30 g"}
    (quantity,) = listed(market, uses, pork=pork)["quantities"]
    assert quantity["form"] == form


@MARKETS
@pytest.mark.parametrize(("weight", "printed"), [("49.4 g", "4.9"), ("50 g", "5"), ("50.6 g", "5"), ("56 g", "6")])
def test_quantity_when_under_5_percent_then_with_a_decimal(market: str, weight: str, printed: str) -> None:
    # by guidance, from memory: whole numbers, finer under 5 %
    nut = {"name": "pistachio", "weight": weight, "quantify": True}
    by_name = {one["name"]: one["value"] for one in listed(market, nut, pork="900 g")["quantities"]}
    assert by_name["pistachio"] == printed


@MARKETS
@pytest.mark.parametrize(("weight", "is_given"), [("19.999 g", False), ("20 g", False), ("20.001 g", True)])
def test_quantity_when_what_the_name_says_only_flavours_then_none(market: str, weight: str, is_given: bool) -> None:
    # Annex VIII 1(a)(iii), small quantities for flavouring: up to 2 % by the FSA
    answer = listed(market, {"name": "fennel", "weight": weight}, food_name="Sausage with fennel")
    assert ("fennel" in [one["name"] for one in answer["quantities"]]) is is_given


@MARKETS
@pytest.mark.parametrize(("pork", "is_listed"), [("950.001 g", False), ("950 g", False), ("949.999 g", True)])
def test_added_water_when_over_5_percent_then_in_the_list_and_in_the_name(market: str, pork: str, is_listed: bool) -> None:
    # Annex VII A.1: left out where it does not exceed 5 % of the finished product; Annex VI A.6: in the name where over 5 %
    answer = listed(market, {"name": "water", "weight": "300 g"}, pork=pork)
    assert ("water" in answer["ingredient_list"]) is is_listed
    assert [one["exceeded"] for one in answer["findings"] if one["rule"] == f"{market}.labelling.added_water_in_name"] == (
        [True] * is_listed
    )


@MARKETS
def test_added_water_when_it_is_listed_at_5_percent_then_not_yet_in_the_name(market: str) -> None:
    answer = listed(market, {"name": "water", "weight": "300 g"}, pork="950 g", is_preparation=True)
    assert "water" in answer["ingredient_list"]
    assert not [one for one in answer["findings"] if one["rule"].endswith("added_water_in_name")]


@MARKETS
@pytest.mark.parametrize(("sulphur", "allergens"), [("9.99", []), ("10", []), ("10.01", ["sulphur dioxide and sulphites"])])
def test_sulphites_when_over_10_mg_per_kg_then_declared(market: str, sulphur: str, allergens: list[str]) -> None:
    # Annex II.12: more than 10 mg/kg
    wine = {"name": "wine", "weight": "1000 g", "so2_mg_per_kg": sulphur, "allergens": ["sulphites"]}
    assert listed(market, wine, pork="1000 g")["allergens"] == allergens


@MARKETS
@pytest.mark.parametrize(("fat", "is_named"), [("29.99", False), ("30", False), ("30.01", True)])
def test_meat_when_over_its_fat_then_fat_stands_beside_it(market: str, fat: str, is_named: bool) -> None:
    # Annex VII B.17: pig, 30 % fat and 25 % collagen in meat protein
    assert ("pork fat" in _meat(market, fat_percent=fat)) is is_named


@MARKETS
@pytest.mark.parametrize(("collagen", "is_named"), [("24.99", False), ("25", False), ("25.01", True)])
def test_meat_when_over_its_collagen_then_connective_tissue_stands_beside_it(market: str, collagen: str, is_named: bool) -> None:
    assert ("connective tissue" in _meat(market, collagen_percent=collagen, protein_percent="18")) is is_named


@MARKETS
@pytest.mark.parametrize(("protein", "is_same"), [("19.99", False), ("20", True), ("20.01", False)])
def test_meat_protein_when_not_given_then_20_percent_is_taken(market: str, protein: str, is_same: bool) -> None:
    # USDA SR 26: lean and fatty pork, beef and poultry 17 to 22 g; 20 is ours, and said
    untold = _pork(market, collagen_percent="40")
    told = _pork(market, collagen_percent="40", protein_percent=protein)
    assert (untold["quantities"] == told["quantities"]) is is_same
    assert f"{market}.labelling.meat_protein" in [one["rule"] for one in untold["findings"]]
    assert f"{market}.labelling.meat_protein" not in [one["rule"] for one in told["findings"]]


def _pork(market: str, **of: str) -> dict[str, Any]:
    meat = {"name": "pork", "weight": "1000 g", "category": "meat", "species": "pig", "fat_percent": "10", **of}
    return declaration(request([meat], finished_weight="1000 g", market=market))


def _meat(market: str, **of: str) -> str:
    return str(_pork(market, **of)["ingredient_list"])


@pytest.mark.parametrize(("market", "workshop"), [("eu", {}), ("gb", GB), ("us", US)])
@pytest.mark.parametrize(("until", "stopped"), [("2026-03-11", False), ("2026-03-12", False), ("2026-03-13", True)])
def test_pack_without_air_when_over_10_days_then_it_needs_a_control(
    market: str, workshop: dict[str, Any], until: str, stopped: bool
) -> None:
    # FSA guidance: 10 days at 3 to 8 °C; in the US a warning only, for the plan of the establishment decides
    packing = {**(AMERICAN if market == "us" else {"market": market}), "best_before": until}
    finding = found(asked(workshop, {"packed_in": "vacuum"}, packing), "chilled_pack_life")
    assert (finding is not None and finding["exceeded"]) is stopped
    assert (f"{market}.labelling.chilled_pack_life" in stops(asked(workshop, {"packed_in": "vacuum"}, packing))) is (
        stopped and market != "us"
    )


@MARKETS
@pytest.mark.parametrize(("claim", "least"), [("1.199", "0.9"), ("1.2", "0.9"), ("1.201", "0.90075"), ("2", "1.5")])
def test_origin_of_the_meat_when_a_claim_is_high_then_three_quarters_of_it(market: str, claim: str, least: str) -> None:
    # 2018/775 Art 3: at least 75 % of the claim's x-height, and never under that of Art 13(2); O1: 2.0 mm gives 1.5 mm
    assert origin_height_mm(Decimal(claim), context_for(market, "en", ON, Decimal(1))) == Decimal(least)


@MARKETS
@pytest.mark.parametrize(("face", "is_needed"), [("9.99", False), ("10", True), ("10.01", True)])
def test_list_when_the_largest_face_is_under_10_cm2_then_by_other_means(market: str, face: str, is_needed: bool) -> None:
    assert particulars.is_list_needed(Decimal(face), market, ON) is is_needed  # Art 16(2)


@MARKETS
@pytest.mark.parametrize(("face", "is_needed"), [("24.99", False), ("25", True), ("25.01", True)])
def test_nutrition_when_the_largest_face_is_under_25_cm2_then_not_needed(market: str, face: str, is_needed: bool) -> None:
    assert particulars.is_nutrition_needed(Decimal(face), market, ON) is is_needed  # Annex V point 18


@MARKETS
@pytest.mark.parametrize(("face", "height"), [("79.99", "0.9"), ("80", "1.2"), ("80.01", "1.2")])
def test_letters_when_the_largest_face_is_under_80_cm2_then_smaller(market: str, face: str, height: str) -> None:
    assert particulars.x_height_mm(Decimal(face), market, ON) == Decimal(height)  # Art 13(2)-(3)


@MARKETS
@pytest.mark.parametrize(
    ("grams", "height"),
    [("49.9", "2"), ("50", "2"), ("50.1", "3"), ("199.9", "3"), ("200", "3"), ("200.1", "4"), ("999.9", "4"), ("1000", "4"),
     ("1000.1", "6")],
)  # fmt: skip
def test_figures_of_the_quantity_when_at_a_band_then_the_lower(market: str, grams: str, height: str) -> None:
    # Directive 76/211/EEC Annex I 3.1; in Great Britain the same, from memory
    packed = asked({**GB, "address_in_eu": "x"}, packing={"market": market, "weight": f"{grams} g"})
    assert packed["smallest_mm"]["net_quantity"] == height


@MARKETS
@pytest.mark.parametrize(
    ("until", "shown"),
    [
        ("2026-06-01", "best before 1 June 2026"),  # under 3 months: day and month
        ("2026-06-30", "best before end June 2026"),
        ("2027-09-02", "best before 2 September 2027"),
        ("2027-08-31", "best before end August 2027"),  # up to 18 months: month and year
        ("2027-12-31", "best before end 2027"),  # over 18: the year is enough
    ],
)
def test_date_when_the_life_grows_then_coarser_where_it_loses_no_day(market: str, until: str, shown: str) -> None:
    # Annex X 1(c); a coarser form is used only where its last day is the day itself
    assert text(asked({**GB, "address_in_eu": "x"}, packing={"market": market, "best_before": until}), "date_line") == shown
