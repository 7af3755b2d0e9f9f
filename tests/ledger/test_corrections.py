"""Corrections and late entries: both facts stay visible, what follows is derived anew, the impossible changes nothing."""

import re

import pytest

from labelsvc.errors import ConflictError, InputError, NotFoundError
from labelsvc.ledger import read

CUT, WEIGH = 12, 16  # numbers of facts in ``packed_story``


def cut_body(animal, weight):
    return {"from": animal, "pieces": [dict(product="Cured neck", weight=weight)]}


def packed_story(shop):
    """Animal 11, cut 12, salt 13, cure 14, string 15, weigh 16, release 17, pack 18; return animal, piece, unit."""
    animal = shop.receive()
    piece = shop.cut(animal, "1000 g")[0]
    shop.cure([piece], (shop.ingredient(), "30 g"))
    shop.string(piece, "1000 g", tare="20 g", at="2026-03-20")
    shop.weigh(piece, "740 g", at="2026-05-01")
    shop.release(piece, at="2026-05-02")
    unit = shop.pack([piece], "700 g", at="2026-05-03")[1]
    return animal, piece, unit


def unchanged(shop, act, error, text):
    facts, before = shop.facts(), shop.dump()
    with pytest.raises(error, match=f"^{re.escape(text)}"):
        act()
    assert shop.facts() == facts
    assert shop.dump() == before


def test_green_weight_of_a_packed_piece_corrected_derives_all_later_sums_anew(shop):
    animal, piece, unit = packed_story(shop)
    shop.correct(CUT, cut_body(animal, "1040 g"))
    assert shop.fact_body(CUT)["given"]["pieces"][0]["weight"] == "1000 g"
    assert shop.fact_body(shop.last.fact)["given"]["instead"]["pieces"][0]["weight"] == "1040 g"
    assert shop.last.codes == (piece,)
    assert shop.state(animal).milligrams == 80_000_000 - 1_040_000
    assert shop.state(piece).green_milligrams == 1_040_000
    assert shop.flows(15) == [[(piece, -90_000), ("drip and brine", 90_000)]]  # 1040 + 30 - 980
    assert shop.flows(WEIGH) == [[(piece, -260_000), ("drying", 260_000)]]  # 980 - 720, as before
    assert shop.flows(18) == [[(piece, -20_000), ("drying", 20_000)], [(piece, -700_000), (unit, 700_000)]]


def test_history_shows_the_correction_that_stands(shop):
    animal, piece, _ = packed_story(shop)
    fact = shop.correct(CUT, cut_body(animal, "1040 g")).fact
    with shop.ledger.reading() as connection:
        rows = {row.fact: row.corrected_by for row in read.history(connection, piece)}
    assert rows == {12: fact, 14: None, 15: None, 16: None, 17: None, 18: None}


def test_taking_a_correction_back_brings_the_first_fact_back_and_taking_that_back_the_correction(shop):
    animal, piece, _ = packed_story(shop)
    first = shop.dump()
    correction = shop.correct(CUT, cut_body(animal, "1040 g")).fact
    undone = shop.correct(correction, None).fact
    assert shop.state(piece).green_milligrams == 1_000_000
    assert shop.dump()["postings"] == first["postings"]
    shop.correct(undone, None)
    assert shop.state(piece).green_milligrams == 1_040_000


@pytest.mark.parametrize("in_full", [False, True])
def test_correction_of_a_correction_by_another_value_corrects_what_that_corrected(shop, in_full):
    animal, piece, _ = packed_story(shop)
    correction = shop.correct(CUT, cut_body(animal, "1040 g")).fact
    right = cut_body(animal, "1050 g")
    again = shop.correct(correction, {"fact": CUT, "instead": right, "reason": "typing slip"} if in_full else right).fact
    assert shop.state(piece).green_milligrams == 1_050_000
    shop.correct(again, None)
    assert shop.state(piece).green_milligrams == 1_040_000
    kept = shop.dump()
    shop.rebuild()
    assert shop.dump() == kept


def test_later_weight_that_fits_no_more_is_accepted_with_a_finding_on_it(shop):
    animal, piece, _ = packed_story(shop)
    later = shop.correct(CUT, cut_body(animal, "900 g"), yes=True).later
    assert [(one.fact, one.kind, one.issue.level) for one in later] == [(15, "string", "ask")]
    assert shop.flows(15) == [[("count difference", -50_000), (piece, 50_000)]]  # 980 - (900 + 30)


def test_taking_back_what_later_facts_need_is_a_conflict_and_changes_nothing(shop):
    packed_story(shop)
    text = "fact: expected a change after which the later facts are still possible, got one after which fact 14 (cure) is not"
    unchanged(shop, lambda: shop.correct(CUT, None), ConflictError, text)


def test_correction_that_makes_a_later_fact_impossible_is_a_conflict_and_changes_nothing(shop):
    packed_story(shop)
    piece = shop.hanging_piece()
    disposal = shop.record("dispose", lot=piece, how="sample", weight="10 g", at="2026-04-01").fact
    shop.weigh(piece, "900 g", at="2026-04-02")
    instead = dict(lot=piece, how="destroyed")
    unchanged(shop, lambda: shop.correct(disposal, instead), ConflictError, "at: expected something that fact")


def test_fact_moved_after_what_follows_it_is_a_conflict_and_changes_nothing(shop):
    animal, _, _ = packed_story(shop)
    instead = {**cut_body(animal, "1000 g"), "at": "2026-05-10"}
    unchanged(shop, lambda: shop.correct(CUT, instead), ConflictError, "fact: expected a change after which the later facts")


def test_fact_taken_back_twice_is_a_conflict(shop):
    packed_story(shop)
    fact = shop.correct(WEIGH, None).fact
    instead = dict(piece="P26112501V", weight="740 g")
    unchanged(shop, lambda: shop.correct(WEIGH, instead), ConflictError,
              f"fact: expected a fact that stands, got fact 16, taken back by fact {fact}")  # fmt: skip


def test_correction_of_no_fact_is_refused(shop):
    unchanged(shop, lambda: shop.correct(99, None), NotFoundError, "fact: expected the number of a recorded fact, got 99")


def test_error_inside_a_correction_names_its_place(shop):
    packed_story(shop)
    instead = dict(piece="P26112501V", weight="heavy")
    unchanged(shop, lambda: shop.correct(WEIGH, instead), InputError, "instead.weight: expected a weight with its unit")


def test_taking_a_weigh_in_back_lets_the_packing_find_the_whole_loss(shop):
    _, piece, unit = packed_story(shop)
    shop.correct(WEIGH, None, yes=True)
    assert shop.flows(WEIGH) == []
    assert shop.flows(18) == [[(piece, -280_000), ("drying", 280_000)], [(piece, -700_000), (unit, 700_000)]]  # 980 - 700


def test_late_weigh_in_splits_the_loss_of_the_next_one(shop):
    _, piece, _ = packed_story(shop)
    late = shop.weigh(piece, "860 g", at="2026-04-10").fact
    assert shop.flows(late) == [[(piece, -140_000), ("drying", 140_000)]]  # 980 - 840
    assert shop.flows(WEIGH) == [[(piece, -120_000), ("drying", 120_000)]]  # 840 - 720
    assert shop.state(piece).milligrams == 0


def test_late_hold_reaches_the_packs_made_since(shop):
    _, piece, unit = packed_story(shop)
    later = shop.record("hold", lots=[piece], reason="mould", at="2026-04-10").later
    assert shop.state(unit).whereabouts == "held"
    assert {one.issue.level for one in later} == {"blocked"}


def test_late_receipt_of_an_ingredient_changes_nothing_else(shop):
    packed_story(shop)
    before = shop.dump()["postings"]
    shop.ingredient("pepper", at="2026-03-05")
    assert set(before) < set(shop.dump()["postings"])


def test_bare_past_day_stands_after_what_is_known_of_that_day_and_before_a_later_time_of_it(shop):
    animal = shop.receive(at="2026-03-02T07:40", yes=True)
    piece = shop.record("cut", at="2026-03-02", **{"from": animal}, pieces=[{"product": "Cured neck", "weight": "1 kg"}]).codes[0]
    shop.record("hold", at="2026-03-02T10:00", lots=[piece], reason="looked at")
    assert shop.state(piece).is_held
