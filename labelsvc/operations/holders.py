"""Who has something of a set of lots, and how to reach them: customers, gifts, the own table, tastings."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import Any

from labelsvc import facts
from labelsvc.ledger import read
from labelsvc.ledger.asof import AsOf
from labelsvc.ledger.database import Connection
from labelsvc.ledger.read import END_OF_TIME, LotRow
from labelsvc.shape import Text
from labelsvc.units import grams_text


def customers_of(connection: Connection, out: Sequence[Any]) -> list[dict[str, Any]]:
    """Return the customers who still have something: name, address, contact, packs, lots, grams, dates, documents.

    Args:
        connection: where.
        out: the rows of ``still_out``.
    """
    found: dict[str, dict[str, Any]] = {}
    for row in out:
        if row.kind == "customer":
            _add(found.setdefault(row.name, _nothing()), row)
    return [_customer(connection, name, entry) for name, entry in found.items()]


def others_of(out: Sequence[Any]) -> list[dict[str, Any]]:
    """Return gifts, own use and tastings, where nobody bought it and somebody ate it: how, name, packs, grams, dates.

    Args:
        out: the rows of ``still_out``.
    """
    found: dict[tuple[str, str], dict[str, Any]] = {}
    for row in out:
        if row.kind == "customer":
            continue
        _add(found.setdefault((row.kind, row.name), _nothing()), row)
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


def reached_by(connection: Connection, name: str) -> dict[str, str | None]:
    """Return address and contact of a customer, both unknown for anyone without a card."""
    card = AsOf(connection, END_OF_TIME).card("customer", name)
    known = card if isinstance(card, facts.Customer) else facts.Customer(name=Text(name), business=False)
    return {"name": known.name, "address": known.address, "contact": known.contact}


def _customer(connection: Connection, name: str, entry: dict[str, Any]) -> dict[str, Any]:
    return {
        **reached_by(connection, name),
        "packs": entry["packs"],
        "lots": sorted(set(entry["lots"])),
        "grams": grams_text(entry["milligrams"]),
        "dates": sorted(set(entry["dates"])),
        "documents": sorted(set(entry["documents"])),
    }


def _nothing() -> dict[str, Any]:
    return {"lots": [], "packs": [], "milligrams": 0, "dates": [], "documents": []}


def _add(entry: dict[str, Any], row: Any) -> None:
    entry["packs"].append(row.account)
    entry["lots"].append(row.account.partition("/")[0])
    entry["milligrams"] += row.milligrams
    entry["dates"].append(row.day)
    document = json.loads(row.body).get("document")
    entry["documents"] += [document] if document else []


def still_out(connection: Connection, affected: Mapping[int, LotRow]) -> list[Any]:
    """Return the last handing-over of each lot that did not come back; partial ones (samples, own use) all count."""
    rows = read.handed_over(connection, list(affected))
    came_back = {(row.lot, row.name) for row in rows if row.milligrams < 0}
    gone = {(row.lot, row.name): row for row in rows if row.milligrams > 0 and row.kind in ("customer", "gift")}
    whole = [row for key, row in gone.items() if key not in came_back or affected[row.lot].state.holder == row.name]
    return whole + [row for row in rows if row.milligrams > 0 and row.kind not in ("customer", "gift")]
