"""The labels that were issued for a lot, and which packs ever had one."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

from sqlalchemy import Connection, select

from labelsvc.ledger.asof import lot_from
from labelsvc.ledger.read import LotRow, history, lot_rows
from labelsvc.ledger.tables import effective, lots, timeline

_AT_ONCE = 500  # codes asked for in one statement


def labels_of(connection: Connection, code: str) -> list[dict[str, Any]]:
    """Return the labels issued for a lot, newest first.

    Returns:
        For each: fact, day, its body, ``void`` (why it counts no more, or None) and ``reprints`` (day and reason of each).
    """
    rows = [row for row in history(connection, code) if row.body is not None]
    later = [(row.kind, row.day, json.loads(row.body)) for row in rows if row.kind in ("reprint_label", "void_label")]
    return [
        {
            "fact": row.fact,
            "day": row.day,
            **json.loads(row.body),
            "void": next((body["reason"] for kind, _, body in later if kind == "void_label" and body["label"] == row.fact), None),
            "reprints": [
                {"day": day, "reason": body["reason"]}
                for kind, day, body in later
                if kind == "reprint_label" and body["label"] == row.fact
            ],
        }
        for row in reversed(rows)
        if row.kind == "issue_label"
    ]


def label(connection: Connection, fact: int) -> dict[str, Any] | None:
    """Return the label that a fact issued, as ``labels_of`` gives it, or None."""
    issued = select(effective.c.body).where(
        effective.c.fact == fact, effective.c.kind == "issue_label", effective.c.body.is_not(None)
    )
    body = connection.execute(issued).scalar()
    if body is None:
        return None
    return next((one for one in labels_of(connection, json.loads(body)["lots"][0]) if one["fact"] == fact), None)


def labelled_packs(connection: Connection) -> Iterator[LotRow]:
    """Yield every pack that ever had a sale label, and its pack lot, by code."""
    units = select(timeline.c.subject).join(effective, effective.c.fact == timeline.c.fact)
    labelled = units.where(effective.c.kind == "issue_label", effective.c.body.is_not(None)).distinct()
    codes = {str(subject).removeprefix("lot/") for subject in connection.execute(labelled).scalars()}
    wanted = sorted(codes | {code.partition("/")[0] for code in codes})
    for first in range(0, len(wanted), _AT_ONCE):
        rows = lot_rows().where(lots.c.code.in_(wanted[first : first + _AT_ONCE]), lots.c.kind == "pack").order_by(lots.c.code)
        yield from (LotRow(row.id, lot_from(row.known)) for row in connection.execute(rows))
