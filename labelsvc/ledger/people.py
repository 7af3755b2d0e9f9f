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
        wrong_pins: wrong PINs since the last right one.
        wait_until: before this instant no PIN is looked at, or None.
    """

    number: int
    name: str
    role: str
    pin_hash: str | None
    badge_digest: str | None
    left_on: dt.date | None
    wrong_pins: int
    wait_until: dt.datetime | None

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


def put_person(connection: Connection, name: str, role: str) -> int:
    """Keep a new person, and return the number."""
    row = {"name": name, "name_key": card_key(name), "role": role, "wrong_pins": 0}
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
    left_on, wait = row.left_on, row.wait_until
    return Person(
        row.id, row.name, row.role, row.pin_hash, row.badge_digest,
        dt.date.fromisoformat(left_on) if left_on else None, row.wrong_pins, dt.datetime.fromisoformat(wait) if wait else None,
    )  # fmt: skip
