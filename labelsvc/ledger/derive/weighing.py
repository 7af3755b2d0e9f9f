"""What one absolute weight says: the difference to the balance is a loss, or a gain that someone must confirm."""

from __future__ import annotations

from decimal import Decimal

from labelsvc.facts import Product
from labelsvc.ledger.derive.bench import Bench, percent_of
from labelsvc.ledger.state import COUNT, End, LotState
from labelsvc.units import grams_text

# Sanity bounds of one weighing against the balance (common practice, no source). Meat is about three quarters water, so
# what is left below 15 % is not the same piece; more than half as much again is a slip of the scale, the unit or the tag.
LEAST_PERCENT = 15
UNUSUAL_PERCENT = 40
MOST_PERCENT = 150


def post_weight(bench: Bench, piece: LotState, net: int, field: str, *, loss_to: End) -> None:
    """Post the difference between a net weight and the balance.

    Args:
        bench: the fact at work.
        piece: the piece on the scale.
        net: whole milligrams without string, net or casing.
        field: how an issue names the weight.
        loss_to: where a loss goes; it is never negative: a gain goes to the count difference.
    """
    balance = bench.now(piece).milligrams
    _ask_about(bench, piece, net, balance, field)
    loss = balance - net
    if loss >= 0:
        bench.flow((bench.now(piece), -loss), (loss_to, loss))
    else:
        bench.flow((COUNT, loss), (bench.now(piece), -loss))
    bench.change(piece, weighed_on=bench.fact.day, is_weighed=True)


def _ask_about(bench: Bench, piece: LotState, net: int, balance: int, field: str) -> None:
    got = f"{grams_text(net)} g, {percent_of(net, balance)} % of it"
    known = f"a weight near the {grams_text(balance)} g that {piece.code} had before"
    if net * 100 < balance * LEAST_PERCENT or net * 100 > balance * MOST_PERCENT:
        bench.issue("refuse", field, known, got, "Is it the right piece, and the right unit?")
    elif net * 100 < balance * UNUSUAL_PERCENT:
        bench.issue("ask", field, known, got)
    elif net > balance:
        tolerance = bench.card(Product, piece.product or "", field).gain_tolerance_percent if piece.product else Decimal(0)
        if Decimal(net - balance) * 100 > tolerance * balance:
            bench.issue("ask", field, f"no gain above {tolerance} % on {grams_text(balance)} g", got, "Is the tare right?")
