"""Verifies all that was derived: derives it anew in a database of its own and compares line by line."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import zip_longest
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from sqlalchemy import Connection, Select, select

from labelsvc.errors import LedgerIntegrityError
from labelsvc.ledger.archive import fact_lines, load
from labelsvc.ledger.database import open_ledger
from labelsvc.ledger.tables import aliases, contacts, counters, effective, handed_over, links, lots, postings, timeline

_GIVER, _RECEIVER = lots.alias("giver"), lots.alias("receiver")
# What each projection says, with lots by their codes, in an order that does not depend on how the rows came in.
_SAID: dict[str, tuple[Select[Any], tuple[str, ...]]] = {
    "effective": (select(effective), ("fact",)),
    "timeline": (
        select(timeline.c.fact, timeline.c.subject, timeline.c.at, timeline.c.state),
        ("fact", "subject", "at"),
    ),
    "postings": (
        select(postings.c.fact, postings.c.flow, postings.c.account, postings.c.kind, postings.c.milligrams,
               postings.c.alone_with, lots.c.code)
        .join(lots, lots.c.id == postings.c.lot, isouter=True),
        ("fact", "flow", "account", "kind", "milligrams"),
    ),
    "links": (
        select(links.c.fact, _GIVER.c.code.label("giver"), _RECEIVER.c.code.label("receiver"), links.c.milligrams)
        .join(_GIVER, _GIVER.c.id == links.c.giver)
        .join(_RECEIVER, _RECEIVER.c.id == links.c.receiver),
        ("fact", "giver", "receiver", "milligrams"),
    ),
    "handed_over": (
        select(*(column for column in handed_over.columns if column.name not in ("id", "lot")), lots.c.code)
        .join(lots, lots.c.id == handed_over.c.lot),
        ("fact", "account", "kind", "name", "milligrams"),
    ),
    "lots": (select(*(column for column in lots.columns if column.name != "id")), ("code",)),
    "contacts": (
        select(lots.c.code, contacts.c.kind, contacts.c.thing, contacts.c.begins, contacts.c.ends)
        .join(contacts, contacts.c.lot == lots.c.id),
        ("code", "kind", "thing", "begins"),
    ),
    "aliases": (select(lots.c.code, aliases.c.alias).join(aliases, aliases.c.lot == lots.c.id), ("code", "alias")),
}  # fmt: skip


def verify_deep(connection: Connection) -> None:
    """Compare every projection with what the facts give when all of them are derived anew.

    Args:
        connection: reads one moment of the ledger; its chain was verified before.

    Raises:
        LedgerIntegrityError: names the first difference.
    """
    with TemporaryDirectory(prefix="labelsvc-verify-") as folder:
        anew = open_ledger(str(Path(folder) / "anew.db"))
        try:
            with anew.writing() as writing:
                load(writing, fact_lines(connection))
            with anew.reading() as fresh:
                for name, (said, order) in _SAID.items():
                    _compare(name, order, _rows(connection, said, order), _rows(fresh, said, order))
                _compare_counters(connection, fresh)
        finally:
            anew.close()


def _rows(connection: Connection, said: Select[Any], order: tuple[str, ...]) -> Iterator[dict[str, Any]]:
    ordered = said.order_by(*(said.selected_columns[name] for name in order))
    with connection.execute(ordered, execution_options={"yield_per": 2000}) as rows:
        for row in rows:
            yield dict(row._mapping)


def _compare(name: str, order: tuple[str, ...], there: Iterator[dict[str, Any]], fresh: Iterator[dict[str, Any]]) -> None:
    for stands, should in zip_longest(there, fresh):
        if stands == should:
            continue
        key, other = (tuple(row[one] for one in order[:2]) if row else None for row in (should, stands))
        if key != other:
            is_missing = other is None or (key is not None and key < other)
            found = "is missing" if is_missing else "follows from no fact"
            raise LedgerIntegrityError(f"{name} of {_named(order, should if is_missing else stands)} {found}: run rebuild")
        assert stands is not None
        assert should is not None
        field = next(key for key in should if stands[key] != should[key])
        raise LedgerIntegrityError(
            f"{name} of {_named(order, should)}: expected {field} {_short(should[field])}, got {_short(stands[field])}: "
            "it was changed by hand; run rebuild"
        )


def _compare_counters(connection: Connection, fresh: Connection) -> None:
    """A day's count may be ahead of the codes in the facts, but never behind: a code would be given out twice."""
    there = dict(connection.execute(select(counters.c.day, counters.c.last)).all())
    for day, last in fresh.execute(select(counters.c.day, counters.c.last).order_by(counters.c.day)):
        if there.get(day, 0) < last:
            raise LedgerIntegrityError(f"codes of {day}: expected a count of {last} or more, got {there.get(day, 0)}")


def _named(order: tuple[str, ...], row: dict[str, Any] | None) -> str:
    return ", ".join(f"{name} {row[name]}" for name in order[:2]) if row else ""


def _short(value: Any) -> str:
    text = str(value)
    return text if len(text) <= 80 else f"{text[:77]}..."
