"""Recall search: from a suspicion to every lot made with it, where each gram is, and who must be told."""

from __future__ import annotations

import datetime as dt
import json
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from labelsvc import facts
from labelsvc.errors import InputError
from labelsvc.ledger import read
from labelsvc.ledger.asof import AsOf
from labelsvc.ledger.database import Connection, Ledger
from labelsvc.ledger.read import END_OF_TIME, LotRow
from labelsvc.operations.recording import zone_of
from labelsvc.operations.tracing import balance_json, lot_json
from labelsvc.operations.undeclared import packs_not_declaring
from labelsvc.operations.when import bounds
from labelsvc.shape import Text
from labelsvc.units import grams_text

Reach = Literal["mass", "tub", "slicer", "room"]
# What a reach adds to the lots of the same mass: what was in the same tub, at the same slicer or session, in the same room.
_ADDS: dict[str, tuple[str, ...]] = {"mass": (), "tub": ("tub",), "slicer": ("slicer", "machine", "session"), "room": ("room",)}


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
        affected = _affected(connection, seeds, suspicion.reach)
        return {
            "affected": [lot_json(row) for row in affected.values()],
            "customers": _customers(connection, affected),
            "told_otherwise": _told_otherwise(connection, affected),
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


def _affected(connection: Connection, seeds: Sequence[int], reach: Reach) -> dict[int, LotRow]:
    numbers = set(seeds) | {link.receiver for link in read.links_forward(connection, seeds)} if seeds else set()
    if numbers and _ADDS[reach]:
        beside = {one.number for one in read.met(connection, sorted(numbers), _ADDS[reach])}
        numbers |= beside | {link.receiver for link in read.links_forward(connection, sorted(beside))}
    return {row.number: row for row in read.lots_of(connection, sorted(numbers)) if not row.state.units}


def _customers(connection: Connection, affected: Mapping[int, LotRow]) -> list[dict[str, Any]]:
    """Return the customers who still have something of it, with how to reach them."""
    found: dict[str, dict[str, Any]] = {}
    for row in _still_out(connection, affected, ("customer",)):
        entry = found.setdefault(row.name, {"lots": [], "packs": [], "milligrams": 0, "dates": [], "documents": []})
        _add(entry, row)
    return [_customer(connection, name, entry) for name, entry in found.items()]


def _customer(connection: Connection, name: str, entry: dict[str, Any]) -> dict[str, Any]:
    card = AsOf(connection, END_OF_TIME).card("customer", name)
    known = card if isinstance(card, facts.Customer) else facts.Customer(name=Text(name), business=False)
    return {
        "name": known.name,
        "address": known.address,
        "contact": known.contact,
        "packs": entry["packs"],
        "lots": sorted(set(entry["lots"])),
        "grams": grams_text(entry["milligrams"]),
        "dates": sorted(set(entry["dates"])),
        "documents": sorted(set(entry["documents"])),
    }


def _told_otherwise(connection: Connection, affected: Mapping[int, LotRow]) -> list[dict[str, Any]]:
    """Return gifts, own use and tastings: nobody bought it, and somebody ate it."""
    found: dict[tuple[str, str], dict[str, Any]] = {}
    for row in _still_out(connection, affected, ("gift", "own use", "sample")):
        entry = found.setdefault((row.kind, row.name), {"lots": [], "packs": [], "milligrams": 0, "dates": [], "documents": []})
        _add(entry, row)
    return [
        {
            "how": how,
            "name": name,
            "packs": entry["packs"],
            "grams": grams_text(entry["milligrams"]),
            "dates": sorted(set(entry["dates"])),
        }
        for (how, name), entry in found.items()
    ]


def _add(entry: dict[str, Any], row: Any) -> None:
    entry["packs"].append(row.account)
    entry["lots"].append(row.account.partition("/")[0])
    entry["milligrams"] += row.milligrams
    entry["dates"].append(row.day)
    document = json.loads(row.body).get("document")
    entry["documents"] += [document] if document else []


def _still_out(connection: Connection, affected: Mapping[int, LotRow], kinds: tuple[str, ...]) -> list[Any]:
    """Return the last handing-over of each lot that did not come back; partial ones (samples, own use) all count."""
    rows = [row for row in read.handed_over(connection, list(affected)) if row.kind in kinds]
    came_back = {(row.lot, row.name) for row in rows if row.milligrams < 0}
    gone = {(row.lot, row.name): row for row in rows if row.milligrams > 0 and row.kind in ("customer", "gift")}
    whole = [row for key, row in gone.items() if key not in came_back or affected[row.lot].state.holder == row.name]
    return whole + [row for row in rows if row.milligrams > 0 and row.kind not in ("customer", "gift")]
