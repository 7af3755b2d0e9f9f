"""Derives the projections anew from all facts, in the order in which things happened.

In that order what a fact found is what the facts before it left, so lots are kept at hand instead of being looked up in
the timeline, and rows are written in batches. The result equals what recording one by one leaves; a test holds them together.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, Table, bindparam, delete, func, insert, select, text

from labelsvc.ledger.among import among
from labelsvc.ledger.asof import AsOf, lot_from
from labelsvc.ledger.derive import derive
from labelsvc.ledger.derive.bench import card_key
from labelsvc.ledger.derive.happening import Derived, Happening
from labelsvc.ledger.effective import Standing, all_standing, corrected, correction_subject
from labelsvc.ledger.handing_over import came_in_of, handed_over_rows
from labelsvc.ledger.projection import (
    effective_row,
    link_rows,
    lot_row,
    posting_rows,
    put_stays,
    surroundings,
    taken_back_row,
    timeline_rows,
)
from labelsvc.ledger.state import LotState, is_lot_kind
from labelsvc.ledger.tables import PROJECTIONS, effective, facts, handed_over, links, lots, postings, timeline
from labelsvc.shape import Shape

_FACTS_A_BATCH = 2000
_IN_BATCHES = (timeline, effective, postings, links, handed_over)
_LOTS_AT_HAND = 50_000  # about 50 MB; beyond it they are let go after a batch and read again when a fact names them


def rebuild(connection: Connection) -> int:
    """Empty the projections and derive them anew from the facts; return how many facts stand."""
    for table in PROJECTIONS:
        connection.execute(delete(table))
    replay, stand = _Replay(connection), 0
    for place, one in enumerate(all_standing(connection), start=1):
        replay.put(one)
        stand += one.happening is not None
        if place % _FACTS_A_BATCH == 0:
            replay.write()
            replay.let_go()
    replay.write()
    _put_corrections(connection)
    number_on(connection, lots)
    return stand


@dataclass
class _AtHand:
    """A lot at hand: its number, when it began, its state after the last fact that changed it and that fact's position."""

    number: int
    began_at: str
    state: LotState
    position: tuple[str, int]
    is_new: bool
    came_in: int = 0


class _Replay:
    """The ledger as far as it has been derived: a ``Lookup`` for the next fact, and the rows still to be written."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection
        self._lots: dict[str, _AtHand] = {}
        self._cards: dict[tuple[str, str], list[tuple[tuple[str, int], Shape]]] = {}
        self._reserved: dict[str, str] = {}
        self._changed: dict[str, None] = {}
        self._moved: dict[str, bool] = {}  # code: whether it is new
        self._renamed: set[str] = set()
        self._rows: dict[Table, list[dict[str, Any]]] = {table: [] for table in _IN_BATCHES}
        self._position = ("", 0)
        self._last_number = 0

    def put(self, one: Standing) -> None:
        """Derive what follows from one fact."""
        if one.happening is None:
            row = self._connection.execute(select(facts).where(facts.c.seq == one.seq)).one()
            self._rows[effective].append(taken_back_row(row, one.corrected_by))
            return
        self._position = one.happening.position
        derived = derive(one.happening, self)
        self._keep(one.happening, derived)
        numbers = {line.account: self._lots[line.account].number for line in derived.postings if is_lot_kind(line.kind)}
        for code, milligrams in came_in_of(derived.postings).items():
            self._lots[code].came_in += milligrams
        self._rows[effective].append(effective_row(one.happening, derived, one.corrected_by))
        self._rows[timeline] += [
            {"subject": subject, "at": one.happening.at, "fact": one.seq, "state": state}
            for subject, state in sorted(timeline_rows(derived).items())
        ]
        self._rows[postings] += posting_rows(one.seq, derived.postings, numbers)
        self._rows[links] += link_rows(one.seq, derived.postings, numbers)
        self._rows[handed_over] += handed_over_rows(one.happening, derived.postings, numbers)

    def _keep(self, happening: Happening, derived: Derived) -> None:
        for code, state in derived.lots.items():
            before = self._lots.get(code)
            if surroundings(before.state if before else None) != surroundings(state):
                self._moved[code] = self._moved.get(code, before is None)
            if before is not None and before.state.aliases != state.aliases:
                self._renamed.add(code)
            if before is None:
                self._last_number += 1
                self._lots[code] = _AtHand(self._last_number, happening.at, state, happening.position, is_new=True)
            else:
                before.state, before.position = state, happening.position
            self._changed[code] = None
        for (kind, name), card in derived.cards.items():
            self._cards.setdefault((kind, name), []).append((happening.position, card))
        self._reserved.update(derived.reserved)

    def write(self) -> None:
        """Write everything derived since the last time."""
        self._write_lots()
        for table, rows in self._rows.items():
            if rows:
                self._connection.execute(insert(table), rows)
            rows.clear()
        if self._moved:
            new = {code for code, is_new in self._moved.items() if is_new}
            put_stays(self._connection, list(self._moved), new, self._renamed - new)
        self._moved.clear()
        self._renamed.clear()

    def let_go(self) -> None:
        """Let lots go where there are many at hand: between two facts, for one being derived still needs those it has found."""
        if len(self._lots) > _LOTS_AT_HAND:
            self._lots.clear()

    def _write_lots(self) -> None:
        new: list[dict[str, Any]] = []
        old: list[dict[str, Any]] = []
        for code in self._changed:
            one = self._lots[code]
            row = {"id": one.number, **lot_row(one.state, one.began_at, one.position, one.came_in)}
            (new if one.is_new else old).append(row)
            one.is_new = False
        if new:
            self._connection.execute(insert(lots), new)
        if old:
            names = [name for name in old[0] if name != "id"]
            changes = [{"number": row["id"], **{f"new_{name}": row[name] for name in names}} for row in old]
            changed = (
                lots.update().where(lots.c.id == bindparam("number")).values({name: bindparam(f"new_{name}") for name in names})
            )
            self._connection.execute(changed, changes)
        self._changed.clear()

    # --- as a Lookup -------------------------------------------------------------------------------------------------
    def ready(self, codes: list[str]) -> None:
        """Load lots that were let go."""
        wanted = [code for code in codes if code not in self._lots]
        for row in self._connection.execute(select(lots).where(among(lots.c.code, wanted))) if wanted else ():
            state, position = lot_from(row.known), (row.at, row.fact)
            self._lots[row.code] = _AtHand(row.id, row.began_at, state, position, is_new=False, came_in=row.came_in)

    def lot(self, code: str) -> LotState | None:
        """Return the lot, or None where there was none."""
        self.ready([code])
        return self._lots[code].state if code in self._lots else None

    def card(self, kind: str, name: str) -> Shape | None:
        """Return the card as it stood; one written down only afterwards serves as well; or None."""
        versions = self._cards.get((kind, card_key(name)), [])
        earlier = [card for position, card in versions if position < self._position]
        return earlier[-1] if earlier else versions[0][1] if versions else None

    def reserved_for(self, code: str) -> str | None:
        """Return the lot that a code printed ahead hung on by then, ``FREE`` while it waited, or None if it was not reserved."""
        return self._reserved.get(code)

    def alias(self, text: str) -> list[str]:
        """Return the codes that a marker, ear tag or supplier's number leads to."""
        return self._written().alias(text)

    def there(self, place: str, begins: str, ends: str | None) -> list[str]:
        """Return the codes of the lots that were at a place between two moments."""
        return self._written().there(place, begins, ends)

    def made_of(self, codes: list[str], since: str, entered_after: int) -> list[str]:
        """Return the codes of the lots that these went into, as of ``Lookup``."""
        return self._written().made_of(codes, since, entered_after)

    def began(self, code: str) -> str | None:
        """Return when the lot came into being, or None."""
        return self._written().began(code)

    def _written(self) -> AsOf:
        self.write()  # what the fact has in hand stays there until it is derived
        return AsOf(self._connection, self._position)


def _put_corrections(connection: Connection) -> None:
    """Let each correction be found from the fact it corrects."""
    rows = connection.execute(select(facts).where(facts.c.kind == "correct").order_by(facts.c.seq))
    found = [
        {
            "subject": correction_subject(corrected(row.body)),
            "at": row.happened_at,
            "fact": row.seq,
            "state": None,
        }
        for row in rows
    ]
    if found:
        connection.execute(insert(timeline), found)


def number_on(connection: Connection, table: Table) -> None:
    """Let PostgreSQL number the next row of a table after those that were written with their numbers."""
    if connection.dialect.name == "postgresql" and "id" in table.columns:
        last = connection.execute(select(func.coalesce(func.max(table.c.id), 0))).scalar_one()
        sequence = text(f"SELECT setval(pg_get_serial_sequence('{table.name}', 'id'), :next, false)")
        connection.execute(sequence, {"next": last + 1})
