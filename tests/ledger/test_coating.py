"""A wash, coating, casing or netting after the cure: mass, dose and allergens count it, and machines are remembered."""

import pytest

from labelsvc.errors import BlockedError, ConflictError, InputError
from labelsvc.ledger import journal, read
from labelsvc.operations.making import made_of


def went_in(shop, code):
    with shop.ledger.reading() as connection:
        return {one.lot.name: one.milligrams for one in made_of(connection, [read.find(connection, code)])}


def machines(shop):
    with shop.ledger.reading() as connection:
        return [(row.code, row.thing) for row in journal.contacts_in_order(connection) if row.kind == "machine"]


def test_coating_goes_into_the_piece_by_mass_and_by_what_it_is_made_of(shop):
    piece = shop.hanging_piece("1000 g", salt="30 g", hung="1000 g", tare="20 g")
    pepper = shop.ingredient("pepper", "1 kg")
    shop.record("coat", at="2026-04-01", pieces=[piece], what="coating", mix=[dict(lot=pepper, weight="12 g")])
    assert went_in(shop, piece) == {"pig 12": 1_000_000, "salt": 30_000, "pepper": 12_000}
    assert shop.state(piece).milligrams == 992_000  # 980 g net and 12 g of pepper
    assert shop.state(pepper).milligrams == 988_000


def test_coating_of_several_pieces_is_shared_by_green_weight_and_is_in_no_tub(shop):
    one, two = shop.cut(shop.receive(), "1000 g", "2000 g")
    pepper = shop.ingredient("pepper", "1 kg")
    mix, *_ = shop.record("coat", pieces=[one, two], what="wash", mix=[dict(lot=pepper, weight="30 g")]).codes
    assert [went_in(shop, code)["pepper"] for code in (one, two)] == [10_000, 20_000]
    assert shop.state(mix).tub is None


def test_coat_with_nitrite_counts_for_the_limit(shop):
    piece = shop.hanging_piece()
    curing = shop.ingredient("curing salt", "1 kg")
    shop.record("coat", at="2026-04-01", pieces=[piece], what="coating", mix=[dict(lot=curing, weight="50 g")])  # 300 mg/kg
    assert [held.finding["rule"] for held in shop.state(piece).held_for] == ["eu.nitrite.non_heat_treated"]


def test_coat_when_the_piece_is_packed_or_held_or_named_twice_then_it_says_so(shop):
    piece = shop.hanging_piece(hung="720 g")
    pepper = shop.ingredient("pepper", "1 kg")
    coat = dict(what="wash", mix=[dict(lot=pepper, weight="5 g")])
    with pytest.raises(InputError, match=r"^pieces\[1\]: expected each piece once"):
        shop.record("coat", at="2026-04-01", pieces=[piece, piece], **coat)
    shop.record("hold", at="2026-04-01", lots=[piece], reason="mould")
    with pytest.raises(BlockedError, match="mould"):
        shop.record("coat", at="2026-04-02", pieces=[piece], **coat)
    shop.record("lift", at="2026-04-02", lots=[piece], reason="brushed off")
    shop.release(piece, at="2026-05-20")
    shop.pack([piece], "700 g", at="2026-05-21")
    with pytest.raises(ConflictError, match=f"a piece that is not used up, got {piece}, which is used up"):
        shop.record("coat", at="2026-05-22", pieces=[piece], **coat)


def test_machines_of_cure_stringing_coat_and_packing_are_remembered_once_each(shop):
    piece = shop.green_piece()
    shop.cure([piece], (shop.ingredient(), "30 g"), things=["mixing bowl"])
    shop.string(piece, "720 g", tare="20 g", at="2026-03-20", things=["Netting machine"])
    shop.record("coat", at="2026-04-01", pieces=[piece], what="wash", mix=[dict(lot=shop.ingredient(), weight="1 g")],
                things=["spray bottle"])  # fmt: skip
    shop.release(piece, at="2026-05-20")
    _, pack = shop.pack([piece], "700 g", at="2026-05-21", things=["vacuum machine"])
    assert machines(shop) == [
        (piece, "mixing bowl"), (piece, "netting machine"), (piece, "spray bottle"), (pack, "vacuum machine"),
    ]  # fmt: skip
