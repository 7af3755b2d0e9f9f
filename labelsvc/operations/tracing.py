"""Trace: one lot, what it was made of, where it went, what it met, who has it, and where its grams are."""

from __future__ import annotations

import json
from collections.abc import Callable, Collection, Mapping, Sequence
from decimal import Decimal
from typing import Any

from labelsvc.ledger import read
from labelsvc.ledger.database import Connection, Ledger
from labelsvc.ledger.meetings import met
from labelsvc.ledger.read import LotRow
from labelsvc.trace.balance import balance_of
from labelsvc.trace.walk import Reached, back, forward
from labelsvc.units import grams_text, plain


def trace(ledger: Ledger, text: str) -> dict[str, Any]:
    """Return the contract's trace of a lot.

    Args:
        ledger: where.
        text: a lot code, a pack's code, a marker, ear tag or supplier's number; a pack lot stands for all its packs.

    Returns:
        lot, back, forward, contact, sales and balance; every lot of the way is there, used-up ones too.

    Raises:
        CodeError, NotFoundError: no such lot.
    """
    with ledger.reading() as connection:
        asked = read.find(connection, text)
        units = read.units_of(connection, asked)
        own = [unit.number for unit in units]
        up, down = read.links_back(connection, own), read.links_forward(connection, own)
        went_in = read.came_in(connection, {*own, *(link.receiver for link in (*up, *down))})
        behind = _gathered(units, lambda unit: back(unit.number, unit.state.made_milligrams, up, went_in))
        ahead = _gathered(units, lambda unit: forward(unit.number, unit.state.made_milligrams, down, went_in))
        after = {**_by_number(connection, [*own, *ahead])}
        before = _by_number(connection, behind)
        return {
            "lot": {**whole_json(asked, units), "packs": [lot_json(unit) for unit in units] if asked.state.units else None},
            "back": way_json(behind, before),
            "forward": way_json(ahead, after),
            "contact": _contact_json(connection, units, before),
            "sales": _sales_json(connection, asked, after, before),
            "balance": balance_json(connection, {unit.number: unit for unit in units}),
        }


def lot_json(row: LotRow) -> dict[str, Any]:
    """Return a lot as an answer shows it: grams as it began, grams that are there now."""
    state = row.state
    return {
        "code": state.code,
        "kind": state.kind,
        "name": state.name,
        "state": state.whereabouts,
        "held": state.held_for[-1].reason if state.held_for else None,
        "place": state.holder or state.place or state.tub,
        "grams": grams_text(state.made_milligrams),
        "grams_here": grams_text(state.milligrams),
        "supplier": state.supplier,
        "born": state.born.isoformat(),
    }


def whole_json(row: LotRow, units: Sequence[LotRow]) -> dict[str, Any]:
    """Return a lot as an answer shows it; of a pack lot, what is left in its packs, and their state where all share one."""
    if not row.state.units:
        return lot_json(row)
    states = {unit.state.whereabouts for unit in units}
    return {
        **lot_json(row),
        "state": states.pop() if len(states) == 1 else row.state.whereabouts,
        "grams_here": grams_text(sum(unit.state.milligrams for unit in units)),
    }


def way_json(reached: Mapping[int, Reached], rows: Mapping[int, LotRow]) -> list[dict[str, Any]]:
    """Return the lots of a way, nearest first, with steps and shared grams."""
    order = sorted(reached, key=lambda number: (reached[number].steps, number))
    return [
        {
            **lot_json(rows[number]),
            "steps": reached[number].steps,
            "grams": plain((reached[number].milligrams / 1000).quantize(Decimal("0.001"))),
        }
        for number in order
    ]


def _sales_json(
    connection: Connection, asked: LotRow, after: Mapping[int, LotRow], before: Mapping[int, LotRow]
) -> list[dict[str, Any]]:
    """Return who got it, and who else got packs of the same printed lot or of the same pieces; each says why it is there."""
    pieces = [number for number, row in before.items() if row.state.kind == "piece"]
    sisters = {link.receiver for link in read.links_forward(connection, pieces)} - set(after) if pieces else set()
    beside = _by_number(connection, sisters)
    printed = asked.code.partition("/")[0]
    return [
        {
            "code": row.account,
            "because": _because(row.account, printed, row.lot in after),
            "how": row.kind if row.milligrams > 0 else "return",
            "name": row.name,
            "grams": grams_text(abs(row.milligrams)),
            "date": row.day,
            "document": json.loads(row.body).get("document"),
        }
        for row in read.handed_over(connection, [*after, *beside])
    ]


def _because(code: str, printed: str, is_after: bool) -> str:
    if is_after:
        return "this lot"
    return "same printed lot" if code.partition("/")[0] == printed else "same piece"


def balance_json(connection: Connection, rows: Mapping[int, LotRow]) -> dict[str, Any]:
    """Return where every gram of a set of lots is."""
    lots = {number: (row.state.whereabouts, row.state.milligrams) for number, row in rows.items()}
    return balance_of(lots, read.lines_touching(connection, list(rows))).as_json()


def _gathered(units: Sequence[LotRow], way: Callable[[LotRow], dict[int, Reached]]) -> dict[int, Reached]:
    """Add up the ways of several packs: grams add, the fewest steps count."""
    gathered: dict[int, Reached] = {}
    for unit in units:
        for number, one in way(unit).items():
            known = gathered.get(number)
            gathered[number] = Reached(min(known.steps, one.steps), known.milligrams + one.milligrams) if known else one
    return gathered


def _by_number(connection: Connection, numbers: Collection[int]) -> dict[int, LotRow]:
    return {row.number: row for row in read.lots_of(connection, numbers)} if numbers else {}


def _contact_json(connection: Connection, units: Sequence[LotRow], before: Mapping[int, LotRow]) -> list[dict[str, Any]]:
    """Return the lots that were in a tub, room, session or on a slicer together with this lot or a piece it was made of."""
    own = [unit.number for unit in units] + [number for number, row in before.items() if row.state.kind == "piece"]
    found = met(connection, own)
    rows = _by_number(connection, {one.number for one in found})
    return [
        {**lot_json(rows[one.number]), "thing": one.thing, "where": one.kind, "from": one.begins, "to": one.ends}
        for one in found
        if rows[one.number].state.phase != "mixed"
    ]
