"""What a product is made of on average: the pieces of its last packings, by weight at use and by what came of them.

Commission Notice 2017/C 393/05: quantities are declared as the average that good practice gives, normal variation included.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from labelsvc import facts
from labelsvc.declaration.composition import LOSSES, WASHED
from labelsvc.declaration.context import Context
from labelsvc.ledger import around, read
from labelsvc.ledger.database import Connection
from labelsvc.ledger.derive.bench import card_key
from labelsvc.ledger.read import LotRow
from labelsvc.operations.making import Used, made_each, made_of, together
from labelsvc.rules.finding import Finding
from labelsvc.units import Mass, plain, ratio, round_half_up

PACKINGS = 12  # that the average looks back on: about a year of a product packed once a month


@dataclass(frozen=True)
class Average:
    """What went into a product, and what came of it.

    Args:
        used: each lot at the beginning of the chain, by weight at use.
        finished: weight of the product that came of it.
        pieces: how many pieces it rests on.
        strays: by code of a piece, by how many percent its meat for 100 g differs from the average.
        method_gives_no_salt: whether a piece lay in excess salt, of which nobody knows how much it took up.
    """

    used: tuple[Used, ...]
    finished: Mass
    pieces: int
    strays: Mapping[str, Decimal]
    method_gives_no_salt: bool


def average_of(connection: Connection, unit: LotRow, product: facts.Product) -> Average:
    """Return the average a pack's quantities and nutrition are declared by.

    Packs of pieces of several products stand for themselves: they have no average but their own.

    Args:
        connection: where.
        unit: a pack.
        product: its product.
    """
    position = around.packing_of(connection, unit.code)
    mine = _pieces_of(connection, unit)
    if any(card_key(piece.state.product or "") != card_key(product.name) for piece in mine):
        return _of_pack(connection, unit, mine)
    numbers = around.pieces_packed_before(connection, product.name, position, PACKINGS)
    pieces = [row for row in read.lots_of(connection, numbers) if card_key(row.state.product or "") == card_key(product.name)]
    made, weights = made_each(connection, [piece.number for piece in pieces]), _finished(connection, pieces, position)
    known = [piece for piece in pieces if weights[piece.number] > 0 and made.get(piece.number)]
    if not known:
        return _of_pack(connection, unit, mine)
    whole = together(made[piece.number] for piece in known)
    finished = sum((weights[piece.number] for piece in known), Decimal(0))
    strays = _strays(known, made, weights, ratio(_meat(whole), finished), {piece.number for piece in mine})
    return Average(tuple(whole), Mass(finished / 1000), len(known), strays, _has_excess(known))


def stray_findings(average: Average, context: Context) -> list[Finding]:
    """Return a finding for each piece of the pack that strays from the average by more than the rule names."""
    rule, most = context.rule("stray_piece"), context.figure("stray_piece")
    found = []
    for code, percent in average.strays.items():
        if abs(percent) > most:
            shown = plain(round_half_up(abs(percent), 1))
            side = "more" if percent > 0 else "less"
            message = (
                f"{code} holds {shown} % {side} meat for 100 g than the average of {average.pieces} pieces, which the label"
                " declares: was it dried as usual, and are its weights right?"
            )
            found.append(rule.found(shown, message, exceeded=True))
    return found


def _of_pack(connection: Connection, unit: LotRow, pieces: Sequence[LotRow]) -> Average:
    weight = Mass.from_milligrams(unit.state.made_milligrams)
    return Average(tuple(made_of(connection, [unit])), weight, max(len(pieces), 1), {}, _has_excess(pieces))


def _pieces_of(connection: Connection, unit: LotRow) -> list[LotRow]:
    """The pieces that a pack was packed from directly; one that was split off another counts itself."""
    lots = around.gave_to(connection, unit.number)
    return [row for row in read.lots_of(connection, lots) if row.state.kind == "piece"]


def _has_excess(pieces: Sequence[LotRow]) -> bool:
    return any(piece.state.method == "dry_excess" for piece in pieces)


def _finished(connection: Connection, pieces: Sequence[LotRow], position: tuple[str, int]) -> dict[int, Decimal]:
    """Return the milligrams of product that came of each piece by then: what left it and what was left, but not what it lost."""
    weights: dict[int, Decimal] = {piece.number: Decimal(0) for piece in pieces}
    flows: dict[tuple[int, int], list[tuple[int | None, str, int]]] = defaultdict(list)
    for line in around.lines_until(connection, list(weights), position):
        flows[line.fact, line.flow].append((line.lot, line.kind, line.milligrams))
    for lines in flows.values():
        ends = {kind for lot, kind, _ in lines if lot is None}
        is_loss = not LOSSES.isdisjoint(ends) or WASHED in ends
        for lot, _, milligrams in lines:
            if lot in weights and (milligrams > 0 or is_loss):
                weights[lot] += milligrams
    return weights


def _meat(used: Sequence[Used]) -> Decimal:
    return sum((one.milligrams for one in used if one.card is None), Decimal(0))


def _strays(
    pieces: Sequence[LotRow], made: Mapping[int, Sequence[Used]], weights: Mapping[int, Decimal], average: Decimal, mine: set[int]
) -> dict[str, Decimal]:
    if not average:
        return {}
    shares = {piece.code: ratio(_meat(made[piece.number]), weights[piece.number]) for piece in pieces if piece.number in mine}
    return {code: 100 * (share / average - 1) for code, share in shares.items()}
