"""Writes what follows from a fact into the projections, and takes it out again when the fact changes."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Collection, Iterable, Iterator, Mapping
from itertools import groupby, zip_longest
from typing import Any

import msgspec
from sqlalchemy import Connection, Row, bindparam, delete, insert, select
from sqlalchemy.dialects.postgresql import insert as postgresql_insert
from sqlalchemy.dialects.sqlite import insert as sqlite_insert

from labelsvc.ledger.among import among
from labelsvc.ledger.append import canonical
from labelsvc.ledger.asof import lot_from, lot_text, shown_text
from labelsvc.ledger.derive.bench import (
    INSTANT,
    alias_key,
    card_key,
    card_subject,
    lot_subject,
    reserved_subject,
)
from labelsvc.ledger.derive.happening import Derived, Happening
from labelsvc.ledger.handing_over import came_in_of, handed_over_rows
from labelsvc.ledger.state import Issue, LotState, Posting, is_lot_kind
from labelsvc.ledger.tables import aliases, contacts, effective, handed_over, links, lots, postings, timeline
from labelsvc.shape import Shape
from labelsvc.units import share_out


def body_text(body: Shape) -> str:
    """Return a checked body as canonical JSON."""
    return canonical(msgspec.to_builtins(body, enc_hook=str))


def timeline_rows(derived: Derived) -> dict[str, str | None]:
    """Return what the fact leaves of each subject it touched, None where it only looked."""
    rows: dict[str, str | None] = dict.fromkeys(derived.mentions)
    rows.update({lot_subject(code): lot_text(state) for code, state in derived.lots.items()})
    rows.update({card_subject(kind, name): body_text(card) for (kind, name), card in derived.cards.items()})
    rows.update({reserved_subject(code): lot for code, lot in derived.reserved.items()})
    return rows


def effective_row(happening: Happening, derived: Derived, corrected_by: int | None) -> dict[str, Any]:
    """Return the row of the fact as it stands."""
    return {
        "fact": happening.seq,
        "kind": happening.kind,
        "at": happening.at,
        "day": happening.day.isoformat(),
        "body": happening.said,
        "codes": canonical(list(happening.codes)),
        "read_as": canonical(dict(derived.read_as)),
        "corrected_by": corrected_by,
        "issues": canonical(msgspec.to_builtins(derived.issues)),
    }


def taken_back_row(fact: Row[Any], corrected_by: int | None) -> dict[str, Any]:
    """Return the row of a fact that was taken back: it stands empty at the time that was first given for it."""
    when = {"at": fact.happened_at, "day": json.loads(fact.body)["day"]}
    values = {"fact": fact.seq, "kind": fact.kind, **when, "body": None, "corrected_by": corrected_by}
    return {**values, "codes": "[]", "read_as": "{}", "issues": "[]"}


def surroundings(state: LotState | None) -> tuple[str | None, ...]:
    """Return where a lot is and what leads to it: when this changes, so do contacts and aliases."""
    return (state.tub, state.place, state.session, state.slicer, *state.things, *state.aliases) if state else (None,) * 4


def lot_row(state: LotState, began_at: str, position: tuple[str, int], came_in: int) -> dict[str, Any]:
    """Return the row of a lot as it stands now; ``came_in`` are the milligrams that went into it (see ``put_lots``)."""
    return {
        "code": state.code,
        "kind": state.kind,
        "name": state.name,
        "state": state.whereabouts,
        "place": state.place or state.tub,
        "milligrams": state.milligrams,
        "made_milligrams": state.made_milligrams,
        "supplier_key": card_key(state.supplier) if state.supplier else None,
        "ingredient_key": card_key(state.ingredient) if state.ingredient else None,
        "began_at": began_at,
        "at": position[0],
        "fact": position[1],
        "came_in": came_in,
        "shown": shown_text(state),
        "known": lot_text(state),
    }


def put_lots(connection: Connection, rows: list[dict[str, Any]]) -> dict[str, int]:
    """Write lots as they stand now, and return their numbers.

    A lot that is there keeps its number and its beginning, and what came in comes on top of what came in before.
    """
    if not rows:
        return {}
    upsert = sqlite_insert if connection.dialect.name == "sqlite" else postgresql_insert
    statement = upsert(lots)
    changed: dict[str, Any] = {name: statement.excluded[name] for name in rows[0] if name not in ("code", "began_at")}
    changed["came_in"] += lots.c.came_in
    written = statement.on_conflict_do_update(index_elements=[lots.c.code], set_=changed).returning(lots.c.code, lots.c.id)
    return dict(connection.execute(written, rows).all())


def put_postings(connection: Connection, happening: Happening, lines: list[Posting], numbers: Mapping[str, int]) -> None:
    """Write the postings of a fact, the links from each lot that gives to each that receives, and who got what.

    Args:
        connection: the writer's connection.
        happening: the fact.
        lines: its postings.
        numbers: of the lots it moves mass of, by code, as ``put_lots`` answers.
    """
    if not lines:
        return
    connection.execute(insert(postings), posting_rows(happening.seq, lines, numbers))
    for table, rows in (
        (links, link_rows(happening.seq, lines, numbers)),
        (handed_over, handed_over_rows(happening, lines, numbers)),
    ):
        if rows:
            connection.execute(insert(table), rows)


def posting_rows(fact: int, lines: Iterable[Posting], numbers: Mapping[str, int]) -> list[dict[str, Any]]:
    """Return the rows of a fact's postings; ``numbers`` are those of the lots by code."""
    rows = []
    for _, group in groupby(lines, key=lambda line: line.flow):
        flow = list(group)
        ends = [line.kind for line in flow if not is_lot_kind(line.kind)]
        alone_with = ends[0] if len(flow) == 2 and len(ends) == 1 else None
        for line in flow:
            lot = numbers[line.account] if is_lot_kind(line.kind) else None
            rows.append({"fact": fact, **line._asdict(), "lot": lot, "alone_with": alone_with if lot is not None else None})
    return rows


def link_rows(fact: int, lines: list[Posting], numbers: Mapping[str, int]) -> list[dict[str, Any]]:
    """Return the rows of a fact's links; ``numbers`` are those of the lots by code."""
    return [
        {"fact": fact, "giver": numbers[giver], "receiver": numbers[receiver], "milligrams": milligrams}
        for giver, receiver, milligrams in links_of(lines)
    ]


def links_of(lines: list[Posting]) -> Iterator[tuple[str, str, int]]:
    """Yield giver, receiver and milligrams for each pair of lots in each flow.

    Where several lots give, each receiver holds of each giver in proportion to what the giver gave.
    """
    for _, group in groupby(lines, key=lambda line: line.flow):
        flow = list(group)
        gives = [line for line in flow if line.milligrams < 0]
        for receiver in (line for line in flow if line.milligrams > 0 and is_lot_kind(line.kind)):
            shares = share_out(receiver.milligrams, [-line.milligrams for line in gives])
            for giver, share in zip(gives, shares, strict=True):
                if is_lot_kind(giver.kind):
                    yield giver.account, receiver.account, share


def put_timeline(connection: Connection, happening: Happening, rows: Mapping[str, str | None]) -> None:
    """Write what the fact leaves of each subject."""
    if rows:
        connection.execute(
            insert(timeline),
            [
                {"subject": subject, "at": happening.at, "fact": happening.seq, "state": state}
                for subject, state in sorted(rows.items())
            ],
        )


def take_out(connection: Connection, fact: int) -> None:
    """Take out everything that followed from a fact, but not the lots it gave birth to."""
    rows = connection.execute(
        select(postings.c.flow, postings.c.account, postings.c.kind, postings.c.milligrams).where(postings.c.fact == fact)
    )
    came_in = came_in_of([Posting(*row) for row in rows.all()])
    if came_in:
        less = lots.update().where(lots.c.code == bindparam("of")).values(came_in=lots.c.came_in - bindparam("less"))
        connection.execute(less, [{"of": code, "less": milligrams} for code, milligrams in came_in.items()])
    for table in (links, handed_over, postings, timeline, effective):
        connection.execute(delete(table).where(table.c.fact == fact))


def refresh(connection: Connection, codes: Iterable[str], *, is_final: bool = True) -> None:
    """Bring lots, contacts and aliases in line with the timeline.

    Args:
        connection: the writer's connection.
        codes: the lots.
        is_final: whether all later facts are settled, so that a lot without a timeline is no more.
    """
    for code in codes:
        history = connection.execute(
            select(timeline.c.at, timeline.c.fact, timeline.c.state)
            .where(timeline.c.subject == lot_subject(code), timeline.c.state.is_not(None))
            .order_by(timeline.c.at, timeline.c.fact)
        ).all()
        number = connection.execute(select(lots.c.id).where(lots.c.code == code)).scalar()
        if number is not None:
            connection.execute(delete(contacts).where(contacts.c.lot == number))
            connection.execute(delete(aliases).where(aliases.c.lot == number))
        if history:
            last = history[-1]
            row = lot_row(lot_from(last.state), history[0].at, (last.at, last.fact), 0)
            if number is not None:
                connection.execute(lots.update().where(lots.c.id == number).values(began_at=history[0].at))
            put_lots(connection, [row])
            put_surroundings(connection, {code: [(step.at, lot_from(step.state)) for step in history]}, {code})
        elif number is not None and is_final:
            connection.execute(delete(lots).where(lots.c.id == number))


def put_surroundings(
    connection: Connection,
    histories: Mapping[str, list[tuple[str, LotState]]],
    with_aliases: Collection[str],
    numbers: Mapping[str, int] | None = None,
) -> None:
    """Write contacts of lots from their whole histories, and aliases of some; earlier rows must be gone."""
    numbers = numbers or dict(connection.execute(select(lots.c.code, lots.c.id).where(among(lots.c.code, histories))).all())
    met = [{"lot": numbers[code], **row, **_days(row)} for code, history in histories.items() for row in contacts_of(history)]
    if met:
        connection.execute(insert(contacts), met)
    named = [
        {"lot": numbers[code], "alias": alias_key(alias)}
        for code, history in histories.items()
        if code in with_aliases
        for alias in history[-1][1].aliases
    ]
    if named:
        connection.execute(insert(aliases), named)


def _days(stay: Mapping[str, Any]) -> dict[str, int | None]:
    """Return the day a stay begins on, counted from the year 1, and how many days later it ends, or None while it lasts."""
    first, last = (dt.date.fromisoformat(at[:10]).toordinal() if at else None for at in (stay["begins"], stay["ends"]))
    return {"first_day": first, "days": None if first is None or last is None else last - first}


def put_stays(
    connection: Connection,
    codes: Collection[str],
    new: Collection[str],
    renamed: Collection[str],
    numbers: Mapping[str, int] | None = None,
) -> None:
    """Write contacts of lots anew from the timeline, and aliases of those that are new or got another number.

    Args:
        connection: the writer's connection.
        codes: lots that came into being, went to another tub or room, or got another number.
        new: those of them that had neither yet.
        renamed: those of the others that got another number.
        numbers: of all of them by code, where they are known already.
    """
    histories: dict[str, list[tuple[str, LotState]]] = {code: [] for code in codes}
    rows = connection.execute(
        select(timeline.c.at, timeline.c.state)
        .where(among(timeline.c.subject, [lot_subject(code) for code in codes]), timeline.c.state.is_not(None))
        .order_by(timeline.c.at, timeline.c.fact)
    )
    for row in rows:
        state = lot_from(row.state)
        histories[state.code].append((row.at, state))
    old = [code for code in codes if code not in new]
    for table, those in ((contacts, old), (aliases, list(renamed))):
        if those:
            connection.execute(delete(table).where(table.c.lot.in_(select(lots.c.id).where(among(lots.c.code, those)))))
    put_surroundings(connection, histories, {*new, *renamed}, numbers)


def contacts_of(history: list[tuple[str, LotState]]) -> Iterator[dict[str, Any]]:
    """Yield when a lot was in which tub and room, on which machine (a moment) and at which packing; a pack lot is no thing.

    A session is its name and its day, not the moment at which one of its packings was recorded: whoever packs at ten and again
    at twenty past has one table and one pair of hands.
    """
    if history[-1][1].units:
        return
    for kind, field in (("tub", "tub"), ("room", "place")):
        stays = [(value, next(group)[0]) for value, group in groupby(history, key=lambda step: getattr(step[1], field))]
        for (value, begins), after in zip_longest(stays, stays[1:]):
            if value:
                yield {"thing": card_key(value), "kind": kind, "begins": begins, "ends": after[1] if after else None}
    before: tuple[str, ...] = ()
    for at, state in history:
        for thing in dict.fromkeys(state.things):
            if thing not in before:
                yield {"thing": card_key(thing), "kind": "machine", "begins": at, "ends": at}
        before = state.things
    first_at, first = history[0]
    if first.slicer:
        yield {"thing": card_key(first.slicer), "kind": "slicer", "begins": first_at, "ends": first_at}
    if first.session:
        day = first.packed_on or first.born
        begins, ends = (dt.datetime.combine(day, time).strftime(INSTANT) for time in (dt.time.min, dt.time.max))
        yield {"thing": card_key(first.session), "kind": "session", "begins": begins, "ends": ends}


def issues_from(text: str) -> list[Issue]:
    """Return the issues of a stored effective fact."""
    return msgspec.json.decode(text, type=list[Issue])
