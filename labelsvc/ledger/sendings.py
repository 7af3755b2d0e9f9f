"""The rows of what was sent to the workshop's printers: the labels of one press, and what became of them."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, Row, delete, insert, select, update

from labelsvc.ledger.printers import KnownPrinter
from labelsvc.ledger.tables import sendings


@dataclass
class SentLabel:
    """A document on its way to a printer.

    Args:
        fact: what issued it.
        lots: the codes on it.
        title: by which its printer's own list of jobs calls it.
        job: its number there; None where the printer did not say that it has it.
        state: how it ended there; nothing while it has not, as far as it is known.
        is_unsure: whether the printer may have it though it did not say so.
    """

    fact: int
    lots: tuple[str, ...]
    title: str
    job: int | None = None
    state: str = ""
    is_unsure: bool = False


@dataclass
class Sending:
    """The labels of one press of a button.

    Args:
        number: under which to ask for them.
        printer: where they go, as it was then.
        kind: ``tag`` or ``sale-label``.
        labels: in order.
        problem: why the rest was not sent, or what became of one.
        is_sent: whether nothing more will be sent.
        again: under which number they were sent once more; None where they were not.
    """

    number: int
    printer: KnownPrinter
    kind: str
    labels: list[SentLabel]
    problem: str = ""
    is_sent: bool = False
    again: int | None = None


def put_sending(connection: Connection, printer: KnownPrinter, kind: str, labels: list[SentLabel], kept: int) -> Sending:
    """Keep a new sending, and forget all but the last so many."""
    new = Sending(0, printer, kind, labels)
    row = {"printer": printer.name, "uri": printer.uri, "dots_per_mm": printer.dots_per_mm, "kind": kind, **_changing(new)}
    new.number = int(connection.execute(insert(sendings).values(**row).returning(sendings.c.id)).scalar_one())
    connection.execute(delete(sendings).where(sendings.c.id <= new.number - kept))
    return new


def change_sending(connection: Connection, sending: Sending) -> None:
    """Keep how it stands with a sending now."""
    connection.execute(update(sendings).where(sendings.c.id == sending.number).values(**_changing(sending)))


def sending_numbered(connection: Connection, number: int) -> Sending | None:
    """Return the sending of a number; None where it is forgotten or never was."""
    row = connection.execute(select(sendings).where(sendings.c.id == number)).first()
    return None if row is None else _sending(row)


def latest_sendings(connection: Connection, count: int) -> list[Sending]:
    """Return the last so many sendings, the newest first."""
    return [_sending(row) for row in connection.execute(select(sendings).order_by(sendings.c.id.desc()).limit(count))]


def _sending(row: Row[tuple[Any, ...]]) -> Sending:
    labels = [SentLabel(**{**one, "lots": tuple(one["lots"])}) for one in json.loads(row.labels)]
    printer = KnownPrinter(0, row.printer, row.uri, (), row.dots_per_mm)
    return Sending(row.id, printer, row.kind, labels, row.problem, row.is_sent, row.again)


def _changing(sending: Sending) -> dict[str, Any]:
    labels = json.dumps([vars(one) for one in sending.labels])
    return {"labels": labels, "problem": sending.problem, "is_sent": sending.is_sent, "again": sending.again}
