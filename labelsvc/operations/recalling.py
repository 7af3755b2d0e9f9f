"""Recall search: from a suspicion to every lot made with it, by which way each is reached, where each gram is, whom to tell."""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from typing import Any

from labelsvc.ledger import flows, read
from labelsvc.ledger.database import Connection, Ledger
from labelsvc.ledger.meetings import Met, met
from labelsvc.ledger.read import LotRow, ShownRow
from labelsvc.operations.holders import customers_of, customers_short, others_of, others_short, still_out
from labelsvc.operations.searching import Reach, Suspicion, downstream, fitting, notes, parts_of
from labelsvc.operations.tracing import balance_json
from labelsvc.trace.balance import Balance
from labelsvc.trace.walk import Link, forward
from labelsvc.units import grams_text, hundredths_text

__all__ = ["Reach", "Suspicion", "in_few_codes", "recall"]
# What a reach adds to the lots of the same mass. Each holds all of the one before it, so that a wider search never loses a lot.
_ADDS: dict[str, tuple[str, ...]] = {
    "mass": (),
    "tub": ("tub",),
    "slicer": ("tub", "slicer", "machine", "session"),
    "room": ("tub", "slicer", "machine", "session", "room"),
}


def recall(ledger: Ledger, suspicion: Suspicion, most: int | None = None) -> dict[str, Any]:
    """Return the contract's answer to a recall search; nothing found is an answer too.

    Each affected lot says by which way it is reached: ``by`` mass with steps, shared grams and percent of the lot, or by the
    tub, slicer, machine, session or room where it met one that is, with ``via``, the name of that.

    Args:
        ledger: where.
        suspicion: what it starts from and how far it reaches.
        most: where more lots than that are affected, these are counted and summed: ``affected`` are the first of them, beside
            ``affected_count``, ``summary`` (kind, state, lots, grams_here) and ``to_hold``; customers and others come with the
            number of their packs, grams, and the first and last day. None: the whole answer, however long.
    """
    began = time.perf_counter()
    with ledger.reading() as connection:
        parts = list(parts_of(connection, suspicion))
        seeds = fitting(connection, parts)
        beside = _beside(connection, seeds, suspicion)
        start = {*seeds, *beside}
        said = notes(connection, suspicion, has_several_parts=len(parts) > 1)
        if most is not None and len(numbers := flows.reached_forward(connection, start)) > most:
            return {**_in_short(connection, seeds, beside, numbers, most), "notes": said, "took_ms": _since(began)}
        links = flows.links_forward(connection, sorted(start)) if start else []
        affected = read.shown(connection, start.union(receiver for _, receiver, _ in links))
        out = still_out(connection, affected)
        ways = _ways(seeds, beside, affected, links)
        return {
            "affected": [{**row.shown, **ways[number]} for number, row in affected.items()],
            "start": _start(connection, affected, links),
            "customers": customers_of(connection, out),
            "told_otherwise": others_of(out),
            "balance": balance_json(connection, affected),
            "notes": said,
            "took_ms": _since(began),
        }


def _since(began: float) -> int:
    return round((time.perf_counter() - began) * 1000)


def _in_short(
    connection: Connection, seeds: Sequence[int], beside: Mapping[int, tuple[str, str]], numbers: Sequence[int], most: int
) -> dict[str, Any]:
    """Return a wide answer without a row for each lot: the database counts and adds up, only the first lots are shown."""
    standings = read.standings_of(connection, numbers)
    takers = flows.takers_of(connection, numbers)
    here = Counter[str]()
    for row in standings:
        here[row.state] += row.milligrams
    start = {*seeds, *beside}
    first = read.shown(connection, sorted(start - flows.made_of(connection, start, numbers)))
    return {
        "affected": _first(connection, seeds, beside, numbers, most),
        "affected_count": sum(row.lots for row in standings),
        "summary": [
            {"kind": row.kind, "state": row.state, "lots": row.lots, "grams_here": grams_text(row.milligrams)}
            for row in standings
        ],
        "start": in_few_codes(connection, list(first.values())),
        "to_hold": read.codes_in_hand(connection, numbers),
        "customers": customers_short(connection, [row for row in takers if row.kind == "customer"]),
        "told_otherwise": others_short([row for row in takers if row.kind != "customer"]),
        "balance": Balance(*flows.moved(connection, numbers), {state: left for state, left in here.items() if left}).as_json(),
    }


def _first(
    connection: Connection, seeds: Sequence[int], beside: Mapping[int, tuple[str, str]], numbers: Sequence[int], most: int
) -> list[dict[str, Any]]:
    """Return the first of the affected lots with the way to each: for that, what they were made of is enough."""
    reached, first = set(numbers), numbers[:most]
    links = [link for link in flows.links_back(connection, first) if link[0] in reached]
    rows = read.shown(connection, {*first, *(giver for giver, _, _ in links)})
    mine = {number: where for number, where in beside.items() if number in rows}
    ways = _ways([number for number in seeds if number in rows], mine, rows, links)
    return [{**rows[number].shown, **ways[number]} for number in first if number in rows]


def _beside(connection: Connection, seeds: Sequence[int], suspicion: Suspicion) -> dict[int, tuple[str, str]]:
    """Return what a wider reach adds: by the number of the lot, what they met at and its name.

    Where a pack is suspected, the tub and the slicer are those of the pieces it was made of: these belong to a wider reach,
    with everything else that was made of them.
    """
    if not seeds or not _ADDS[suspicion.reach]:
        return {}
    pieces = _pieces_behind(connection, seeds)
    numbers = downstream(connection, {*seeds, *pieces})
    ends_at = "allergen-clean" if suspicion.undeclared else "clean"
    found = met(connection, sorted(numbers), _ADDS[suspicion.reach], ends_at)
    order = _ADDS[suspicion.reach]
    nearest = sorted(found, key=lambda one: order.index(one.kind), reverse=True)
    return {**{number: ("piece", "") for number in pieces}, **{one.number: _where(one) for one in nearest}}


def _where(one: Met) -> tuple[str, str]:
    return one.kind, one.thing


def _pieces_behind(connection: Connection, seeds: Collection[int]) -> set[int]:
    givers = {giver for giver, _, _ in flows.links_back(connection, seeds)}
    return {number for number, row in read.shown(connection, givers).items() if row.kind == "piece"}


def _ways(
    seeds: Sequence[int],
    beside: Mapping[int, tuple[str, str]],
    affected: Mapping[int, ShownRow],
    links: Sequence[Link],
) -> dict[int, dict[str, Any]]:
    """Return for each lot the way it is reached: by mass where there is one, else by what lay beside."""
    came_in = {number: row.came_in for number, row in affected.items()}
    own = set(seeds)
    made = {receiver for giver, receiver, _ in links if giver in own}
    roots = {number: came_in[number] for number in seeds if number in affected and number not in made}
    by_mass = forward(roots, links, came_in)
    ways = {number: _mass_json(*one) for number, one in by_mass.items() if number in affected}
    if not beside:
        return ways
    outer = {number: came_in[number] for number in beside if number in affected and number not in ways}
    for number, one in forward(outer, links, came_in).items():
        ways.setdefault(number, {"by": "", "via": "", "steps": one.steps, "shared_grams": None, "share_percent": None})
    for number, (kind, thing) in _spread(beside, links).items():
        if number in ways and not ways[number]["by"]:
            ways[number] |= {"by": kind, "via": thing}
    return ways


def _mass_json(steps: int, milligrams: int, hundredths: int) -> dict[str, Any]:
    shared = {"shared_grams": grams_text(milligrams), "share_percent": hundredths_text(hundredths)}
    return {"by": "mass", "via": "", "steps": steps, **shared}


def _spread(beside: Mapping[int, tuple[str, str]], links: Sequence[Link]) -> dict[int, tuple[str, str]]:
    """Let what was made of a lot be reached by the same thing as the lot itself."""
    reached = dict(beside)
    following: dict[int, list[int]] = {}
    for giver, receiver, _ in links:
        following.setdefault(giver, []).append(receiver)
    waiting = list(beside)
    while waiting:
        giver = waiting.pop()
        for receiver in following.get(giver, ()):
            if receiver not in reached:
                reached[receiver] = reached[giver]
                waiting.append(receiver)
    return reached


def _start(connection: Connection, affected: Mapping[int, ShownRow], links: Sequence[Link]) -> list[str]:
    """Return the codes that all the rest was made of: what a case is opened with."""
    made = {receiver for _, receiver, _ in links}
    return in_few_codes(connection, [row for number, row in affected.items() if number not in made])


def in_few_codes(connection: Connection, rows: Sequence[LotRow] | Sequence[ShownRow]) -> list[str]:
    """Return the codes of lots, a pack lot in the place of all its packs."""
    packs = Counter(row.code.partition("/")[0] for row in rows if row.kind == "pack")
    whole = {code for code, count in packs.items() if read.find(connection, code).state.units == count}
    parents = ((row.code, row.code.partition("/")[0]) for row in rows)
    return list(dict.fromkeys(parent if parent in whole else code for code, parent in parents))
