"""The rows of browsers that are signed in and of the tokens of programs: only digests of what they hold, so nothing to steal."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, Row, insert, select, update

from labelsvc.ledger.people import Person, by_number
from labelsvc.ledger.tables import sign_ins, tokens


@dataclass(frozen=True)
class SignIn:
    """A browser that someone signed in.

    Args:
        number: the key.
        person: whose account it was.
        device: what the device is called.
        is_station: whether people share it by PIN and badge.
        began_at: when.
        seen_at: when it was last seen, to a few minutes.
        ended_at: when it was signed out, or None.
    """

    number: int
    person: Person
    device: str
    is_station: bool
    began_at: dt.datetime
    seen_at: dt.datetime
    ended_at: dt.datetime | None


@dataclass(frozen=True)
class Token:
    """What a program signs in by.

    Args:
        number: the key.
        name: what it is for; facts that it records say so.
        role: as of a person.
        made_by: who made it.
        ends_on: first day on which it opens nothing any more.
        ended_at: when it was ended before that, or None.
    """

    number: int
    name: str
    role: str
    made_by: str
    ends_on: dt.date
    ended_at: dt.datetime | None

    def counts(self, day: dt.date) -> bool:
        """Tell whether it opens anything on a day."""
        return self.ended_at is None and day < self.ends_on


def put_sign_in(connection: Connection, digest: str, person: int, device: str, is_station: bool, at: str) -> None:
    """Keep a new sign-in."""
    row = {"digest": digest, "person": person, "device": device, "is_station": is_station, "began_at": at, "seen_at": at}
    connection.execute(insert(sign_ins).values(**row))


def sign_in_of(connection: Connection, digest: str) -> SignIn | None:
    """Return the sign-in of a digest."""
    row = connection.execute(select(sign_ins).where(sign_ins.c.digest == digest)).first()
    return None if row is None else _sign_in(connection, row)


def open_sign_ins(connection: Connection) -> list[SignIn]:
    """Return the sign-ins that nobody ended, the last seen first."""
    rows = connection.execute(select(sign_ins).where(sign_ins.c.ended_at.is_(None)).order_by(sign_ins.c.seen_at.desc()))
    return [_sign_in(connection, row) for row in rows.all()]


def see_sign_in(connection: Connection, number: int, at: str) -> None:
    """Keep when a sign-in was last seen."""
    connection.execute(update(sign_ins).where(sign_ins.c.id == number).values(seen_at=at))


def end_sign_in(connection: Connection, number: int, at: str) -> None:
    """End a sign-in; one that ended before stays as it was."""
    connection.execute(update(sign_ins).where(sign_ins.c.id == number, sign_ins.c.ended_at.is_(None)).values(ended_at=at))


def end_sign_ins_of(connection: Connection, person: int, at: str, *, but: int | None = None) -> None:
    """End all sign-ins of an account, but the one in which that is asked for."""
    found = update(sign_ins).where(sign_ins.c.person == person, sign_ins.c.ended_at.is_(None))
    connection.execute((found if but is None else found.where(sign_ins.c.id != but)).values(ended_at=at))


def put_token(connection: Connection, digest: str, name: str, role: str, made_by: str, at: str, ends_on: dt.date) -> None:
    """Keep a new token."""
    row = {"digest": digest, "name": name, "role": role, "made_by": made_by, "made_at": at, "ends_on": ends_on.isoformat()}
    connection.execute(insert(tokens).values(**row))


def token_of(connection: Connection, digest: str) -> Token | None:
    """Return the token of a digest."""
    row = connection.execute(select(tokens).where(tokens.c.digest == digest)).first()
    return None if row is None else _token(row)


def all_tokens(connection: Connection) -> list[Token]:
    """Return all tokens, the newest first."""
    return [_token(row) for row in connection.execute(select(tokens).order_by(tokens.c.id.desc()))]


def end_token(connection: Connection, number: int, at: str) -> None:
    """End a token."""
    connection.execute(update(tokens).where(tokens.c.id == number, tokens.c.ended_at.is_(None)).values(ended_at=at))


def _sign_in(connection: Connection, row: Row[Any]) -> SignIn:
    person = by_number(connection, row.person)
    assert person is not None  # a foreign key says so
    began, seen, ended = row.began_at, row.seen_at, row.ended_at
    return SignIn(row.id, person, row.device, row.is_station, _at(began), _at(seen), _at(ended) if ended else None)


def _token(row: Row[Any]) -> Token:
    ended = _at(row.ended_at) if row.ended_at else None
    return Token(row.id, row.name, row.role, row.made_by, dt.date.fromisoformat(row.ends_on), ended)


def _at(text: str) -> dt.datetime:
    return dt.datetime.fromisoformat(text)
