"""Brings the projections in line with a new, changed or taken-back fact, and with every later fact that it reaches.

A later fact is derived again only where something it touches has changed, in time order, inside the same transaction.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from sqlalchemy import Connection, insert, select, tuple_

from labelsvc.errors import ConflictError, InputError
from labelsvc.facts import CARDS
from labelsvc.ledger.among import among
from labelsvc.ledger.asof import AsOf, lot_from
from labelsvc.ledger.derive import derive
from labelsvc.ledger.derive.bench import lot_subject, watch_subject
from labelsvc.ledger.derive.happening import Derived, Happening
from labelsvc.ledger.effective import Standing, correction_subject, standing_in
from labelsvc.ledger.handing_over import came_in_of
from labelsvc.ledger.projection import (
    effective_row,
    issues_from,
    lot_row,
    put_lots,
    put_postings,
    put_stays,
    put_surroundings,
    put_timeline,
    refresh,
    surroundings,
    take_out,
    taken_back_row,
    timeline_rows,
)
from labelsvc.ledger.state import Issue, LotState
from labelsvc.ledger.tables import effective, facts, timeline

Position = tuple[str, int]


@dataclass(frozen=True)
class LaterIssue:
    """An issue that a later fact has now and had not before."""

    fact: int
    kind: str
    issue: Issue


def work_out(
    connection: Connection, happening: Happening, refs: Iterable[str] = (), *, is_current: bool = True
) -> tuple[Derived, AsOf]:
    """Return what follows from a fact, without writing anything.

    Args:
        connection: the writer's connection.
        happening: the fact as it stands.
        refs: lot codes it is known to name, loaded in one go.
        is_current: whether the table of lots is in line with the timeline.
    """
    lookup = AsOf(connection, happening.position, is_current=is_current)
    lookup.ready(list(refs))
    return derive(happening, lookup), lookup


def put_new(
    connection: Connection, happening: Happening, derived: Derived, lookup: AsOf, *, is_last: bool = False
) -> list[LaterIssue]:
    """Write what follows from a new fact, and settle the later facts if it is a late entry.

    Args:
        connection: the writer's.
        happening: the fact.
        derived: what follows from it.
        lookup: that it was worked out with.
        is_last: whether nothing is known that happened after it; else that is looked for.
    """
    changed = {subject for subject, state in timeline_rows(derived).items() if state}
    later = [] if is_last else _later(connection, changed | _stirred(derived, lookup), happening.position)
    later += _earlier_served(connection, changed, happening.position)
    numbers = _write(connection, happening, derived, None)
    if later:
        refresh(connection, sorted(derived.lots), is_final=False)
        return _settle_later(connection, later, set(derived.lots))
    _put_moves(connection, happening.at, derived, lookup, numbers)
    return []


def put_changed(connection: Connection, standing: Standing) -> tuple[Derived | None, list[LaterIssue]]:
    """Write what follows from a fact as it stands after a correction, and settle the later facts.

    Returns:
        What follows from it now (None where it was taken back), and what later facts have to say to that.
    """
    before = _rows_of(connection, standing.seq)
    at = connection.execute(select(effective.c.at).where(effective.c.fact == standing.seq)).scalar_one()
    _take_out(connection, standing.seq, before)
    derived: Derived | None = None
    after: dict[str, str | None] = {}
    position = (at, standing.seq)
    if standing.happening is not None:
        derived = _write_again(connection, standing.happening, standing.corrected_by)
        after = timeline_rows(derived)
        position = min(position, standing.happening.position)
    else:
        _put_taken_back(connection, standing)
    moved = standing.happening is None or standing.happening.at != at
    changed = set(before.keys() | after.keys()) if moved else _changed(before, after)
    refresh(connection, sorted(_lots_in(before) | _lots_in(after)), is_final=False)
    later = _later(connection, changed | _places(before) | _places(after), position)
    later += _earlier_served(connection, changed, position)
    return derived, _settle_later(connection, later, _lots_in(before) | _lots_in(after))


def put_correction(connection: Connection, seq: int, at: str, target: int) -> None:
    """Let a correction be found from the fact it corrects."""
    connection.execute(insert(timeline), {"subject": correction_subject(target), "at": at, "fact": seq, "state": None})


def states_of(connection: Connection, fact: int) -> dict[str, LotState]:
    """Return by code what was known of each lot after the fact, as it stands."""
    rows = _rows_of(connection, fact)
    return {code: lot_from(str(rows[lot_subject(code)])) for code in _lots_in(rows)}


def _earlier_served(connection: Connection, subjects: Iterable[str], position: Position) -> list[Position]:
    """Return the positions of earlier facts that looked for a card which is the first of its name: it serves them as well."""
    cards = [subject for subject in subjects if subject.partition("/")[0] in CARDS]
    if not cards:
        return []
    before = tuple_(timeline.c.at, timeline.c.fact) < position
    said = select(timeline.c.subject).where(timeline.c.subject.in_(cards), timeline.c.state.is_not(None), before)
    first = set(cards) - set(connection.execute(said).scalars())
    rows = connection.execute(select(timeline.c.at, timeline.c.fact).where(timeline.c.subject.in_(first), before).distinct())
    return [(row.at, row.fact) for row in rows]


def _settle_later(connection: Connection, queue: list[Position], touched: set[str]) -> list[LaterIssue]:
    heapq.heapify(queue)
    done: set[int] = set()
    issues: list[LaterIssue] = []
    while queue:
        at, seq = heapq.heappop(queue)
        if seq in done:
            continue
        done.add(seq)
        one = standing_in(connection, seq)
        if one.happening is None:
            continue
        before, known = _rows_of(connection, seq), _issues_of(connection, seq)
        _take_out(connection, seq, before)
        derived = _write_again(connection, one.happening, one.corrected_by)
        after = timeline_rows(derived)
        issues += [LaterIssue(seq, one.happening.kind, issue) for issue in derived.issues if issue not in known]
        touched |= _lots_in(before) | _lots_in(after)
        refresh(connection, sorted(_lots_in(before) | _lots_in(after)), is_final=False)
        changed = _changed(before, after)
        stirred = _places(before) | _places(after) if changed else set()
        for position in _later(connection, changed | stirred, (at, seq)):
            heapq.heappush(queue, position)
    refresh(connection, sorted(touched))
    return issues


def _take_out(connection: Connection, fact: int, before: Mapping[str, str | None]) -> None:
    """Take out what followed from a fact; one that looks at a place must not find there what it left itself."""
    take_out(connection, fact)
    if any(subject.startswith("watch/") for subject in before):
        refresh(connection, sorted(_lots_in(before)), is_final=False)


def _write_again(connection: Connection, happening: Happening, corrected_by: int | None) -> Derived:
    try:
        derived, _ = work_out(connection, happening, is_current=False)
    except InputError as error:
        raise ConflictError(
            "fact", "a change after which the later facts are still possible",
            f"one after which fact {happening.seq} ({happening.kind}) is not: {error.message}",
        ) from None  # fmt: skip
    _write(connection, happening, derived, corrected_by)
    return derived


def _write(connection: Connection, happening: Happening, derived: Derived, corrected_by: int | None) -> dict[str, int]:
    """Write what follows from a fact; return the numbers of its lots."""
    put_timeline(connection, happening, timeline_rows(derived))
    connection.execute(insert(effective), effective_row(happening, derived, corrected_by))
    came_in = came_in_of(derived.postings)
    numbers = put_lots(
        connection,
        [lot_row(state, happening.at, happening.position, came_in.get(code, 0)) for code, state in derived.lots.items()],
    )
    put_postings(connection, happening, derived.postings, numbers)
    return numbers


def _put_taken_back(connection: Connection, standing: Standing) -> None:
    row = connection.execute(select(facts).where(facts.c.seq == standing.seq)).one()
    connection.execute(insert(effective), taken_back_row(row, standing.corrected_by))


def _put_moves(connection: Connection, at: str, derived: Derived, lookup: AsOf, numbers: Mapping[str, int]) -> None:
    """Write contacts and aliases of the lots that came into being, or went to another tub or room."""
    moved = [code for code, state in derived.lots.items() if surroundings(lookup.before(code)) != surroundings(state)]
    new = {code for code in moved if lookup.before(code) is None}
    if new:  # all there is of them is this fact
        put_surroundings(connection, {code: [(at, derived.lots[code])] for code in moved if code in new}, new, numbers)
    before = {code: known for code in moved if (known := lookup.before(code)) is not None}
    if before:
        renamed = [code for code, known in before.items() if known.aliases != derived.lots[code].aliases]
        put_stays(connection, list(before), (), renamed, numbers)


def _stirred(derived: Derived, lookup: AsOf) -> set[str]:
    """Return the places that a lot came to or left by a fact: facts that look at what is there are worked out again."""
    moved = [(lookup.before(code), state) for code, state in derived.lots.items()]
    places = {place for old, new in moved if surroundings(old) != surroundings(new) for one in (old, new) for place in _at(one)}
    return {watch_subject(place) for place in places}


def _places(rows: Mapping[str, str | None]) -> set[str]:
    states = [lot_from(text) for subject, text in rows.items() if text is not None and subject.startswith("lot/")]
    return {watch_subject(place) for state in states for place in _at(state)}


def _at(state: LotState | None) -> list[str]:
    return [place for place in (state.tub, state.place) if place] if state else []


def _rows_of(connection: Connection, fact: int) -> dict[str, str | None]:
    return dict(connection.execute(select(timeline.c.subject, timeline.c.state).where(timeline.c.fact == fact)).all())


def _issues_of(connection: Connection, fact: int) -> list[Issue]:
    return issues_from(connection.execute(select(effective.c.issues).where(effective.c.fact == fact)).scalar_one())


def _changed(before: Mapping[str, str | None], after: Mapping[str, str | None]) -> set[str]:
    return {subject for subject in before.keys() | after.keys() if before.get(subject) != after.get(subject)}


def _lots_in(rows: Mapping[str, str | None]) -> set[str]:
    return {subject.removeprefix("lot/") for subject, state in rows.items() if state is not None and subject.startswith("lot/")}


def _later(connection: Connection, subjects: Iterable[str], position: Position) -> list[Position]:
    """Return the positions of the facts after a position that touch or look at any of these subjects."""
    after = tuple_(timeline.c.at, timeline.c.fact) > position
    rows = connection.execute(
        select(timeline.c.at, timeline.c.fact).where(among(timeline.c.subject, list(subjects)), after).distinct()
    )
    return [(row.at, row.fact) for row in rows]
