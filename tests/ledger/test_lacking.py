"""Held while a measured value or a confirmed figure is lacking; let go by the value, by the figure, or by a decision with a name.

Rules: GB dry-cured bacon is limited only in the finished product, 175 mg/kg as sodium nitrite (UK SI 2007/1778 Sch. 1, quoted);
1 mg of nitrite ion is 1.4997 mg of sodium nitrite (68.995 / 46.005). Unconfirmed figures are made by the test itself.
"""

import json
from dataclasses import replace
from decimal import Decimal

import pytest
from build import body
from sqlalchemy import select

from labelsvc.curing import limits
from labelsvc.errors import BlockedError, InputError
from labelsvc.facts import Measured
from labelsvc.ledger.derive import lawful
from labelsvc.ledger.tables import effective
from labelsvc.rules import load

BACON = {"markets": ["gb"], "class": "dry_cured_bacon"}


def cured(shop, grams="15 g", **product):
    """A piece of 1000 g; 15 g of a 0.6 % curing salt bring 90 mg/kg sodium nitrite."""
    shop.record("product", **{**body("product"), **BACON, **product})
    piece = shop.green_piece("1000 g")
    shop.cure([piece], (shop.ingredient("curing salt", "1 kg"), grams), at="2026-03-03")
    return piece


def hung(shop, piece):
    shop.string(piece, "1000 g", tare="20 g", at="2026-03-20")
    return piece


def residue(shop, lot, value, expressed_as="sodium nitrite", **more):
    fields = dict(lot=lot, what="residual_nitrite", value=value, method="laboratory, report 7", expressed_as=expressed_as)
    return shop.record("check", **{"at": "2026-05-02", **fields, **more})


def rules_of(shop, code):
    return [one.finding["rule"] for one in shop.state(code).held_for]


def test_class_limited_only_in_the_finished_product_is_held_until_measured(shop):
    piece = hung(shop, cured(shop))
    assert rules_of(shop, piece) == ["gb.nitrite.dry_cured_bacon.residual"]
    with pytest.raises(BlockedError, match="Record the measured value") as stopped:
        shop.release(piece, at="2026-05-01")
    assert stopped.value.findings[0]["limit"] == "175"
    residue(shop, piece, "60")
    assert not shop.state(piece).is_held
    shop.release(piece, at="2026-05-20")
    lot, *_ = shop.pack([piece], "900 g", market="gb", at="2026-05-21")
    assert not shop.state(lot).is_held


@pytest.mark.parametrize(
    ("value", "expressed_as", "is_held"),
    [
        ("174.9", "sodium nitrite", False),
        ("175", "sodium nitrite", False),
        ("175.1", "sodium nitrite", True),
        ("116.6", "nitrite ion", False),  # 174.87 as sodium nitrite
        ("116.8", "nitrite ion", True),  # 175.17
        ("<5", "sodium nitrite", False),
    ],
)
def test_measured_residue_counts_as_the_substance_of_the_rule(shop, value, expressed_as, is_held):
    piece = hung(shop, cured(shop))
    residue(shop, piece, value, expressed_as)
    assert shop.state(piece).is_held is is_held


def test_measured_residue_over_the_limit_stops_by_law_and_nobody_lifts_it(shop):
    piece = hung(shop, cured(shop))
    residue(shop, piece, "180")
    held = shop.state(piece).held_for[0].finding
    assert (held["severity"], held["exceeded"], held["found"], held["expressed_as"]) == ("stop", True, "180", "sodium nitrite")
    with pytest.raises(BlockedError, match="Nobody can lift"):
        shop.record("lift", at="2026-05-03", lots=[piece], reason="I am sure", by="Ada")
    residue(shop, piece, "20", at="2026-05-04")  # a second, lower value does not wipe out the first
    assert rules_of(shop, piece) == ["gb.nitrite.dry_cured_bacon.residual"]


def test_residue_measured_in_one_pack_stops_its_lot_also_where_the_dose_was_allowed(shop):
    piece = hung(shop, cured(shop, markets=["us"], **{"class": "dry_cured"}))  # 90 ppm of 625; 200 in the finished product
    shop.release(piece, at="2026-05-20")
    lot, first, second = shop.pack([piece], "400 g", "400 g", market="us", at="2026-05-21")
    residue(shop, first, "150", at="2026-05-22")
    assert not shop.state(lot).is_held
    residue(shop, first, "201", at="2026-05-23")
    assert [rules_of(shop, code) for code in (lot, first, second)] == [["us.nitrite.dry_cured.finished"]] * 3


def test_residue_measured_in_the_rest_of_a_piece_clears_the_packs_made_of_it(shop):
    piece = hung(shop, cured(shop, markets=["gb", "us"], classes={"us": "dry_cured_bacon"}))  # the US allows 200 ppm
    assert not shop.state(piece).is_held
    shop.release(piece, at="2026-05-20")
    lot, first = shop.pack([dict(piece=piece, rest="400 g")], "500 g", market="gb", at="2026-05-21")
    assert rules_of(shop, first) == ["gb.nitrite.dry_cured_bacon.residual"]
    residue(shop, piece, "60", at="2026-05-22")
    assert not shop.state(lot).is_held
    assert not shop.state(first).is_held


def test_value_measured_in_the_tub_settles_no_limit_of_the_finished_product(shop):
    piece = cured(shop)
    done = residue(shop, piece, "60", at="2026-03-05")
    assert any("settles no limit" in note.hint for note in done.notes)
    assert shop.state(piece).is_held


def test_work_goes_on_while_only_a_value_is_lacking(shop):
    piece = cured(shop)
    shop.record("salt_again", at="2026-03-06", pieces=[piece], mix=[dict(lot=shop.ingredient(), weight="5 g")])
    hung(shop, piece)
    shop.weigh(piece, "950 g", at="2026-04-01")
    halves = shop.record("split", at="2026-04-02", from_=piece, pieces=[dict(weight="465 g"), dict(weight="465 g")]).codes
    assert all(shop.state(half).is_held for half in halves)


def test_lack_is_lifted_by_a_named_person_only_and_stays_decided_at_packing(shop):
    piece = hung(shop, cured(shop))
    with pytest.raises(InputError, match="the name of the responsible person"):
        shop.record("lift", at="2026-05-02", lots=[piece], reason="same recipe was measured in March")
    shop.record("lift", at="2026-05-02", lots=[piece], reason="same recipe was measured in March", by="Ines")
    shop.release(piece, at="2026-05-20")
    lot, *_ = shop.pack([piece], "900 g", market="gb", at="2026-05-21")
    assert not shop.state(lot).is_held


def test_decision_ends_when_more_is_put_on(shop):
    piece = cured(shop)
    shop.record("lift", at="2026-03-04", lots=[piece], reason="decided", by="Ines")
    assert not shop.state(piece).is_held
    shop.record("salt_again", at="2026-03-06", pieces=[piece], mix=[dict(lot=shop.ingredient("curing salt"), weight="5 g")])
    assert shop.state(piece).is_held


# --- a curing salt whose contents nobody entered -----------------------------------------------------------------------------
_NITRITE = dict(name="sodium nitrite", function="preservative")
UNKNOWN = "curing.unchecked_content"


@pytest.fixture
def unstated(shop):
    """A piece of 1000 g cured with 15 g of a salt that is only called a curing salt; the receipt is fact `bag`."""
    shop.record("product", **{**body("product"), "markets": ["eu"], "class": "non_heat_treated"})
    shop.record("ingredient", name="red curing salt", at="2026-03-01")
    received = shop.record(
        "receive", at="2026-03-01", supplier="Meadow Farm", kind="ingredient", name="red curing salt", weight="1 kg"
    )
    piece = shop.green_piece("1000 g")
    done = shop.cure([piece], (received.codes[0], "15 g"), at="2026-03-03")
    return piece, received.fact, done


def test_curing_salt_without_contents_holds_the_piece_until_they_are_entered(shop, unstated):
    piece, bag, done = unstated
    assert rules_of(shop, piece) == [UNKNOWN]
    assert any("percents that the bag states" in note.hint for note in done.notes)
    with pytest.raises(BlockedError, match="'red curing salt' may carry nitrite"):
        shop.release(hung(shop, piece), at="2026-05-01")
    receipt = dict(supplier="Meadow Farm", kind="ingredient", name="red curing salt", weight="1 kg", at="2026-03-01")
    # 15 g of 0.4 % on 1000 g are 60 mg/kg as the salt, 40 as the ion: under the 80 of Regulation (EU) 2023/2108
    shop.correct(bag, {**receipt, "sodium_nitrite_percent": "0.4"})
    assert rules_of(shop, piece) == []


def test_contents_entered_in_the_card_let_go_too(shop, unstated):
    piece, bag, _ = unstated
    parts = [dict(name="salt", percent="99.6"), dict(name="sodium nitrite", percent="0.4", additive=_NITRITE)]
    shop.correct(bag - 1, dict(name="red curing salt", components=parts, at="2026-03-01"))
    assert rules_of(shop, piece) == []


def test_contents_entered_late_hold_by_law_where_they_are_too_much(shop, unstated):
    piece, bag, _ = unstated
    receipt = dict(supplier="Meadow Farm", kind="ingredient", name="red curing salt", weight="1 kg", at="2026-03-01")
    shop.correct(bag, {**receipt, "sodium_nitrite_percent": "6.25"})  # 937.5 mg/kg
    assert rules_of(shop, piece)
    assert UNKNOWN not in rules_of(shop, piece)
    assert all(one.is_stop for one in shop.state(piece).held_for)


def test_curing_salt_without_contents_is_let_go_by_a_named_person_only(shop, unstated):
    piece, _, _ = unstated
    hung(shop, piece)
    with pytest.raises(InputError, match="the name of the responsible person"):
        shop.record("lift", at="2026-05-02", lots=[piece], reason="the maker told us")
    shop.record("lift", at="2026-05-02", lots=[piece], reason="the maker told us: 0.4 %", by="Ines")
    shop.release(piece, at="2026-05-20")
    lot, *_ = shop.pack([piece], "900 g", market="eu", at="2026-05-21")
    assert not shop.state(lot).is_held


def test_other_pieces_of_a_pack_do_not_take_over_the_decision_on_one(shop, unstated):
    piece, _, _ = unstated
    second = shop.green_piece("1000 g")
    shop.cure([second], (shop.ingredient("red curing salt", "1 kg"), "15 g"), at="2026-03-03")
    shop.record("lift", at="2026-05-02", lots=[piece], reason="decided", by="Ines")
    assert not shop.state(piece).is_held
    assert rules_of(shop, second) == [UNKNOWN]


# --- a figure that nobody has confirmed ------------------------------------------------------------------------------------
RULE = "eu.nitrate.non_heat_treated"


@pytest.fixture
def unconfirmed(monkeypatch):
    """The EU's figure for added nitrate as if nobody had confirmed it: 90 mg/kg as the ion (the figure is the test's own)."""

    def changed(market):
        return tuple(_as_unconfirmed(rule) if rule.id == RULE and rule.until is None else rule for rule in real(market))

    real = load.all_rules
    for module in (load, limits):
        monkeypatch.setattr(module, "all_rules", changed)


def _as_unconfirmed(rule):
    return replace(rule, known="unconfirmed", value=Decimal(90), expressed_as="nitrate ion", unit="mg/kg")


def with_nitrate(shop, grams):
    """A piece of 1000 g with so many grams of a salt that is 1 % sodium nitrate: 1 g brings 7.295 mg/kg of the ion."""
    parts = [dict(name="salt", percent="99"), dict(name="sodium nitrate", percent="1", additive=_NITRATE)]
    shop.record("ingredient", name="slow salt", components=parts)
    piece = shop.green_piece("1000 g")
    shop.cure([piece], (shop.ingredient("slow salt", "1 kg"), grams), at="2026-03-03")
    return piece


_NITRATE = dict(name="sodium nitrate", function="preservative")


def of_dose(shop, piece):
    return [rule for rule in rules_of(shop, piece) if rule == RULE]


@pytest.mark.parametrize(("grams", "held"), [("12.33 g", []), ("12.35 g", [RULE])])  # 89.95 and 90.09 mg/kg of the ion
def test_over_an_unconfirmed_figure_the_piece_is_held(shop, unconfirmed, grams, held):
    assert of_dose(shop, with_nitrate(shop, grams)) == held


def figure(shop, value, **more):
    fields = dict(rule=RULE, value=value, unit="mg/kg", source="the Official Journal, read by our vet", by="Ines")
    return shop.record("figure", **{"at": "2026-04-01", **fields, **more})


def test_figure_with_its_source_lets_go_of_what_was_cured_before_and_is_cited(shop, unconfirmed):
    piece = with_nitrate(shop, "13 g")  # 94.8 mg/kg
    assert of_dose(shop, piece)
    figure(shop, "100")
    assert not of_dose(shop, piece)
    before = shop.dump()
    shop.rebuild()
    assert shop.dump() == before


def test_over_the_figure_entered_it_stops_by_law(shop, unconfirmed):
    piece = with_nitrate(shop, "13 g")
    figure(shop, "90")
    held = next(one.finding for one in shop.state(piece).held_for if one.finding["rule"] == RULE)
    assert (held["severity"], held["known"]) == ("stop", "quoted")
    assert held["citation"].endswith("the Official Journal, read by our vet, by Ines")


def test_figure_taken_back_holds_again(shop, unconfirmed):
    piece = with_nitrate(shop, "13 g")
    done = figure(shop, "100")
    shop.correct(done.fact, None)
    assert of_dose(shop, piece)


@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        (dict(rule="eu.no.such"), "the id of one of our rules"),
        (dict(rule="gb.nitrite.non_heat_treated"), "a rule whose figure is missing or unconfirmed"),
        (dict(unit="%"), "mg/kg, as nitrate ion"),
    ],
)
def test_figure_that_no_rule_lacks_is_refused(shop, unconfirmed, changes, expected):
    with pytest.raises(InputError) as refused:
        figure(shop, "100", **changes)
    assert expected in refused.value.expected


def test_residue_needs_the_substance_it_is_expressed_as(shop):
    piece = hung(shop, cured(shop))
    with pytest.raises(InputError, match="expressed_as: expected one of nitrite ion, sodium nitrite, potassium nitrite"):
        residue(shop, piece, "60", None)
    with pytest.raises(InputError, match="value: expected mg/kg"):
        residue(shop, piece, "a little")


def test_us_without_nitrite_is_held_until_brine_or_water_activity_is_measured(shop):
    shop.record("product", **{**body("product"), "markets": ["us"], "class": "dry_cured"})
    piece = shop.green_piece("1000 g")
    shop.cure([piece], (shop.ingredient(), "30 g"), at="2026-03-03")
    hung(shop, piece)
    assert rules_of(shop, piece) == ["us.no_nitrite.dry_cured"]
    shop.record("check", at="2026-05-02", lot=piece, what="water_activity", value="0.92", method="meter")  # at the limit
    assert not shop.state(piece).is_held


@pytest.mark.parametrize(("given", "counts"), [("0,88", "0.88"), ("0.88", "0.88"), ("1", "1"), ("0", "0")])
def test_water_activity_when_written_with_a_comma_then_it_counts_as_the_number(shop, given, counts):
    piece = shop.hanging_piece()
    shop.record("check", at="2026-05-02", lot=piece, what="water activity", value=given, method="meter")
    assert shop.state(piece).measured[-1] == Measured("water_activity", Decimal(counts))


@pytest.mark.parametrize("given", ["-3", "1,01", "about 0.9", "0.9 0.8", "88 %", "<0.9", "٠.٩"])
def test_water_activity_when_it_is_no_number_or_out_of_range_then_it_is_refused(shop, given):
    piece = shop.hanging_piece()
    with pytest.raises(InputError, match="value: expected the number that was measured, from 0 to 1"):
        shop.record("check", at="2026-05-02", lot=piece, what="water_activity", value=given, method="meter")
    shop.record("check", at="2026-05-02", lot=piece, what="listeria", value="not found in 25 g", method="laboratory")


def test_measurement_in_words_when_an_earlier_program_took_it_then_it_still_derives(shop, monkeypatch):
    piece = shop.hanging_piece()
    monkeypatch.setattr(lawful, "RANGES", {})  # what was taken before it was asked for a number
    fact = shop.record("check", at="2026-05-02", lot=piece, what="water_activity", value="about 0.9", method="meter").fact
    monkeypatch.undo()
    shop.rebuild()
    (kept,) = read_issues(shop, fact)
    assert (kept["level"], kept["got"]) == ("refuse", "about 0.9")


def read_issues(shop, fact):
    with shop.ledger.reading() as connection:
        text = connection.execute(select(effective.c.issues).where(effective.c.fact == fact)).scalar_one()
    return json.loads(text)
