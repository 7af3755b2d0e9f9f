"""Trace: the grams of the way back are those of the postings and of the way ahead; a pack lot is the sum of its packs."""

import pytest

from labelsvc.operations.recalling import Suspicion, recall
from labelsvc.operations.tracing import trace


def grams(answer, way):
    return {one["code"]: one["grams"] for one in answer[way]}


def test_cured_piece_then_back_and_ahead_say_the_same_grams(shop):
    # worked out by hand: 87.5 g of mix over 1480 : 1392 is 45.091 g for the piece, 34.5 / 87.5 of it salt is 17.779 g
    animal = shop.receive(weight="42.6 kg")
    piece, other = shop.cut(animal, "1480 g", "1392 g")
    salt, pepper, sugar = shop.ingredient(), shop.ingredient("pepper"), shop.ingredient("sugar", ingredient="salt")
    mix = shop.cure([piece, other], (salt, "34.5 g"), (pepper, "43 g"), (sugar, "10 g")).codes[0]
    assert grams(trace(shop.ledger, piece), "back") == {
        animal: "1480", mix: "45.091", salt: "17.779", pepper: "22.159", sugar: "5.153",
    }  # fmt: skip
    for giver, given in ((animal, "1480"), (mix, "45.091"), (salt, "17.779")):
        assert grams(trace(shop.ledger, giver), "forward")[piece] == given


def test_cured_piece_that_was_packed_then_all_of_the_packs_is_of_it(shop):
    piece = shop.hanging_piece(hung="720 g")
    shop.release(piece, at="2026-05-20")
    _, first, second = shop.pack([piece], "300 g", "400 g", at="2026-05-21")
    assert grams(trace(shop.ledger, piece), "forward") == {first: "300", second: "400"}
    assert grams(trace(shop.ledger, first), "back")[piece] == "300"
    reached = {one["code"]: one["shared_grams"] for one in recall(shop.ledger, Suspicion(lots=(piece,)))["affected"]}
    assert reached == {piece: "1030", first: "300", second: "400"}  # 1000 g of meat and 30 g of salt


@pytest.mark.parametrize(
    ("moments", "state", "here"),
    [
        ((), "in stock", "700"),
        (("sell",), "in stock", "400"),
        (("sell", "dispose"), "destroyed, sold", "0"),
        (("sell", "hold"), "held", "400"),
    ],
)
def test_pack_lot_then_its_grams_are_those_of_its_packs_and_its_state_that_of_what_is_here(shop, moments, state, here):
    lot, first, second = shop.packed("300 g", "400 g")
    done = {
        "sell": lambda: shop.sell(first, at="2026-05-22"),
        "dispose": lambda: shop.record("dispose", lot=second, how="destroyed", at="2026-05-22"),
        "hold": lambda: shop.record("hold", lots=[second], reason="mould", at="2026-05-23"),
    }
    for moment in moments:
        done[moment]()
    shown = trace(shop.ledger, lot)["lot"]
    assert (shown["state"], shown["grams"], shown["grams_here"]) == (state, "700", here)


def test_trace_of_what_a_scanner_sent_then_it_is_the_lot_it_names(shop):
    lot, _, second = shop.packed("300 g", "400 g")
    for scanned, code in (
        (f"]C1010952123454321310{lot}", lot),
        (f"(01)09521234543213(10){lot}(21)2", second),
        (f"https://example.com/01/09521234543213/10/{lot}/21/2", second),
        (f"L{lot}", lot),
        (f"L {lot}/2", second),
    ):
        assert trace(shop.ledger, scanned)["lot"]["code"] == code
