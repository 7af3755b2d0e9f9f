"""The whole label as a pure function, through ``compute label``: names, dates, keeping, forms of sale, small packs."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from declaration_samples import pork, premix
from hypothesis import given, settings
from hypothesis import strategies as st
from label_asked import GB, US, asked, found, stops, text

from labelsvc.errors import InputError


def test_label_when_all_is_known_then_nothing_stops_and_each_thing_names_its_rule() -> None:
    answer = asked()
    assert stops(answer) == []
    assert [one["element"] for one in answer["particulars"]] == [
        "food_name", "net_quantity", "date_line", "ingredients", "quantity_statement", "storage", "cooking", "operator",
        "lot_line",
    ]  # fmt: skip
    assert all(one["rule"].startswith("eu.labelling.") and one["citation"] for one in answer["particulars"])
    quantity = next(one for one in answer["particulars"] if one["element"] == "quantity_statement")
    assert "1000 g / 650 g x 100 = 153.85 g of pork" in quantity["working"]
    assert answer["smallest_mm"] == {"net_quantity": "3"}


@pytest.mark.parametrize(
    ("product", "name"),
    [
        ({"treatments": ["smoked"]}, "Dry-cured pork neck, smoked"),
        ({"treatments": ["smoked"], "food_name": "Smoked pork neck"}, "Smoked pork neck"),
        ({"treatments": ["defrosted", "formed"]}, "Dry-cured pork neck, defrosted, formed meat"),
        ({"names": {"en": "Neck of pork"}}, "Neck of pork"),
    ],
)
def test_name_when_treated_then_it_says_so_once(product: dict[str, Any], name: str) -> None:
    assert text(asked(product=product), "food_name") == name


def test_name_when_over_5_percent_of_water_was_added_then_it_says_so() -> None:
    # 106 g of water in 2000 g is 5.3 %; 100 g in 2000 g is exactly 5 % (Annex VI part A point 6: exceeds)
    wet = [pork("1894 g"), {"name": "water", "weight": "200 g"}]
    assert text(asked(ingredients=wet, finished_weight="2000 g"), "food_name") == "Dry-cured pork neck, with added water"
    at_limit = [pork("1900 g"), {"name": "water", "weight": "200 g"}]
    assert text(asked(ingredients=at_limit, finished_weight="2000 g"), "food_name") == "Dry-cured pork neck"


@pytest.mark.parametrize("name", ["Parma ham style", "Jambon de Bayonne", "Jamón SERRANO", "SUDTIROLER SPECK"])
def test_name_when_it_is_a_protected_one_then_warned(name: str) -> None:
    finding = found(asked(product={"food_name": name}), "protected_name")
    assert finding is not None
    assert (finding["severity"], finding["exceeded"], finding["known"]) == ("warn", True, "unconfirmed")


def test_name_when_the_workshop_may_use_it_or_only_contains_its_letters_then_not_warned() -> None:
    own = {"food_name": "Jambon de Bayonne", "protected_name": "Jambon de Bayonne"}
    assert found(asked(product=own), "protected_name") is None
    assert found(asked(product={"food_name": "Serranova neck"}), "protected_name") is None


def test_inedible_parts_then_said() -> None:
    assert text(asked(product={"inedible": ["casing", "rind"]}), "statements") == "Casing not edible. Rind not edible"


@pytest.mark.parametrize(
    ("product", "measured", "severity", "exceeded"),
    [
        ({"perishable": True}, {}, "stop", True),
        ({"perishable": True, "date_kind": "use_by"}, {}, None, None),
        ({}, {}, "warn", False),
        ({"perishable": False}, {}, "note", False),
        ({"kept": "ambient"}, {}, None, None),
        ({}, {"water_activity": "0.93"}, "warn", False),
    ],
)
def test_date_kind_then_by_perishability_and_danger(
    product: dict[str, Any], measured: dict[str, str], severity: str | None, exceeded: bool | None
) -> None:
    finding = found(asked(product=product, packing={"measured": measured}), "date_kind")
    assert (finding and finding["severity"], finding and finding["exceeded"]) == (severity, exceeded)


@pytest.mark.parametrize(
    ("measured", "rests"),
    [
        # Regulation 2073/2005 from memory: aw 0.92, or pH 4.4, or pH 5.0 with aw 0.94, each "at most"
        ({"water_activity": "0.92"}, True), ({"water_activity": "0.921"}, False), ({"ph": "4.4"}, True), ({"ph": "4.41"}, False),
        ({"ph": "5.0", "water_activity": "0.94"}, True), ({"ph": "5.0", "water_activity": "0.941"}, False),
    ],
)  # fmt: skip
@pytest.mark.parametrize("market", ["eu", "gb"])
def test_best_before_when_measured_then_it_rests_on_that(measured: dict[str, str], rests: bool, market: str) -> None:
    finding = found(asked({**GB, "address_in_eu": "x"}, packing={"market": market, "measured": measured}), "listeria_cannot_grow")
    assert (finding is not None) is rests


@pytest.mark.parametrize(
    ("until", "product", "stopped"),
    [
        # FSA guidance: at most 10 days at 3 to 8 °C without another control (curing_trade.md section 10)
        ("2026-03-12", {"packed_in": "vacuum"}, False),
        ("2026-03-13", {"packed_in": "vacuum"}, True),
        ("2026-03-13", {"packed_in": "gas"}, True),
        ("2026-03-13", {"packed_in": "air"}, False),
        ("2026-03-13", {"packed_in": "vacuum", "kept": "frozen"}, False),
        ("2026-03-13", {"packed_in": "vacuum", "control": {"what": "ph", "value": "5.0", "record": "log 7"}}, False),
        ("2026-03-13", {"packed_in": "vacuum", "control": {"what": "ph", "value": "5.01", "record": "log 7"}}, True),
        ("2026-03-13", {"packed_in": "vacuum", "control": {"what": "water_phase_salt", "value": "3.5", "record": "lab"}}, False),
        ("2026-03-13", {"packed_in": "vacuum", "control": {"what": "water_phase_salt", "value": "3.49", "record": "lab"}}, True),
        ("2026-03-13", {"packed_in": "vacuum", "control": {"what": "proven", "record": "challenge test 3"}}, False),
    ],
)
def test_pack_without_air_when_it_is_to_keep_over_10_days_then_only_with_a_control(
    until: str, product: dict[str, Any], stopped: bool
) -> None:
    answer = asked(product=product, packing={"best_before": until})
    assert ("eu.labelling.chilled_pack_life" in stops(answer)) is stopped


def test_pack_without_air_when_water_activity_was_measured_then_it_counts_and_its_doubt_is_said() -> None:
    answer = asked(product={"packed_in": "vacuum"}, packing={"measured": {"water_activity": "0.97"}})
    finding = found(answer, "chilled_pack_life")
    assert finding is not None
    assert (finding["severity"], finding["exceeded"]) == ("warn", False)
    assert "from memory" in finding["message"]
    assert "eu.labelling.chilled_pack_life" in stops(
        asked(product={"packed_in": "vacuum"}, packing={"measured": {"water_activity": "0.971"}})
    )


def test_pack_when_nobody_said_how_it_is_packed_then_unchecked_and_never_fine() -> None:
    finding = found(asked(), "chilled_pack_life")
    assert finding is not None
    assert finding["message"].startswith("Unchecked: how it is packed")


def test_control_of_the_card_when_this_lot_was_measured_worse_then_it_does_not_hold() -> None:
    card = {"packed_in": "vacuum", "control": {"what": "water_activity", "value": "0.90", "record": "lab 1"}}
    over = asked(product=card, packing={"measured": {"water_activity": "0.98"}})
    assert "eu.labelling.chilled_pack_life" in stops(over)
    assert "eu.labelling.chilled_pack_life" not in stops(asked(product=card, packing={"measured": {"water_activity": "0.90"}}))


def test_control_without_its_value_then_refused() -> None:
    with pytest.raises(InputError, match=r"^product\.control\.value: expected the measured ph, got nothing"):
        asked(product={"packed_in": "vacuum", "control": {"what": "ph", "record": "log"}})


def test_gas_then_protective_atmosphere_and_vacuum_none() -> None:
    assert text(asked(product={"packed_in": "gas", "control": {"what": "heated", "record": "log"}}), "statements") == (
        "Packaged in a protective atmosphere"
    )
    assert text(asked(product={"packed_in": "vacuum"}), "statements") == ""


def test_date_when_stamped_elsewhere_then_pointed_to() -> None:
    # D4, Business Companion date marking
    assert text(asked(product={"date_place": "see base of pack"}), "date_line") == "best before - see base of pack"


@pytest.mark.parametrize(
    ("until", "why"),
    [("2026-05-01", "the law asks for none beside a date with day and month"), ("2026-08-31", "needed: the date shows no day")],
)
def test_lot_then_said_whether_the_law_asks_for_it(until: str, why: str) -> None:
    # D5 and its opposite: Directive 2011/91/EU Art 5
    lot = next(one for one in asked(packing={"best_before": until})["particulars"] if one["element"] == "lot_line")
    assert lot["text"] == "L K1"
    assert lot["working"].startswith(why)


@pytest.mark.parametrize(
    ("face", "needed"),
    [
        # Art 16(2), N3 and A5: strictly under 10 cm2
        ("9.9", {"food_name", "allergens", "net_quantity", "date_line"}),
        ("10", {"food_name", "net_quantity", "date_line", "ingredients", "quantity_statement", "storage", "cooking", "operator",
                "lot_line"}),
    ],
)  # fmt: skip
def test_small_pack_then_only_these_are_needed(face: str, needed: set[str]) -> None:
    uses = [pork(), {"name": "milk powder", "weight": "5 g", "allergens": ["milk"]}]
    answer = asked(product={"face_cm2": face}, ingredients=uses)
    assert {one["element"] for one in answer["particulars"] if one["is_needed"]} == needed
    assert text(answer, "allergens") == ("contains milk" if face == "9.9" else "")


@pytest.mark.parametrize(("face", "height"), [("79.9", "0.9"), ("80", "1.2")])
def test_small_pack_then_smaller_type(face: str, height: str) -> None:
    assert asked(product={"face_cm2": face})["x_height_mm"] == height


@pytest.mark.parametrize(
    ("market", "form", "needed"),
    [
        ("gb", "packed for direct sale", {"food_name", "ingredients", "quantity_statement"}),
        ("gb", "loose", {"food_name", "allergens", "quantity_statement"}),
        ("eu", "loose", {"food_name", "allergens"}),
    ],
)
def test_form_of_sale_then_only_these_are_needed(market: str, form: str, needed: set[str]) -> None:
    uses = [pork(), {"name": "mustard", "weight": "5 g", "allergens": ["mustard"]}]
    answer = asked({**GB, "address_in_eu": "x"}, packing={"market": market, "form": form}, ingredients=uses)
    assert {one["element"] for one in answer["particulars"] if one["is_needed"]} == needed


def test_may_contain_then_said_by_the_law_s_name_unless_it_is_declared() -> None:
    assert text(asked(packing={"may_contain": ["celeriac", "sesame"]}), "may_contain") == "May contain: celery, sesame seeds"
    uses = [pork(), {"name": "celery", "weight": "5 g", "allergens": ["celery"]}]
    assert text(asked(packing={"may_contain": ["celery"]}, ingredients=uses), "may_contain") == ""


@given(st.permutations(range(5)), st.integers(1, 400), st.sampled_from(["eu", "gb", "us"]))
@settings(max_examples=40, deadline=None)
def test_label_when_lines_are_turned_and_all_weights_scaled_then_it_says_the_same(
    order: list[int], times: int, market: str
) -> None:
    uses = [
        pork(), {"name": "salt", "weight": "25 g"}, {"name": "mustard", "weight": "2 g", "allergens": ["mustard"]}, premix(),
        {"name": "sugar", "weight": "5 g"},
    ]  # fmt: skip
    scaled = [{**uses[at], "weight": f"{Decimal(uses[at]['weight'].removesuffix(' g')) * times} g"} for at in order]
    rest = {"composition": {"pork": {"food": "10080"}}, "packing": {"market": market}}
    workshop = US if market == "us" else {**GB, "address_in_eu": "x"}
    first = asked(workshop, ingredients=uses, finished_weight="650 g", **rest)
    turned = asked(workshop, ingredients=scaled, finished_weight=f"{650 * times} g", **rest)
    said = [(one["element"], one["text"]) for one in first["particulars"]]
    assert [(one["element"], one["text"]) for one in turned["particulars"]] == said
