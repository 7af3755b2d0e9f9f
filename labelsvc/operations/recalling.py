"""Recall search: from a suspicion to every lot made with it, by which way each is reached, where each gram is, whom to tell."""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from typing import Any

from labelsvc.ledger import flows, read
from labelsvc.ledger.database import Connection, Ledger
from labelsvc.ledger.meetings import Met, met
from labelsvc.ledger.read import LotRow, SeenRow
from labelsvc.operations.holders import customers_of, others_of, still_out
from labelsvc.operations.searching import Reach, Suspicion, downstream, fitting, notes, parts_of
from labelsvc.operations.tracing import balance_json, lot_json
from labelsvc.trace.walk import Link, Reached, forward
from labelsvc.units import grams_text, plain

__all__ = ["Reach", "Suspicion", "in_few_codes", "recall"]
# What a reach adds to the lots of the same mass. Each holds all of the one before it, so that a wider search never loses a lot.
_ADDS: dict[str, tuple[str, ...]] = {
    "mass": (),
    "tub": ("tub",),
    "slicer": ("tub", "slicer", "machine", "session"),
    "room": ("tub", "slicer", "machine", "session", "room"),
}


def recall(ledger: Ledger, suspicion: Suspicion) -> dict[str, Any]:
    """Return the contract's answer to a recall search; nothing found is an answer too.

    Each affected lot says by which way it is reached: ``by`` mass with steps, shared grams and percent of the lot, or by the
    tub, slicer, machine, session or room where it met one that is, with ``via``, the name of that.

    Args:
        ledger: where.
        suspicion: what it starts from and how far it reaches.
    """
    began = time.perf_counter()
    with ledger.reading() as connection:
        parts = list(parts_of(connection, suspicion))
        seeds = fitting(connection, parts)
        beside = _beside(connection, seeds, suspicion)
        start = {*seeds, *beside}
        links = flows.links_forward(connection, sorted(start)) if start else []
        rows = read.seen(connection, start.union(link.receiver for link in links))
        affected = {number: row for number, row in rows.items() if not row.state.units}
        out = still_out(connection, affected)
        ways = _ways(connection, seeds, beside, affected, links)
        return {
            "affected": [{**lot_json(row), **ways[number]} for number, row in affected.items()],
            "start": _start(connection, affected, links),
            "customers": customers_of(connection, out),
            "told_otherwise": others_of(out),
            "balance": balance_json(connection, affected),
            "notes": notes(connection, suspicion, has_several_parts=len(parts) > 1),
            "took_ms": round((time.perf_counter() - began) * 1000),
        }


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
    givers = {link.giver for link in flows.links_back(connection, seeds)}
    return {number for number, row in read.seen(connection, givers).items() if row.state.kind == "piece"}


def _ways(
    connection: Connection,
    seeds: Sequence[int],
    beside: Mapping[int, tuple[str, str]],
    affected: Mapping[int, SeenRow],
    links: Sequence[Link],
) -> dict[int, dict[str, Any]]:
    """Return for each lot the way it is reached: by mass where there is one, else by what lay beside."""
    if not affected:
        return {}
    came_in = flows.came_in(connection, list(affected))
    own = set(seeds)
    made = {link.receiver for link in links if link.giver in own}
    roots = {number: affected[number].state.made_milligrams for number in seeds if number in affected and number not in made}
    by_mass = forward(roots, links, came_in)
    ways = {number: _mass_json(by_mass[number], came_in.get(number, 0)) for number in affected if number in by_mass}
    outer = {number: affected[number].state.made_milligrams for number in beside if number in affected and number not in ways}
    for number, one in forward(outer, links, came_in).items():
        ways.setdefault(number, {"by": "", "via": "", "steps": one.steps, "shared_grams": None, "share_percent": None})
    for number, (kind, thing) in _spread(beside, links).items():
        if number in ways and not ways[number]["by"]:
            ways[number] |= {"by": kind, "via": thing}
    return ways


def _mass_json(one: Reached, came_in: int) -> dict[str, Any]:
    percent = plain(one.percent_of(came_in)) if came_in else "100"
    return {"by": "mass", "via": "", "steps": one.steps, "shared_grams": grams_text(one.milligrams), "share_percent": percent}


def _spread(beside: Mapping[int, tuple[str, str]], links: Sequence[Link]) -> dict[int, tuple[str, str]]:
    """Let what was made of a lot be reached by the same thing as the lot itself."""
    reached = dict(beside)
    following: dict[int, list[int]] = {}
    for link in links:
        following.setdefault(link.giver, []).append(link.receiver)
    waiting = list(beside)
    while waiting:
        giver = waiting.pop()
        for receiver in following.get(giver, ()):
            if receiver not in reached:
                reached[receiver] = reached[giver]
                waiting.append(receiver)
    return reached


def _start(connection: Connection, affected: Mapping[int, SeenRow], links: Sequence[Link]) -> list[str]:
    """Return the codes that all the rest was made of: what a case is opened with."""
    made = {link.receiver for link in links}
    return in_few_codes(connection, [row for number, row in affected.items() if number not in made])


def in_few_codes(connection: Connection, rows: Sequence[LotRow] | Sequence[SeenRow]) -> list[str]:
    """Return the codes of lots, a pack lot in the place of all its packs."""
    packs = Counter(row.state.parent for row in rows if row.state.kind == "pack")
    parents = {code: read.find(connection, code) for code in packs if code}
    whole = {code for code, lot in parents.items() if lot.state.units == packs[code]}
    return list(dict.fromkeys(row.state.parent if row.state.parent in whole else row.code for row in rows))
