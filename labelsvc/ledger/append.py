"""Appends a fact to the sealed chain, and gives out lot codes. Nothing here ever changes a fact."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

import msgspec
from sqlalchemy import Connection, Row, insert, select
from sqlalchemy.dialects.postgresql import insert as postgresql_insert
from sqlalchemy.dialects.sqlite import insert as sqlite_insert

from labelsvc.codes.lot_code import LotCode, numbered
from labelsvc.ledger.tables import counters, effective, facts

VERSION = 1  # of the shapes in ``facts``; every version ever written stays readable
GENESIS = "0" * 64
_SEALED = tuple(column.name for column in facts.columns if column.name != "hash")  # as they stand in the table, the hash last


@dataclass(frozen=True)
class NewFact:
    """A fact about to be sealed.

    Args:
        kind: one of ``facts.KINDS``.
        happened_at: the instant it happened, UTC, fixed width.
        recorded_at: the instant it is recorded.
        recorded_by: who says so.
        given: the JSON object as the person gave it.
        codes: the lot codes it gives out.
        read_as: markers and other numbers in it, and the codes they led to.
        confirmed: the questions that were answered with yes.
        day: the day it happened in the workshop's time zone.
        stands: for a correction, instant and day of the fact as it stands now.
    """

    kind: str
    happened_at: str
    recorded_at: str
    recorded_by: str
    given: Mapping[str, Any]
    day: dt.date
    codes: Sequence[str] = ()
    read_as: Mapping[str, str] | None = None
    confirmed: Sequence[str] = ()
    stands: Mapping[str, str] | None = None

    def body(self) -> str:
        """Return what was given and what was settled with it, as canonical JSON."""
        settled = {
            "codes": list(self.codes),
            "read_as": dict(self.read_as or {}),
            "confirmed": list(self.confirmed),
            "stands": dict(self.stands or {}),
        }
        present = {key: value for key, value in settled.items() if value}
        return canonical({"given": self.given, "day": self.day.isoformat(), **present})


class Next(NamedTuple):
    """What the next fact follows: its number, the hash before it, and the instant of whatever happened last, or empty text."""

    seq: int
    previous_hash: str
    last_happened: str


def next_in_chain(connection: Connection) -> Next:
    """Return what the next fact follows."""
    newest = select(effective.c.at).order_by(effective.c.at.desc()).limit(1).scalar_subquery()
    head = connection.execute(select(facts.c.seq, facts.c.hash, newest.label("at")).order_by(facts.c.seq.desc()).limit(1)).first()
    return Next(1, GENESIS, "") if head is None else Next(head.seq + 1, head.hash, head.at or "")


def last_recorded(connection: Connection) -> str | None:
    """Return the instant at which the last fact was recorded, or None."""
    last = connection.execute(select(facts.c.recorded_at).order_by(facts.c.seq.desc()).limit(1)).scalar()
    return None if last is None else str(last)


def append(connection: Connection, fact: NewFact, seq: int, previous_hash: str) -> None:
    """Seal a fact to the end of the chain.

    Args:
        connection: the writer's connection.
        fact: the fact.
        seq: its number, from ``next_in_chain`` in the same transaction.
        previous_hash: the hash it follows.
    """
    row = {
        "seq": seq,
        "kind": fact.kind,
        "version": VERSION,
        "happened_at": fact.happened_at,
        "recorded_at": fact.recorded_at,
        "recorded_by": fact.recorded_by,
        "body": fact.body(),
        "previous_hash": previous_hash,
    }
    connection.execute(insert(facts).values(**row, hash=seal(**row)))


def seal(**row: Any) -> str:
    """Return the hash over every column of a fact and the hash before it (SHA-256 of canonical JSON)."""
    return _hash([row[name] for name in _SEALED])


def seal_of(row: Row[Any]) -> str:
    """Return the hash a stored fact should have."""
    return _hash(row[: len(_SEALED)])


def _hash(values: Sequence[Any]) -> str:
    """A list of text and whole numbers is canonical as the quicker encoder writes it too: a test holds the two together."""
    return hashlib.sha256(msgspec.json.encode(values)).hexdigest()


def canonical(value: Any) -> str:
    """Return JSON with sorted keys and no spaces: the same value is always the same text (no floats occur)."""
    return json.dumps(value, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False)


def give_out_codes(connection: Connection, kinds: Sequence[str], day: dt.date) -> list[LotCode]:
    """Return new lot codes, one a kind, unique for ever.

    Args:
        connection: the writer's connection; the count is in the same transaction as the fact that uses the codes.
        kinds: kinds of lots in order.
        day: the day they are given out.
    """
    if not kinds:
        return []
    upsert = sqlite_insert if connection.dialect.name == "sqlite" else postgresql_insert
    statement = upsert(counters).values(day=day.isoformat(), last=len(kinds))
    raised = statement.on_conflict_do_update(index_elements=[counters.c.day], set_={"last": counters.c.last + len(kinds)})
    last = connection.execute(raised.returning(counters.c.last)).scalar_one()
    return [numbered(kind, day, last - len(kinds) + place) for place, kind in enumerate(kinds, start=1)]
