"""A hold is not undone by writing something down late: what is made of a held lot by it is held as long as the lot is."""

import pytest

from labelsvc.errors import BlockedError


@pytest.fixture(params=["hold", "incident"])
def held(request, shop):
    """A released piece of 980 g that hangs from 20 March and is held on the 28th, and the kind of fact that holds it."""
    shop.piece = shop.hanging_piece()
    shop.release(shop.piece, at="2026-03-22")
    said = {"hold": dict(reason="glass"), "incident": dict(what="glass")}[request.param]
    shop.held_by = shop.record(request.param, lots=[shop.piece], at="2026-03-28", **said).fact
    return shop


def test_packs_of_a_late_packing_are_held_and_cannot_be_sold(held):
    lot, first, second = held.pack([held.piece], "400 g", "580 g", at="2026-03-24")
    assert [held.state(code).whereabouts for code in (lot, first, second)] == ["held"] * 3
    told = [one for one in held.last.later if one.fact == held.held_by]
    assert [one.issue.got for one in told] == [f"{first}, {second}"]
    with pytest.raises(BlockedError):
        held.sell(first, at="2026-04-01")
    kept = held.dump()
    held.rebuild()
    assert held.dump() == kept


def test_lift_said_before_the_late_entry_counts_for_what_it_makes_and_for_no_other_hold(held):
    held.record("lift", lots=[held.piece], reason="it was ice", at="2026-03-30")
    _, first, _ = held.pack([held.piece], "400 g", "580 g", at="2026-03-24")
    assert not held.state(first).is_held
    other = held.hanging_piece()
    held.record("hold", lots=[other], reason="mould", at="2026-03-29")
    children = held.record("split", from_=other, pieces=[dict(weight="500 g"), dict(weight="480 g")], at="2026-03-25").codes
    assert [held.state(code).whereabouts for code in children] == ["held"] * 2


def test_pieces_late_cut_and_late_salted_are_held_as_their_source_is(shop):
    animal, salt = shop.receive(), shop.ingredient()
    piece, early = shop.cut(animal, "1000 g", "800 g", at="2026-03-03")
    shop.record("hold", lots=[animal, salt], reason="recall of the supplier", at="2026-03-10")
    late = shop.cut(animal, "900 g", at="2026-03-05")[0]
    shop.cure([piece], (salt, "30 g"), at="2026-03-06")
    assert [shop.state(code).is_held for code in (late, piece, early)] == [True, True, False]


def test_packing_late_taken_back_leaves_the_piece_held_and_nothing_else(held):
    before = held.dump()["postings"]
    held.pack([held.piece], "400 g", "580 g", at="2026-03-24")
    held.correct(held.last.fact, None)
    assert held.dump()["postings"] == before
    assert held.state(held.piece).whereabouts == "held"
