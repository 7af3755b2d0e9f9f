"""The rows of the people who stand at the bench. They are no facts: a PIN changes, a badge is lost, a name may have to go."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from sqlalchemy import ColumnElement, Connection, Row, insert, select, update

from labelsvc.ledger.derive.bench import card_key
from labelsvc.ledger.tables import people


@dataclass(frozen=True)
class Person:
    """Someone who works here, or did.

    Args:
        number: the key; never printed.
        name: as every fact will say it.
        role: bench_hand, packer, responsible or reader.
        pin_hash: argon2 hash of the PIN, or None.
        badge_digest: SHA-256 of the badge, or None.
        left_on: first day on which they are not here any more, or None.
        password_hash: argon2 hash of the password, or None: then they sign in at a bench only.
    """

    number: int
    name: str
    role: str
    pin_hash: str | None
    badge_digest: str | None
    left_on: dt.date | None
    password_hash: str | None

    def is_here(self, day: dt.date) -> bool:
        """Tell whether they work here on a day."""
        return self.left_on is None or day < self.left_on


def everyone(connection: Connection) -> list[Person]:
    """Return all people by name, those who left among them."""
    return [_person(row) for row in connection.execute(select(people).order_by(people.c.name_key))]


def by_number(connection: Connection, number: int) -> Person | None:
    """Return the person of a number."""
    return _one(connection, people.c.id == number)


def by_name(connection: Connection, name: str) -> Person | None:
    """Return the person of a name, without regard to case and spacing."""
    return _one(connection, people.c.name_key == card_key(name))


def by_badge(connection: Connection, digest: str) -> Person | None:
    """Return the person of a badge, by its digest."""
    return _one(connection, people.c.badge_digest == digest)


def has_password(connection: Connection) -> bool:
    """Tell whether anyone has a password."""
    return connection.execute(select(people.c.id).where(people.c.password_hash.is_not(None)).limit(1)).first() is not None


def put_person(connection: Connection, name: str, role: str) -> int:
    """Keep a new person, and return the number."""
    row = {"name": name, "name_key": card_key(name), "role": role}
    return int(connection.execute(insert(people).values(**row).returning(people.c.id)).scalar_one())


def change_person(connection: Connection, number: int, **changes: str | int | None) -> None:
    """Change columns of a person; a changed name is compared by its new key."""
    name = changes.get("name")
    keyed = {**changes, "name_key": card_key(name)} if isinstance(name, str) else changes
    connection.execute(update(people).where(people.c.id == number).values(**keyed))


def _one(connection: Connection, condition: ColumnElement[bool]) -> Person | None:
    row = connection.execute(select(people).where(condition)).first()
    return None if row is None else _person(row)


def _person(row: Row[tuple[object, ...]]) -> Person:
    left_on = dt.date.fromisoformat(row.left_on) if row.left_on else None
    return Person(row.id, row.name, row.role, row.pin_hash, row.badge_digest, left_on, row.password_hash)
