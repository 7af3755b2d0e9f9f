"""The whole ledger, row after row in order, without holding it in memory: for exports, copies and verification."""

from __future__ import annotations

from collections.abc import Generator, Iterator
from typing import Any

from sqlalchemy import Connection, Row, select

from labelsvc.ledger.asof import lot_from
from labelsvc.ledger.read import LotRow, lot_rows
from labelsvc.ledger.state import LotState
from labelsvc.ledger.tables import contacts, effective, facts, lots, postings

_IN_CHUNKS = {"yield_per": 5000}


def postings_in_order(connection: Connection) -> Iterator[Row[*tuple[Any, ...]]]:
    """Yield every effective posting: fact, flow, at, account, kind, milligrams, in the order in which things happened."""
    rows = (
        select(postings.c.fact, postings.c.flow, effective.c.at, postings.c.account, postings.c.kind, postings.c.milligrams)
        .join(effective, effective.c.fact == postings.c.fact)
        .order_by(effective.c.at, effective.c.fact, postings.c.flow, postings.c.id)
    )
    with connection.execute(rows, execution_options=_IN_CHUNKS) as found:
        yield from found


def contacts_in_order(connection: Connection) -> Iterator[Row[*tuple[Any, ...]]]:
    """Yield every contact: lot, thing, kind, from, to."""
    rows = select(lots.c.code, contacts.c.thing, contacts.c.kind, contacts.c.begins, contacts.c.ends)
    yield from connection.execute(rows.join(lots, lots.c.id == contacts.c.lot).order_by(contacts.c.begins, lots.c.id))


def facts_in_order(connection: Connection) -> Generator[Row[Any]]:
    """Yield every fact as it was sealed, corrections among them."""
    with connection.execute(select(facts).order_by(facts.c.seq), execution_options=_IN_CHUNKS) as rows:
        yield from rows


def effective_in_order(connection: Connection) -> Iterator[Row[*tuple[Any, ...]]]:
    """Yield every fact as it stands, in the order in which things happened, those taken back among them without a body.

    Returns:
        Rows of fact, kind, at, body, codes, corrected_by and recorded_at.
    """
    rows = (
        select(
            effective.c.fact, effective.c.kind, effective.c.at, effective.c.body, effective.c.codes, effective.c.corrected_by,
            facts.c.recorded_at,
        )
        .join(facts, facts.c.seq == effective.c.fact)
        .order_by(effective.c.at, effective.c.fact)
    )  # fmt: skip
    yield from connection.execute(rows, execution_options=_IN_CHUNKS)


def fact_recorded(connection: Connection, seq: int) -> str:
    """Return the instant at which a fact was recorded."""
    return str(connection.execute(select(facts.c.recorded_at).where(facts.c.seq == seq)).scalar_one())


def every_lot(connection: Connection) -> Iterator[LotRow]:
    """Yield every lot, oldest first."""
    for row in connection.execute(lot_rows().order_by(lots.c.id), execution_options=_IN_CHUNKS):
        yield LotRow(row.id, lot_from(row.known))


def pack_lots(connection: Connection) -> dict[str, LotState]:
    """Return every pack lot by its code, its packs left out."""
    rows = connection.execute(lot_rows().where(lots.c.kind == "pack", lots.c.code.not_like("%/%")))
    return {row.code: lot_from(row.known) for row in rows}
