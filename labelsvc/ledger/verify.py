"""Verifies the sealed chain: every fact must hash to what it says, and follow the one before it."""

from __future__ import annotations

import json
from contextlib import closing
from typing import Any

from sqlalchemy import Connection, Select, func, select, text

from labelsvc.errors import LedgerIntegrityError
from labelsvc.ledger.append import GENESIS, canonical, seal_of
from labelsvc.ledger.effective import checked_body, said_of
from labelsvc.ledger.journal import facts_in_order
from labelsvc.ledger.personal import put_together
from labelsvc.ledger.tables import effective, facts, postings

SQLITE_GUARDS = {"facts_no_update", "facts_no_delete", "facts_no_replace"}
POSTGRESQL_GUARDS = {"facts_no_change", "facts_no_truncate"}
_AT_ONCE = 500  # facts read in one go


def verify_chain(connection: Connection) -> tuple[int, str]:
    """Walk the chain.

    Returns:
        How many facts hold, and the hash of the last.

    Raises:
        LedgerIntegrityError: names the first fact that does not hold.
    """
    previous, expected = GENESIS, 1
    with closing(facts_in_order(connection)) as rows:
        for row in rows:
            if row.seq != expected:
                raise LedgerIntegrityError(
                    f"fact {expected} is missing: expected it after fact {expected - 1}, got fact {row.seq}"
                )
            if row.previous_hash != previous:
                raise LedgerIntegrityError(
                    f"fact {row.seq} ({row.kind}) does not follow fact {row.seq - 1}: it was sealed after another one"
                )
            if seal_of(row) != row.hash:
                raise LedgerIntegrityError(
                    f"fact {row.seq} ({row.kind}) was changed after it was sealed: its contents do not fit its hash"
                )
            previous, expected = row.hash, expected + 1
    return expected - 1, previous


def verify_projection(connection: Connection) -> None:
    """Check that the projections cover the facts and that every flow sums to zero.

    Raises:
        LedgerIntegrityError: names the first fact that is missing or does not sum to zero.
    """
    posted = select(effective.c.fact).scalar_subquery()
    missing = select(func.min(facts.c.seq)).where(facts.c.kind != "correct", facts.c.seq.not_in(posted))
    first = connection.execute(missing).scalar()
    if first is not None:
        raise LedgerIntegrityError(f"fact {first} is not in the projections: run rebuild")
    source = func.coalesce(effective.c.corrected_by, effective.c.fact)
    found = func.instr if connection.dialect.name == "sqlite" else func.strpos
    differs = (
        select(effective.c.fact, effective.c.kind, effective.c.body, facts.c.body.label("sealed"))
        .join(facts, facts.c.seq == source)
        .where(found(facts.c.body, effective.c.body) == 0)
        .order_by(effective.c.fact)
    )  # what holds something personal was sealed with a key there, and a no may have been typed as a word
    first = _first_otherwise(connection, differs)
    if first is not None:
        raise LedgerIntegrityError(f"fact {first} stands in the projections otherwise than it was sealed: run rebuild")
    flows = select(postings.c.fact, postings.c.flow).group_by(postings.c.fact, postings.c.flow)
    uneven = connection.execute(flows.having(func.sum(postings.c.milligrams) != 0).order_by(postings.c.fact).limit(1)).first()
    if uneven is not None:
        raise LedgerIntegrityError(f"flow {uneven.flow} of fact {uneven.fact} does not sum to zero: run rebuild")


def _first_otherwise(connection: Connection, differs: Select[Any]) -> int | None:
    """Return the first of these facts that does not say what was sealed, with what is personal in the place of its key."""
    with connection.execute(differs, execution_options={"yield_per": _AT_ONCE}) as found:
        for rows in found.partitions():
            sealed = [json.loads(row.sealed)["given"] for row in rows]
            givens = put_together(connection, [given.get("instead", given) for given in sealed])
            for row, given in zip(rows, givens, strict=True):
                if row.body != canonical(given) and row.body != said_of(given, checked_body(row.kind, given)):
                    return int(row.fact)
    return None


def verify_guards(connection: Connection) -> None:
    """Check that the database still refuses every change of a fact.

    Raises:
        LedgerIntegrityError: names the guard that is missing.
    """
    if connection.dialect.name == "sqlite":
        query, expected = "SELECT name FROM sqlite_master WHERE type = 'trigger'", SQLITE_GUARDS
    else:
        query = "SELECT tgname FROM pg_trigger WHERE tgrelid = 'facts'::regclass AND tgenabled = 'O'"
        expected = POSTGRESQL_GUARDS
    missing = sorted(expected - set(connection.execute(text(query)).scalars()))
    if missing:
        raise LedgerIntegrityError(
            f"the database does not refuse every change of a fact any more: expected the trigger {missing[0]}, got none. "
            "Compare the head with one that was printed before."
        )


def what_the_server_risks(connection: Connection) -> list[str]:
    """Return a sentence for each setting of the server by which a power cut may lose or damage what was acknowledged.

    SQLite is set up by ourselves; a server of PostgreSQL by whoever looks after it.
    """
    if connection.dialect.name == "sqlite":
        return []
    query = text("SELECT name FROM pg_settings WHERE name IN ('fsync', 'full_page_writes') AND setting = 'off' ORDER BY name")
    return [
        f"The PostgreSQL server works with {name} = off: a power cut may lose facts that were acknowledged. Set it to on."
        for name in connection.execute(query).scalars()
    ]


def verify_head(connection: Connection, count: int, head: str) -> None:
    """Check that the chain still goes through a head that was kept outside: a chain sealed anew in whole is found out by it.

    Args:
        connection: reads the ledger; its chain was verified before.
        count: how many facts there were then.
        head: the hash of the last of them.

    Raises:
        LedgerIntegrityError: facts were taken away, or the chain was rewritten.
    """
    if count == 0:
        return
    found = connection.execute(select(facts.c.hash).where(facts.c.seq == count)).scalar()
    if found is None:
        last = connection.execute(select(func.max(facts.c.seq))).scalar() or 0
        raise LedgerIntegrityError(
            f"fact {last + 1} is missing: the head that was kept knows {count} facts, the ledger has {last}"
        )
    if found != head:
        raise LedgerIntegrityError(
            f"fact {count} is not the one of the head that was kept: expected {head[:16]}..., got {found[:16]}...; "
            "the chain was rewritten at that fact or before it"
        )
