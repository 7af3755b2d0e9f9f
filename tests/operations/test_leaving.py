"""What stops packs at the door, or is asked there: a warning to buyers, an open case, a date, a label without an allergen."""

import datetime as dt

import pytest
from build import NOW, body

from labelsvc.errors import BlockedError, ConfirmationNeeded, ConflictError
from labelsvc.operations import packing
from labelsvc.operations.recording import record

DAY = "2026-05-22"
LABEL = dict(layout="sale_label", layout_digest="0" * 64, content={}, market="eu")


def sell_at_bench(shop, *packs, yes=False):
    given = {"packs": list(packs), "customer": "Corner Shop", "at": "2026-05-23"}
    return record(shop.ledger, "sell", given, now=dt.datetime(2026, 5, 23, 9, tzinfo=dt.UTC), confirmed=yes, is_at_bench=True)


def test_pack_whose_buyers_are_warned_when_it_is_sold_then_it_is_blocked(shop):
    lot, sold, left = shop.packed("350 g", "340 g")
    shop.sell(sold, at="2026-05-21")
    case = shop.record("open_case", what="recall", reason="germ", lots=[lot], at=DAY).fact
    with pytest.raises(ConfirmationNeeded, match=f"got {left}, of case {case}. See: labelsvc case {case}"):
        shop.sell(left, at=DAY)
    shop.record("publish", case=case, lots=[lot], risk="germ", by="Ada", at=DAY)
    with pytest.raises(BlockedError, match=f"{left}, whose buyers are warned in case {case}"):
        shop.sell(left, at=DAY, yes=True)
    shop.record("unpublish", case=case, lots=[lot], reason="all clear", by="Ada", at="2026-05-23")
    shop.record("close_case", case=case, outcome="all clear", at="2026-05-23")
    shop.sell(left, at="2026-05-24")


def test_pack_when_the_case_is_an_exercise_or_of_another_lot_then_nothing_is_asked(shop):
    _, pack, other = shop.packed("350 g", "340 g")
    shop.record("open_case", what="mock", reason="exercise", lots=[pack], at=DAY)
    shop.record("open_case", what="recall", reason="germ", lots=[shop.hanging_piece()], at=DAY)
    shop.record("give", to="the neighbour", packs=[pack, other], at=DAY)


@pytest.mark.parametrize(("date_kind", "day", "stops"), [
    ("use_by", "2026-07-20", None), ("use_by", "2026-07-21", BlockedError), ("best_before", "2026-07-21", ConfirmationNeeded),
])  # fmt: skip
def test_pack_when_its_date_is_over_then_use_by_blocks_and_best_before_asks(shop, date_kind, day, stops):
    shop.record("product", **{**body("product"), "date_kind": date_kind})
    _, pack, _ = shop.packed("350 g", "340 g")  # packed on 21 May with 60 days
    if stops is None:
        shop.sell(pack, at=day)
        return
    with pytest.raises(stops, match="packs before their date 2026-07-20"):
        shop.sell(pack, at=day, yes=stops is BlockedError)


def test_label_without_an_allergen_when_its_pack_is_sold_at_the_bench_then_it_is_blocked_until_a_new_one_is_printed(shop):
    _, pack, bare = shop.packed("350 g", "340 g")
    shop.record("issue_label", lots=[pack], at="2026-05-21", **LABEL)
    shop.record("ingredient", name="salt", allergens=["mustard"], at="2026-03-01")
    with pytest.raises(BlockedError, match=f"{pack}, whose label does not name mustard"):
        sell_at_bench(shop, pack, yes=True)
    shop.record("issue_label", lots=[pack], at=DAY, allergens=["mustard"], **LABEL)
    with pytest.raises(ConfirmationNeeded, match=f"{bare}, for which none was printed"):
        sell_at_bench(shop, bare)
    sell_at_bench(shop, pack)
    sell_at_bench(shop, bare, yes=True)


def test_pack_when_no_label_was_ever_printed_here_then_it_is_not_asked_for(shop):
    sell_at_bench(shop, shop.packed("350 g", "340 g")[1])


def test_hold_when_packs_were_made_of_it_before_then_they_are_named(shop):
    piece = shop.hanging_piece(hung="720 g")
    shop.release(piece, at="2026-05-20")
    _, pack = shop.pack([{"piece": piece, "rest": "350 g"}], "340 g", at="2026-05-21")
    told = shop.record("hold", lots=[piece], reason="glass", at=DAY)
    assert [issue.got for issue in told.notes] == [f"{piece}, of which was made {pack}"]
    assert told.notes[0].hint.startswith(f"They are not held: labelsvc recall --lot {piece}")
    assert shop.record("hold", lots=[pack], reason="glass", at=DAY).notes == ()


def test_open_packing_when_its_piece_is_held_since_then_no_pack_is_added(shop):
    piece = shop.hanging_piece(hung="720 g")
    shop.release(piece, at="2026-05-20")
    given = {**body("pack"), "from": [{"piece": piece}], "packs": [{"weight": "100 g"}], "at": "2026-05-21T09:00"}
    begun = packing.begin(shop.ledger, given, now=NOW, who="Ada", confirmed=True)
    shop.record("hold", lots=[piece], reason="glass", at="2026-05-21T10:00")
    with pytest.raises(ConflictError, match=f"a piece that is not held \\(glass\\), got {piece}"):
        packing.add_packs(shop.ledger, begun.fact, ["100 g"], now=NOW, who="Ada", confirmed=True)
    packing.finish(shop.ledger, begun.fact, [{"piece": piece, "rest": "600 g"}], now=NOW, who="Ada", confirmed=True)
