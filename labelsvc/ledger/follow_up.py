"""Facts that later facts follow up by number: a case and its steps, a complaint and its answer."""

from __future__ import annotations

from typing import Any

from sqlalchemy import Connection, Row, select

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
