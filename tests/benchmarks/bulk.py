"""Fills a ledger in one go: seals all facts first, then derives everything anew; and one by one, to hold the two together."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from typing import Any

from sqlalchemy import insert

from benchmarks.workshop_years import Said, WorkshopYears
from labelsvc import facts as vocabulary
from labelsvc.codes.lot_code import numbered
from labelsvc.ledger import append, replay
from labelsvc.ledger.database import Connection, Ledger
from labelsvc.ledger.derive.new_lots import new_lots
from labelsvc.ledger.personal import put_apart
from labelsvc.ledger.tables import counters, facts
from labelsvc.operations.recording import record
from labelsvc.operations.when import instant

_ROWS_AT_ONCE = 5000


def record_one_by_one(ledger: Ledger, years: WorkshopYears) -> int:
    """Record every fact as a person would; return how many."""
    return years.play(
        lambda said: (
            record(ledger, said.kind, {**said.fields, "at": said.moment.isoformat()}, now=said.moment, who=said.who).codes
        )
    )


def fill(ledger: Ledger, years: WorkshopYears) -> int:
    """Fill an empty ledger with the same facts in one transaction; return how many."""
    with ledger.writing() as connection:
        sealing = _Sealing(connection)
        count = years.play(sealing.seal)
        sealing.write()
        replay.rebuild(connection)
    with ledger.engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
        connection.exec_driver_sql("ANALYZE")  # as a database that has been at work for years has it
    return count


class _Sealing:
    """Seals facts in the order in which they are said, without deriving anything from them."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection
        self._rows: list[dict[str, Any]] = []
        self._given_out: Counter[dt.date] = Counter()
        self._head = (0, append.GENESIS)

    def seal(self, said: Said) -> tuple[str, ...]:
        """Seal a fact and return the codes it gives out."""
        seq, previous = self._head
        day, at = said.moment.date(), instant(said.moment)
        lots = self._codes(said, day)
        fields = put_apart(self._connection, said.kind, said.fields, seq + 1)
        new = append.NewFact(said.kind, at, at, said.who, fields, day, codes=lots)
        row = dict(seq=seq + 1, kind=said.kind, version=append.VERSION, happened_at=at, recorded_at=at, recorded_by=said.who,
                   body=new.body(), previous_hash=previous)  # fmt: skip
        row["hash"] = append.seal(**row)
        self._head = (seq + 1, str(row["hash"]))
        self._rows.append(row)
        if len(self._rows) == _ROWS_AT_ONCE:
            self.write()
        units = len(said.fields["packs"]) if said.kind == "pack" else 0
        return (*lots, *(f"{lots[0]}/{number}" for number in range(1, units + 1)))

    def _codes(self, said: Said, day: dt.date) -> tuple[str, ...]:
        kinds = new_lots(vocabulary.read(said.kind, said.fields))
        first = self._given_out[day] + 1
        self._given_out[day] += len(kinds)
        return tuple(str(numbered(kind, day, first + place)) for place, kind in enumerate(kinds))

    def write(self) -> None:
        """Write what was sealed and how many codes each day gave out."""
        if self._rows:
            self._connection.execute(insert(facts), self._rows)
            self._rows.clear()
        self._connection.execute(counters.delete())
        days = [dict(day=day.isoformat(), last=last) for day, last in self._given_out.items() if last]
        self._connection.execute(insert(counters), days)
