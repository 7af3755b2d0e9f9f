"""Everything out in open formats: rows for CSV, objects for JSON lines."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

from labelsvc.ledger import read
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
        what: ``postings`` and ``contacts`` (the effective ones), ``sales``, or ``facts`` as they were sealed.
    """
    with ledger.reading() as connection:
        if what == "postings":
            yield from (tuple(row) for row in read.postings_in_order(connection))
        elif what == "contacts":
            yield from (tuple(row) for row in read.contacts_in_order(connection))
        elif what == "facts":
            for row in read.facts_in_order(connection):
                yield {**row._mapping, "body": json.loads(row.body)}
        else:
            for row in read.handed_over(connection, None):
                yield _sale(row)


def _sale(row: Any) -> tuple[Any, ...]:
    how = row.kind if row.milligrams > 0 else "return"
    document = json.loads(row.body).get("document") or ""
    grams = grams_text(abs(row.milligrams))
    return row.day, row.account, how, _plain_cell(row.name), grams, _plain_cell(document), row.fact


def _plain_cell(text: str) -> str:
    """Keep a spreadsheet from taking text for a formula."""
    return f"'{text}" if text[:1] in ("=", "+", "-", "@", "\t", "\r") else text
