"""Everything out in open formats: rows for CSV, objects for JSON lines."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from decimal import Decimal
from typing import Any

from labelsvc.exchange.spreadsheet import Sheet
from labelsvc.ledger import flows, journal
from labelsvc.ledger.archive import fact_lines
from labelsvc.ledger.database import Ledger
from labelsvc.units import grams_text

HEADERS = {
    "postings": ("fact", "flow", "at", "account", "kind", "milligrams"),
    "contacts": ("lot", "thing", "kind", "from", "to"),
    "sales": ("date", "code", "how", "name", "grams", "document", "fact"),
}


def rows_of(ledger: Ledger, what: str) -> Iterator[Any]:
    """Yield the rows of an export.

    Args:
        ledger: where.
        what: ``postings`` and ``contacts`` (the effective ones), ``sales``, or ``facts`` as they were sealed, with what is
            personal in them beside.
    """
    with ledger.reading() as connection:
        if what == "postings":
            yield from (tuple(row) for row in journal.postings_in_order(connection))
        elif what == "contacts":
            yield from (tuple(row) for row in journal.contacts_in_order(connection))
        elif what == "facts":
            yield from (json.loads(line) for line in fact_lines(connection))
        else:
            for row in flows.every_handing_over(connection):
                yield _sale(row)


def _sale(row: Any) -> tuple[Any, ...]:
    how = row.kind if row.milligrams > 0 else "return"
    grams = grams_text(abs(row.milligrams))
    return row.day, row.account, how, row.name, grams, row.document or "", row.fact


def plain_cells(row: Sequence[Any]) -> list[Any]:
    """Return a row for CSV, with a quote before text that a spreadsheet would take for a formula; numbers stay numbers."""
    return [f"'{cell}" if isinstance(cell, str) and cell[:1] in _FORMULA else cell for cell in row]


def sheets_of(ledger: Ledger) -> Iterator[Sheet]:
    """Yield everything as tables: facts, postings, contacts, sales and the lots as they stand now."""
    yield "facts", _FACT, _facts(ledger)
    for what, header in HEADERS.items():
        rows = rows_of(ledger, what)
        yield what, header, (_with_number(row) for row in rows) if what == "sales" else rows
    yield "lots", _LOT, _lots(ledger)


def _with_number(sale: tuple[Any, ...]) -> tuple[Any, ...]:
    """A sale with its grams as a number, so that a column of them can be sorted and added up."""
    place = HEADERS["sales"].index("grams")
    return (*sale[:place], Decimal(sale[place]), *sale[place + 1 :])


_FACT = ("seq", "kind", "happened_at", "recorded_at", "recorded_by", "body", "hash")
_LOT = ("code", "kind", "name", "state", "place", "milligrams", "made_milligrams", "supplier", "product", "best_before")
_FORMULA = ("=", "+", "-", "@", "\t", "\r")


def _facts(ledger: Ledger) -> Iterator[tuple[Any, ...]]:
    with ledger.reading() as connection:
        for row in journal.facts_in_order(connection):
            yield tuple(getattr(row, name) for name in _FACT)


def _lots(ledger: Ledger) -> Iterator[tuple[Any, ...]]:
    with ledger.reading() as connection:
        for row in journal.every_lot(connection):
            lot = row.state
            best = lot.best_before.isoformat() if lot.best_before else ""
            held = (lot.code, lot.kind, lot.name, lot.whereabouts, lot.holder or lot.place or lot.tub or "", lot.milligrams)
            yield (*held, lot.made_milligrams, lot.supplier or "", lot.product or "", best)
