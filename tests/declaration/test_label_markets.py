"""Who answers for it, its mark, language, origin and nutrition, by market; the day before and the day of a change of law."""

from __future__ import annotations

from typing import Any

import pytest
from label_asked import AMERICAN, GB, US, asked, found, stops, text


@pytest.mark.parametrize(
    ("workshop", "packing", "stopped"),
    [
        ({}, {}, False),
        # G3: GB shelf and only an address in the EU, since 1 January 2024
        ({}, {"market": "gb", "on": "2024-01-01", "best_before": "2024-02-01"}, True),
        ({}, {"market": "gb", "on": "2023-12-31", "best_before": "2024-02-01"}, False),
        ({"address_in_gb": "Example Ltd\n1 Sample Road, London"}, {"market": "gb"}, False),
        # G5: sold in Northern Ireland (rules of the EU) with only a London address
        (GB, {"country": "XI"}, True),
        ({**GB, "address_in_eu": "Example Ltd, Dublin"}, {"country": "XI"}, False),
        ({**GB, "country": "XI"}, {"country": "XI"}, False),
    ],
)
def test_operator_then_an_address_in_the_market(workshop: dict[str, Any], packing: dict[str, Any], stopped: bool) -> None:
    answer = asked(workshop, packing=packing)
    assert any(rule.endswith(".operator") for rule in stops(answer)) is stopped


def test_operator_when_another_answers_for_it_there_then_that_one_is_printed() -> None:
    answer = asked({"address_in_gb": "Example Ltd\n1 Sample Road, London"}, packing={"market": "gb"})
    assert text(answer, "operator") == "Example Ltd, 1 Sample Road, London"


@pytest.mark.parametrize(
    ("workshop", "packing", "mark"),
    [
        ({"standing": "approved", "approval_number": "1234"}, {}, "IE 1234 EU"),
        ({**GB, "standing": "approved", "approval_number": "AB123"}, {"market": "gb"}, "GB AB123"),
        ({}, {}, ""),
        ({"approval_number": "1234"}, {}, ""),  # registered for retail: no mark, whatever number is on the card
        (US, AMERICAN, "U.S. inspected and passed by Department of Agriculture, EST. 38000"),
    ],
)
def test_mark_then_only_with_the_standing_that_has_one(workshop: dict[str, Any], packing: dict[str, Any], mark: str) -> None:
    assert text(asked(workshop, packing=packing), "mark") == mark


def test_mark_when_approved_without_a_number_then_none_is_printed_and_that_is_told() -> None:
    answer = asked({"standing": "approved"})
    assert text(answer, "mark") == ""
    finding = found(answer, "identification_mark")
    assert finding is not None
    assert (finding["severity"], finding["exceeded"]) == ("warn", True)


@pytest.mark.parametrize(
    ("workshop", "packing", "stopped"),
    [
        # G1: UK/EC on 2 January 2024; the day before the change it could be printed
        ({**GB, "approval_number": "1234"}, {"market": "gb", "on": "2024-01-02", "mark": "UK 1234 EC"}, True),
        ({**GB, "approval_number": "1234"}, {"market": "gb", "on": "2023-12-31", "mark": "UK 1234 EC"}, False),
        # O3: the old letters of the Union until 31 December 2028
        ({"approval_number": "1234"}, {"on": "2028-12-30", "mark": "IE 1234 EC"}, False),
        ({"approval_number": "1234"}, {"on": "2029-01-01", "mark": "IE 1234 EC"}, True),
        ({"approval_number": "1234"}, {"on": "2029-01-01", "mark": "IE 1234 EU"}, False),
        # G5: a Northern Irish plant
        (
            {**GB, "country": "XI", "approval_number": "1234"},
            {"on": "2024-03-01", "mark": "UK(NI) 1234 EC", "country": "XI"},
            False,
        ),
        ({"approval_number": "1234"}, {"mark": "IE 999 EU"}, True),
    ],
)
def test_mark_on_stock_then_its_letters_and_number_are_checked(
    workshop: dict[str, Any], packing: dict[str, Any], stopped: bool
) -> None:
    until = f"{int(packing.get('on', '2026-03-02')[:4]) + 1}-01-31"
    answer = asked({"standing": "approved", **workshop}, packing={**packing, "best_before": until})
    assert any(rule.endswith(".identification_mark") for rule in stops(answer)) is stopped


@pytest.mark.parametrize(
    ("packing", "severity", "exceeded"),
    [
        ({"country": "IE"}, None, None),
        ({}, None, None),  # the workshop's own country
        ({"country": "FR"}, "warn", True),
        ({"country": "FR", "language": "fr"}, None, None),
        ({"country": "GB"}, "warn", True),  # no country of the Union
    ],
)
def test_language_then_one_that_the_country_takes(packing: dict[str, Any], severity: str | None, exceeded: bool | None) -> None:
    finding = found(asked(packing=packing), "language")
    assert (finding and finding["severity"], finding and finding["exceeded"]) == (severity, exceeded)


@pytest.mark.parametrize(
    ("card", "said"),
    [
        ({"storage": "Keep cold", "languages": ["en", "fr"]}, "'Keep cold'"),
        ({"cooking": "Fry it", "languages": ["en", "fr"]}, "'Fry it'"),
        ({"storage": "Keep cold", "languages": ["en"]}, None),
        ({"languages": ["en", "fr"]}, None),
    ],
)
def test_words_of_the_card_when_labels_have_several_languages_then_warned(card: dict[str, Any], said: str | None) -> None:
    found = [one for one in asked(product=card)["findings"] if "as the product's card has it" in one["message"]]
    assert [(one["severity"], said in one["message"]) for one in found if said] == ([("warn", True)] if said else [])
    assert bool(found) is (said is not None)


def test_origin_when_claimed_and_the_meat_is_from_elsewhere_then_said() -> None:
    answer = asked(product={"origin_claim": "IE"}, packing={"origins": ["DE"]})
    assert text(answer, "origin") == "pork: EU"
    assert text(asked(product={"origin_claim": "IE"}, packing={"origins": ["BR", "DE"]}), "origin") == "pork: EU and non-EU"
    height = found(answer, "origin_height")
    assert height is not None
    assert height["limit"] == "75"


def test_origin_when_the_meat_is_from_there_or_nothing_is_claimed_then_nothing_is_said() -> None:
    assert text(asked(product={"origin_claim": "IE"}, packing={"origins": ["IE"]}), "origin") == ""
    # O2: no origin shown or implied, so none of the pork
    answer = asked(packing={"origins": ["DE"]})
    assert text(answer, "origin") == ""
    assert found(answer, "pork_origin") is not None


def test_origin_when_claimed_and_nobody_knows_where_the_meat_is_from_then_it_stops() -> None:
    assert stops(asked(product={"origin_claim": "IE"}, packing={"origins": ["IE", ""]})) == ["eu.labelling.origin"]


COMPOSED = {"pork": {"food": "10080"}}


def test_nutrition_when_the_meat_is_a_food_of_the_table_then_computed_with_its_sum() -> None:
    answer = asked(composition=COMPOSED)
    # fat 1000 x 12.36 / 650 = 19.02; salt: sodium 610 + 25 x 387.58 + 2.34375 x 387.58 + 0.15625 x 333.21 = 11 260 mg in 650 g,
    # 1732 mg in 100 g, x 2.5 = 4.33 g
    assert "fat 19 g" in text(answer, "nutrition")
    assert text(answer, "nutrition").endswith("salt 4.3 g")
    working = next(one for one in answer["particulars"] if one["element"] == "nutrition")["working"]
    assert "1000 g pork x 12.36 %) / 650 g = 19.02 g" in working
    assert "15.2 to 22.8 g in a control" in working  # 19 g +/- 20 %


def test_nutrition_when_an_analysis_is_on_the_card_then_that() -> None:
    analysed = {"fat": "32", "saturates": "12", "carbohydrate": "1", "sugars": "0", "protein": "24", "sodium_mg": "1600"}
    answer = asked(product={"per_100g": analysed})
    # E1 and E2: 1609 kJ, 388 kcal, salt 4.0 g
    assert "1609 kJ / 388 kcal" in text(answer, "nutrition")
    assert text(answer, "nutrition").endswith("salt 4.0 g")


def test_nutrition_when_a_composition_is_missing_then_it_says_whose() -> None:
    finding = found(asked(), "nutrition")
    assert finding is not None
    assert (finding["severity"], finding["exceeded"]) == ("warn", True)
    assert "the composition of pork is not known" in finding["message"]


@pytest.mark.parametrize(
    ("maker", "market", "waived"),
    [
        # G2 and G4: under 10 staff, under EUR 2 million, local (DH technical guidance 2016)
        ({"staff": 9, "turnover_eur": "1900000", "local": True}, "gb", True),
        ({"staff": 10, "turnover_eur": "1900000", "local": True}, "gb", False),
        ({"staff": 4, "turnover_eur": "1900000", "local": False}, "gb", False),
        ({"staff": 9, "turnover_eur": "1999999.99", "local": True}, "gb", True),
        ({"staff": 9, "turnover_eur": "2000000", "local": True}, "gb", False),
        ({"staff": 9, "local": True}, "gb", False),
        ({"staff": 9, "local": True}, "eu", True),
        ({"staff": 9, "local": False}, "eu", False),
    ],
)
def test_nutrition_when_the_maker_is_small_then_not_needed(maker: dict[str, Any], market: str, waived: bool) -> None:
    answer = asked({**GB, "address_in_eu": "x", "small_maker": maker}, packing={"market": market})
    assert (found(answer, "small_maker") is not None) is waived
    assert (found(answer, "nutrition") is None) is waived


@pytest.mark.parametrize(("face", "waived"), [("24.9", True), ("25", False)])
def test_nutrition_when_the_face_is_small_then_not_needed(face: str, waived: bool) -> None:
    assert (found(asked(product={"face_cm2": face}), "nutrition_waived_face") is not None) is waived


@pytest.mark.parametrize(("staff", "pounds", "waived"), [(500, "100000", True), (501, "100000", False), (500, "100000.1", False)])
def test_us_nutrition_when_the_maker_is_small_then_not_needed(staff: int, pounds: str, waived: bool) -> None:
    answer = asked({**US, "small_maker": {"staff": staff, "pounds_a_year": pounds}}, packing=AMERICAN)
    assert (found(answer, "small_maker") is not None) is waived


@pytest.mark.parametrize(
    ("language", "additive", "doubted"),
    [
        # the German classes were read in a decree that still called a sweetener by another word
        ("de", {"function": "preservative", "name": "sodium nitrite", "e_number": "E250"}, False),
        ("de", {"function": "sweetener", "name": "sucralose", "e_number": "E955"}, True),
        ("fr", {"function": "preservative", "name": "sodium nitrite", "e_number": "E250"}, True),
    ],
)
def test_class_of_an_additive_then_doubted_only_where_it_is_from_memory(
    language: str, additive: dict[str, str], doubted: bool
) -> None:
    uses = [{"name": "pork", "weight": "1000 g", "category": "meat", "species": "pig"}]
    uses += [{"name": "mix", "weight": "5 g", "components": [{"name": additive["name"], "percent": "100", "additive": additive}]}]
    answer = asked(packing={"language": language}, ingredients=uses)
    note = next((one["message"] for one in answer["findings"] if one["rule"] == f"words.{language}.used"), "")
    assert (f"functions.{additive['function']}" in note) is doubted


@pytest.mark.parametrize(
    ("packing", "is_said"),
    [  # LMIDV § 4(1), read: packed for direct sale and for self-service, in force since 13 July 2017
        ({"form": "direct", "country": "DE"}, True),
        ({"form": "direct", "country": "FR"}, False),
        ({"form": "prepacked", "country": "DE"}, False),
        ({"form": "direct", "country": "DE", "on": "2017-07-13", "best_before": "2017-09-01"}, True),
        ({"form": "direct", "country": "DE", "on": "2017-07-12", "best_before": "2017-09-01"}, False),
    ],
)
def test_direct_sale_when_german_then_self_service_is_asked_about(packing: dict[str, Any], is_said: bool) -> None:
    said = [one for one in asked(packing=packing)["findings"] if one["rule"] == "eu.labelling.direct_self_service"]
    assert bool(said) is is_said
    assert all(one["severity"] == "warn" and "net quantity and nutrition" in one["message"] for one in said)
