"""Who has something of a set of lots, and how to reach them: customers, gifts, the own table, tastings."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from typing import Any

from labelsvc.ledger import flows, read
from labelsvc.ledger.database import Connection
from labelsvc.ledger.derive.bench import card_key
from labelsvc.units import grams_text


def customers_of(connection: Connection, out: Sequence[Any]) -> list[dict[str, Any]]:
    """Return the customers who still have something: name, address, contact, packs, lots, grams, dates, documents.

    Args:
        connection: where.
        out: the rows of ``still_out``.
    """
    found = _by_holder(row for row in out if row.kind == "customer")
    known = reach_of(connection, {name for _, name in found})
    return [
        {
            **known[name],
            "packs": packs,
            "lots": sorted({pack.partition("/")[0] for pack in packs}),
            "grams": grams_text(sum(milligrams)),
            "dates": sorted(set(days)),
            "documents": sorted(set(filter(None, documents))),
        }
        for (_, name), (packs, milligrams, days, documents) in found.items()
    ]


def others_of(out: Sequence[Any]) -> list[dict[str, Any]]:
    """Return gifts, own use and tastings, where nobody bought it and somebody ate it: how, name, packs, grams, dates.

    Args:
        out: the rows of ``still_out``.
    """
    found = _by_holder(row for row in out if row.kind != "customer")
    return [
        {"how": how, "name": name, "packs": packs, "grams": grams_text(sum(milligrams)), "dates": sorted(set(days))}
        for (how, name), (packs, milligrams, days, _) in found.items()
    ]


def customers_short(connection: Connection, takers: Sequence[Any]) -> list[dict[str, Any]]:
    """Return the customers of a wide search: name, address, contact, number of packs, grams, first and last day.

    Args:
        connection: where.
        takers: rows as of ``flows.takers_of``.
    """
    known = reach_of(connection, {row.name for row in takers})
    return [{**known[row.name], **_in_short(row)} for row in takers]


def others_short(takers: Sequence[Any]) -> list[dict[str, Any]]:
    """Return gifts, own use and tastings of a wide search: how, name, number of packs, grams, first and last day.

    Args:
        takers: rows as of ``flows.takers_of``.
    """
    return [{"how": row.kind, "name": row.name, **_in_short(row)} for row in takers]


def _in_short(row: Any) -> dict[str, Any]:
    _, _, packs, milligrams, first, last = row
    return {"packs": packs, "grams": grams_text(milligrams), "first": first, "last": last}


def _by_holder(out: Iterable[Any]) -> dict[tuple[str, str], tuple[list[str], list[int], list[str], list[str | None]]]:
    """Return by kind and name of the end what it has: codes, milligrams, days and documents, one a handing-over."""
    found: dict[tuple[str, str], tuple[list[str], list[int], list[str], list[str | None]]] = {}
    for _, code, kind, name, amount, day, document, _ in out:
        packs, milligrams, days, documents = found.setdefault((kind, name), ([], [], [], []))
        packs.append(code)
        milligrams.append(amount)
        days.append(day)
        documents.append(document)
    return found


def reached_by(connection: Connection, name: str) -> dict[str, str | None]:
    """Return name, address and contact of a customer, the last two unknown for anyone without a card."""
    return reach_of(connection, [name])[name]


def reach_of(connection: Connection, names: Collection[str]) -> dict[str, dict[str, str | None]]:
    """Return name, address and contact of customers, by their names; unknown for anyone without a card."""
    cards = read.cards_named(connection, "customer", names)
    return {name: _reach(name, cards.get(card_key(name), {})) for name in names}


def _reach(name: str, card: Mapping[str, Any]) -> dict[str, str | None]:
    return {"name": card.get("name", name), "address": card.get("address"), "contact": card.get("contact")}


def still_out(connection: Connection, numbers: Collection[int]) -> Sequence[Any]:
    """Return the last handing-over of each of some lots that did not come back; partial ones (samples, own use) all count."""
    rows = flows.handed_over_of(connection, numbers)
    came_back = {row.lot for row in rows if row.milligrams < 0}
    if not came_back:
        return rows
    last: dict[int, Any] = {}  # the last to have a lot, None once it is back
    for row in rows:
        if row.lot in came_back and row.kind in ("customer", "gift"):
            last[row.lot] = row if row.milligrams > 0 else None
    return [row for row in rows if row.lot not in last or last[row.lot] is row or row.kind not in ("customer", "gift")]
