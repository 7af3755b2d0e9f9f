"""How often a secret was tried and wrong, by whom and from where: nobody may guess as fast as they like."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

from sqlalchemy import Connection, delete, insert, select, update

from labelsvc.ledger.derive.bench import INSTANT
from labelsvc.ledger.tables import tries

KEPT = dt.timedelta(days=1)  # a count without a new try for so long is forgotten, and an address with it


@dataclass(frozen=True)
class Tries:
    """What was tried under a key.

    Args:
        wrong: tries since the last right one.
        wait_until: before this instant no try is looked at, or None.
    """

    wrong: int
    wait_until: dt.datetime | None


def tries_of(connection: Connection, key: str) -> Tries:
    """Return what was tried under a key."""
    row = connection.execute(select(tries).where(tries.c.key == key)).first()
    if row is None:
        return Tries(0, None)
    return Tries(row.wrong, dt.datetime.fromisoformat(row.wait_until) if row.wait_until else None)


def keep_tries(connection: Connection, key: str, now: dt.datetime, kept: Tries) -> None:
    """Keep the count of a key, and forget those that are old.

    Args:
        connection: the writer's.
        key: whom or what is counted.
        now: the present.
        kept: the new count.
    """
    connection.execute(delete(tries).where(tries.c.last_at < _text(now - KEPT)))
    until = _text(kept.wait_until) if kept.wait_until else None
    values = {"wrong": kept.wrong, "last_at": _text(now), "wait_until": until}
    if connection.execute(update(tries).where(tries.c.key == key).values(**values)).rowcount == 0:
        connection.execute(insert(tries).values(key=key, **values))


def forget_tries(connection: Connection, keys: Iterable[str]) -> None:
    """Begin to count anew."""
    connection.execute(delete(tries).where(tries.c.key.in_(list(keys))))


def _text(moment: dt.datetime) -> str:
    return moment.astimezone(dt.UTC).strftime(INSTANT)
