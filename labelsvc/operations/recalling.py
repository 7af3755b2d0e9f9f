"""Recall search: from a suspicion to every lot made with it, where each gram is, and who must be told."""

from __future__ import annotations

import datetime as dt
import time
from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from labelsvc.errors import InputError
from labelsvc.ledger import read
from labelsvc.ledger.asof import AsOf
from labelsvc.ledger.database import Connection, Ledger
from labelsvc.ledger.meetings import met
from labelsvc.ledger.read import END_OF_TIME, LotRow
from labelsvc.operations.holders import customers_of, others_of
from labelsvc.operations.recording import zone_of
from labelsvc.operations.tracing import balance_json, lot_json
from labelsvc.operations.undeclared import packs_not_declaring
from labelsvc.operations.when import bounds

Reach = Literal["mass", "tub", "slicer", "room"]
# What a reach adds to the lots of the same mass. Each holds all of the one before it, so that a wider search never loses a lot.
_ADDS: dict[str, tuple[str, ...]] = {
    "mass": (),
    "tub": ("tub",),
    "slicer": ("tub", "slicer", "machine", "session"),
    "room": ("tub", "slicer", "machine", "session", "room"),
}


@dataclass(frozen=True)
class Suspicion:
    """What a recall search starts from; at least one of the first six.

    Args:
        lots: codes, markers or numbers of lots.
        supplier: name of a supplier.
        ingredient: name of an ingredient.
        first: first day.
        last: last day, inclusive.
        place: a room, tub or session.
        undeclared: an allergen that went in although the label did not say so.
        reach: how far the search goes beyond the same mass.
    """

    lots: tuple[str, ...] = ()
    supplier: str | None = None
    ingredient: str | None = None
    first: dt.date | None = None
    last: dt.date | None = None
    place: str | None = None
    undeclared: str | None = None
    reach: Reach = "mass"

    def __post_init__(self) -> None:
        if not any((self.lots, self.supplier, self.ingredient, self.first, self.last, self.place, self.undeclared)):
            raise InputError("recall", "a lot, supplier, ingredient, place, allergen or dates to start from", "nothing")
        if self.first and self.last and self.last < self.first:
            raise InputError("to", f"a day not before {self.first}", str(self.last))


def recall(ledger: Ledger, suspicion: Suspicion) -> dict[str, Any]:
    """Return the contract's answer to a recall search; nothing found is an answer too.

    Args:
        ledger: where.
        suspicion: what it starts from and how far it reaches.
    """
    began = time.perf_counter()
    with ledger.reading() as connection:
        seeds = _seeds(connection, suspicion)
        affected = _affected(connection, seeds, suspicion)
        return {
            "affected": [lot_json(row) for row in affected.values()],
            "start": _start(connection, affected),
            "customers": customers_of(connection, affected),
            "told_otherwise": others_of(connection, affected),
            "balance": balance_json(connection, affected),
            "notes": _notes(connection, suspicion),
            "took_ms": round((time.perf_counter() - began) * 1000),
        }


def _seeds(connection: Connection, suspicion: Suspicion) -> list[int]:
    """Return the lots that every part of the suspicion names."""
    parts: list[list[int]] = []
    if suspicion.lots:
        found = [read.find(connection, text, "lot") for text in suspicion.lots]
        parts.append([unit.number for lot in found for unit in read.units_of(connection, lot)])
    if suspicion.undeclared is not None:
        parts.append(packs_not_declaring(connection, suspicion.undeclared))
    if any((suspicion.supplier, suspicion.ingredient, suspicion.first, suspicion.last, suspicion.place)):
        begins, ends = _instants(connection, suspicion)
        named = {"supplier": suspicion.supplier, "ingredient": suspicion.ingredient, "place": suspicion.place}
        parts.append(read.matching(connection, **named, begins=begins, ends=ends))
    return [number for number in parts[0] if all(number in part for part in parts[1:])]


def _notes(connection: Connection, suspicion: Suspicion) -> list[str]:
    """Say where nothing found may be a slip of the pen, or a search that asks for too much at once."""
    lookup = AsOf(connection, END_OF_TIME)
    named = (("supplier", suspicion.supplier), ("ingredient", suspicion.ingredient))
    notes = [
        f"No {kind} of the name {name} is recorded: check the spelling."
        for kind, name in named
        if name and not lookup.card(kind, name)
    ]
    if suspicion.place and not read.matching(connection, place=suspicion.place):
        notes.append(f"Nothing was ever at {suspicion.place}: check the spelling.")
    others = suspicion.supplier or suspicion.ingredient or suspicion.place or suspicion.first or suspicion.last
    if sum(map(bool, (suspicion.lots, suspicion.undeclared, others))) > 1:
        notes.append("Only lots that fit every part of the search are its start: leave a part out to search wider.")
    return notes


def _instants(connection: Connection, suspicion: Suspicion) -> tuple[str | None, str | None]:
    zone = zone_of(connection)
    begins = bounds(suspicion.first, zone)[0] if suspicion.first else None
    return begins, bounds(suspicion.last, zone)[1] if suspicion.last else None


def _affected(connection: Connection, seeds: Sequence[int], suspicion: Suspicion) -> dict[int, LotRow]:
    """Return the lots that a search reaches: by mass, and for a wider reach what lay beside them.

    Where a pack is suspected, the tub and the slicer are those of the pieces it was made of: these belong to a wider reach,
    with everything else that was made of them.
    """
    numbers = _downstream(connection, seeds)
    if numbers and _ADDS[suspicion.reach]:
        numbers = _downstream(connection, numbers | _pieces_behind(connection, seeds))
        ends_at = "allergen-clean" if suspicion.undeclared else "clean"
        beside = {one.number for one in met(connection, sorted(numbers), _ADDS[suspicion.reach], ends_at)}
        numbers |= _downstream(connection, beside)
    return {row.number: row for row in read.lots_of(connection, sorted(numbers)) if not row.state.units}


def _downstream(connection: Connection, seeds: Collection[int]) -> set[int]:
    return set(seeds).union(link.receiver for link in read.links_forward(connection, sorted(seeds))) if seeds else set()


def _pieces_behind(connection: Connection, seeds: Collection[int]) -> set[int]:
    givers = {link.giver for link in read.links_back(connection, seeds)}
    return {row.number for row in read.lots_of(connection, givers) if row.state.kind == "piece"} if givers else set()


def _start(connection: Connection, affected: Mapping[int, LotRow]) -> list[str]:
    """Return the codes that all the rest was made of: what a case is opened with."""
    made = {link.receiver for link in read.links_forward(connection, list(affected))} if affected else set()
    return in_few_codes(connection, [row for number, row in affected.items() if number not in made])


def in_few_codes(connection: Connection, rows: Sequence[LotRow]) -> list[str]:
    """Return the codes of lots, a pack lot in the place of all its packs."""
    packs = Counter(row.state.parent for row in rows if row.state.kind == "pack")
    parents = {code: read.find(connection, code) for code in packs if code}
    whole = {code for code, lot in parents.items() if lot.state.units == packs[code]}
    return list(dict.fromkeys(row.state.parent if row.state.parent in whole else row.code for row in rows))
