"""Trace: one lot, what it was made of, where it went, what it met, who has it, and where its grams are."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from typing import Any

from labelsvc.codes.scanned import lot_code_in
from labelsvc.ledger import flows, read
from labelsvc.ledger.database import Connection, Ledger
from labelsvc.ledger.meetings import met
from labelsvc.ledger.read import LotRow, ShownRow
from labelsvc.trace.balance import Balance
from labelsvc.trace.walk import Reached, back, forward
from labelsvc.units import grams_text


def trace(ledger: Ledger, text: str) -> dict[str, Any]:
    """Return the contract's trace of a lot.

    Args:
        ledger: where.
        text: a lot code, a pack's code, a marker, ear tag or supplier's number, or what a scanner sent: GS1 elements or a link
            of ours; a pack lot stands for all its packs.

    Returns:
        lot, back, forward, contact, sales and balance; every lot of the way is there, used-up ones too.

    Raises:
        CodeError, NotFoundError: no such lot.
    """
    with ledger.reading() as connection:
        asked = read.find(connection, lot_code_in(text))
        units = read.units_of(connection, asked)
        own = [unit.number for unit in units]
        up, down = flows.links_back(connection, own), flows.links_forward(connection, own)
        numbers = {*own, *(giver for giver, _, _ in up), *(receiver for _, receiver, _ in down)}
        rows = read.shown(connection, numbers)
        went_in = {number: row.came_in for number, row in rows.items()}
        roots = {number: went_in[number] for number in own}
        behind, ahead = back(roots, up, went_in), forward(roots, down, went_in)
        before, after = ({number: rows[number] for number in way if number not in roots} for way in (behind, ahead))
        return {
            "lot": {**whole_json(asked, units), "packs": [unit.state.shown() for unit in units] if asked.state.units else None},
            "back": way_json(behind, before),
            "forward": way_json(ahead, after),
            "contact": _contact_json(connection, units, before),
            "sales": _sales_json(connection, asked, ahead, before),
            "balance": balance_json(connection, {unit.number: unit for unit in units}),
        }


def whole_json(row: LotRow, units: Sequence[LotRow]) -> dict[str, Any]:
    """Return a lot as an answer shows it; of a pack lot, the sums of its packs, and the state of those that are here.

    Where nothing of it is here, its state is what became of its packs, such as "destroyed, sold".
    """
    if not row.state.units:
        return row.state.shown()
    here = [unit.state for unit in units if unit.state.milligrams]
    states = sorted({state.whereabouts for state in here or [unit.state for unit in units]})
    return {
        **row.state.shown(),
        "state": row.state.whereabouts if here and len(states) > 1 else ", ".join(states),
        "grams": grams_text(sum(unit.state.made_milligrams for unit in units)),
        "grams_here": grams_text(sum(unit.state.milligrams for unit in units)),
    }


def way_json(reached: Mapping[int, Reached], rows: Mapping[int, ShownRow]) -> list[dict[str, Any]]:
    """Return these lots of a way, nearest first, with steps and shared grams."""
    order = sorted((reached[number].steps, number) for number in rows)
    return [{**rows[number].shown, "steps": steps, "grams": grams_text(reached[number].milligrams)} for steps, number in order]


def _sales_json(
    connection: Connection, asked: LotRow, after: Collection[int], before: Mapping[int, ShownRow]
) -> list[dict[str, Any]]:
    """Return who got it, and who else got packs of the same printed lot or of the same pieces; each says why it is there."""
    pieces = [number for number, row in before.items() if row.kind == "piece"]
    sisters = {receiver for _, receiver, _ in flows.links_forward(connection, pieces)} - set(after) if pieces else set()
    printed = asked.code.partition("/")[0]
    return [
        {
            "code": row.account,
            "because": _because(row.account, printed, row.lot in after),
            "how": row.kind if row.milligrams > 0 else "return",
            "name": row.name,
            "grams": grams_text(abs(row.milligrams)),
            "date": row.day,
            "document": row.document,
        }
        for row in flows.handed_over_of(connection, [*after, *sisters])
    ]


def _because(code: str, printed: str, is_after: bool) -> str:
    if is_after:
        return "this lot"
    return "same printed lot" if code.partition("/")[0] == printed else "same piece"


def balance_json(connection: Connection, rows: Mapping[int, LotRow] | Mapping[int, ShownRow]) -> dict[str, Any]:
    """Return where every gram of a set of lots is."""
    came_in, out = flows.moved(connection, rows.keys())
    here = Counter[str]()
    for row in rows.values():
        if row.milligrams:
            here[row.whereabouts] += row.milligrams
    return Balance(came_in, out, here).as_json()


def _contact_json(connection: Connection, units: Sequence[LotRow], before: Mapping[int, ShownRow]) -> list[dict[str, Any]]:
    """Return the lots that were in a tub, room, session or on a slicer together with this lot or a piece it was made of."""
    own = [unit.number for unit in units] + [number for number, row in before.items() if row.kind == "piece"]
    found = met(connection, own)
    rows = {row.number: row.state for row in read.lots_of(connection, {one.number for one in found})} if found else {}
    return [
        {**rows[one.number].shown(), "thing": one.thing, "where": one.kind, "from": one.begins, "to": one.ends}
        for one in found
        if rows[one.number].phase != "mixed"
    ]
