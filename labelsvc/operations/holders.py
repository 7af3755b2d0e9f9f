"""Who has something of a set of lots, and how to reach them: customers, gifts, the own table, tastings."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import Any

import msgspec

from labelsvc.ledger import flows, read
from labelsvc.ledger.database import Connection
from labelsvc.ledger.derive.bench import card_key
from labelsvc.ledger.read import LotRow, SeenRow
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
    known = reach_of(connection, found)
    return [_customer(known[name], entry) for name, entry in found.items()]


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
    """Return name, address and contact of a customer, the last two unknown for anyone without a card."""
    return reach_of(connection, [name])[name]


def reach_of(connection: Connection, names: Collection[str]) -> dict[str, dict[str, str | None]]:
    """Return name, address and contact of customers, by their names; unknown for anyone without a card."""
    cards = read.cards_named(connection, "customer", names)
    return {name: _reach(name, cards.get(card_key(name), {})) for name in names}


def _reach(name: str, card: Mapping[str, Any]) -> dict[str, str | None]:
    return {"name": card.get("name", name), "address": card.get("address"), "contact": card.get("contact")}


def _customer(known: Mapping[str, str | None], entry: dict[str, Any]) -> dict[str, Any]:
    return {
        **known,
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
    document = document_of(row.body)
    entry["documents"] += [document] if document else []


class _Named(msgspec.Struct):  # of a long body nothing else is read; nor kept, for it may name a person
    document: str | None = None


def document_of(body: str) -> str | None:
    """Return the document that a handing-over names."""
    return msgspec.json.decode(body, type=_Named).document


def still_out(connection: Connection, affected: Mapping[int, LotRow] | Mapping[int, SeenRow]) -> list[Any]:
    """Return the last handing-over of each lot that did not come back; partial ones (samples, own use) all count."""
    rows = flows.handed_over(connection, list(affected))
    came_back = {(row.lot, row.name) for row in rows if row.milligrams < 0}
    gone = {(row.lot, row.name): row for row in rows if row.milligrams > 0 and row.kind in ("customer", "gift")}
    whole = [row for key, row in gone.items() if key not in came_back or affected[row.lot].state.holder == row.name]
    return whole + [row for row in rows if row.milligrams > 0 and row.kind not in ("customer", "gift")]
