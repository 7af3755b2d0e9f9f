"""Facts that later facts follow up by number: a case and its steps, a complaint and its answer."""

from __future__ import annotations

from typing import Any

from sqlalchemy import Connection, Row, func, select

from labelsvc.ledger.derive.bench import card_subject, numbered_subject
from labelsvc.ledger.tables import effective, facts, timeline


def numbered(connection: Connection, kind: str) -> list[Row[Any]]:
    """Return the facts of a kind that others name by number (cases, complaints) and that stand, oldest first.

    Returns:
        Rows of fact, at, day, body and recorded_by.
    """
    rows = (
        select(effective.c.fact, effective.c.at, effective.c.day, effective.c.body, facts.c.recorded_by)
        .join(timeline, timeline.c.fact == effective.c.fact)
        .join(facts, facts.c.seq == effective.c.fact)
        .where(timeline.c.subject == numbered_subject(kind), effective.c.body.is_not(None))
        .order_by(effective.c.fact)
    )
    return list(connection.execute(rows))


def naming(connection: Connection, kind: str, number: int) -> list[Row[Any]]:
    """Return the facts that name a case or complaint by its number, itself left out, in time order.

    Returns:
        Rows of fact, kind, at, day, body and recorded_by.
    """
    rows = (
        select(
            effective.c.fact, effective.c.kind, effective.c.at, effective.c.day, effective.c.body, facts.c.recorded_by
        )
        .join(timeline, timeline.c.fact == effective.c.fact)
        .join(facts, facts.c.seq == effective.c.fact)
        .where(timeline.c.subject == card_subject(kind, str(number)), effective.c.fact != number, effective.c.body.is_not(None))
        .order_by(effective.c.at, effective.c.fact)
    )  # fmt: skip
    return list(connection.execute(rows))


def with_all_naming(connection: Connection, kind: str) -> list[Row[Any]]:
    """Return every fact of a kind that others name by number, and all that name one, in time order; what was taken back left out.

    Returns:
        Rows of number (the one named), fact, kind and body.
    """
    first, after = f"{kind}/", f"{kind}{chr(ord('/') + 1)}"  # a range finds them by the index; LIKE would read the whole timeline
    number = func.substr(timeline.c.subject, len(first) + 1).label("number")
    rows = (
        select(number, effective.c.fact, effective.c.kind, effective.c.body)
        .join(effective, effective.c.fact == timeline.c.fact)
        .where(timeline.c.subject >= first, timeline.c.subject < after, effective.c.body.is_not(None))
        .order_by(effective.c.at, effective.c.fact)
    )
    return list(connection.execute(rows))
