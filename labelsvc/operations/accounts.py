"""Accounts: people with a password, the browsers they signed in, and the tokens of programs.

A person signs in a device of their own, or a bench that all share: there the short PIN or the badge says who stands at it. What a
browser or program holds is 256 random bits; only the SHA-256 of it is kept.
"""

from __future__ import annotations

import datetime as dt
import secrets
from dataclasses import dataclass

from labelsvc import choices
from labelsvc.errors import ConflictError, InputError, NotFoundError, StorageError
from labelsvc.ledger import people, sign_ins
from labelsvc.ledger.database import Ledger
from labelsvc.ledger.derive.bench import card_key
from labelsvc.ledger.people import Person
from labelsvc.ledger.sign_ins import SignIn, Token
from labelsvc.operations.people import LONGEST_NAME, checked_name, digest, fits, hashed, known
from labelsvc.operations.tries import FREE_FROM_ADDRESS, FREE_TRIES, count_try, said, set_back
from labelsvc.operations.when import instant

SHORTEST, LONGEST = 12, 200  # letters of a password (our own choice)
# A sign-in that was not seen for so long has ended (our own choice): a working day, and a bench over the holidays.
OWN_LASTS, STATION_LASTS = dt.timedelta(hours=12), dt.timedelta(days=60)
TOKEN_LASTS = dt.timedelta(days=366)  # at most
_SEEN_AGAIN = dt.timedelta(minutes=5)  # so often is written when a browser was last seen
_BITS = 32  # bytes of chance in what a browser or program holds


@dataclass(frozen=True)
class MadeToken:
    """A new token as it is shown once.

    Args:
        text: what the program sends.
        token: what is kept of it.
    """

    text: str
    token: Token


def has_accounts(ledger: Ledger) -> bool:
    """Tell whether anyone has a password: from then on everyone signs in."""
    with ledger.reading() as connection:
        return people.has_password(connection)


def make_first_account(ledger: Ledger, name: str, password: str) -> Person:
    """Make the account of the responsible person, the first of all.

    Args:
        ledger: where.
        name: someone recorded already, or new.
        password: as of ``set_password``.

    Raises:
        InputError: a name or password that cannot be; ConflictError: there is an account already.
    """
    name, password_hash = checked_name(name), _hashed_password(name, password)
    with ledger.writing() as connection:
        if people.has_password(connection):
            raise ConflictError(
                "account", "no account yet", "one that is there", "Sign in, and change people under Cards, People."
            )
        found = people.by_name(connection, name)
        number = found.number if found else people.put_person(connection, name, "responsible")
        people.change_person(connection, number, role="responsible", left_on=None, password_hash=password_hash)
        return known(connection, number)


def set_password(ledger: Ledger, number: int, password: str, now: dt.datetime, keep: int | None = None) -> Person:
    """Give a person a new password; what they signed in before is signed out.

    Args:
        ledger: where.
        number: of the person.
        password: 12 to 200 letters, not the name.
        now: the present.
        keep: the sign-in in which it is changed, which goes on.

    Raises:
        NotFoundError: no such person; InputError: a password that cannot be.
        ConflictError: the first account is the responsible person's.
    """
    with ledger.reading() as connection:
        name = known(connection, number).name
    password_hash = _hashed_password(name, password)
    with ledger.writing() as connection:
        person = known(connection, number)
        if person.role != "responsible" and not people.has_password(connection):
            raise ConflictError(
                "role", "the responsible person's account first", f"{person.name}, {person.role.replace('_', ' ')}",
                "Give the responsible person a password before the others.",
            )  # fmt: skip
        people.change_person(connection, number, password_hash=password_hash)
        sign_ins.end_sign_ins_of(connection, number, instant(now), but=keep)
        return known(connection, number)


def check_password(ledger: Ledger, name: str, password: str, address: str, now: dt.datetime, today: dt.date) -> Person:
    """Return whose name and password were typed; after some wrong ones it waits, longer each time.

    Args:
        ledger: where.
        name: as typed; the answer to a wrong one does not tell whether there is such a person.
        password: as typed.
        address: from where.
        now: the present, with a time zone.
        today: the workshop's day.

    Raises:
        InputError: they do not fit, or it waits.
    """
    whose, place = f"password {card_key(name)[:LONGEST_NAME]}", f"address {address}"
    with ledger.writing() as connection:
        wait = count_try(connection, "password", {whose: FREE_TRIES, place: FREE_FROM_ADDRESS}, now, "")
        person = people.by_name(connection, name)
    is_right = fits(person.password_hash if person else None, password[:LONGEST])
    if person is not None and is_right and person.is_here(today):
        set_back(ledger, whose, place)
        return person
    hint = f"Wait {said(wait)}." if wait else "Forgotten? The responsible person sets a new one under Cards, People."
    raise InputError("password", "a name and its password", "something else", hint)


def begin_sign_in(ledger: Ledger, person: Person, device: str, is_station: bool, now: dt.datetime) -> str:
    """Sign a browser in, and return what it holds from now on."""
    text = secrets.token_urlsafe(_BITS)
    with ledger.writing() as connection:
        sign_ins.put_sign_in(connection, digest(text), person.number, device[:LONGEST_NAME], is_station, instant(now))
    return text


def sign_in_held(ledger: Ledger, text: str, now: dt.datetime, today: dt.date) -> SignIn | None:
    """Return the sign-in of what a browser holds, or None where it counts no more."""
    with ledger.reading() as connection:
        found = sign_ins.sign_in_of(connection, digest(text))
    if found is None or not _counts(found, now, today):
        return None
    if now - found.seen_at > _SEEN_AGAIN:
        try:
            with ledger.writing() as connection:
                sign_ins.see_sign_in(connection, found.number, instant(now))
        except StorageError:
            pass  # a database that can only be read still shows what is in it
    return found


def signed_in(ledger: Ledger, now: dt.datetime, today: dt.date) -> list[SignIn]:
    """Return what is signed in now, the last seen first."""
    with ledger.reading() as connection:
        return [one for one in sign_ins.open_sign_ins(connection) if _counts(one, now, today)]


def end_sign_in(ledger: Ledger, number: int, now: dt.datetime) -> None:
    """Sign a browser out, also one that is lost."""
    with ledger.writing() as connection:
        sign_ins.end_sign_in(connection, number, instant(now))


def make_token(
    ledger: Ledger, name: str, role: str, ends_on: dt.date, *, made_by: str, now: dt.datetime, today: dt.date
) -> MadeToken:
    """Make a token for a program.

    Args:
        ledger: where.
        name: what it is for, such as "scale in the cold room": facts that it records say so.
        role: what it may do, as of a person.
        ends_on: first day on which it opens nothing any more, at most a year from now.
        made_by: who makes it.
        now: the present.
        today: the workshop's day.

    Raises:
        InputError: a name, role or day that cannot be.
    """
    name, role = checked_name(name), choices.role(role)
    if not today < ends_on <= today + TOKEN_LASTS:
        last = today + TOKEN_LASTS
        raise InputError("until", f"a day from {today + dt.timedelta(days=1)} to {last}", ends_on.isoformat())
    text = f"labelsvc_{secrets.token_urlsafe(_BITS)}"
    with ledger.writing() as connection:
        sign_ins.put_token(connection, digest(text), name, role, made_by, instant(now), ends_on)
        token = sign_ins.token_of(connection, digest(text))
    assert token is not None
    return MadeToken(text, token)


def token_held(ledger: Ledger, text: str, today: dt.date) -> Token | None:
    """Return the token of what a program sent, or None where it counts no more."""
    with ledger.reading() as connection:
        found = sign_ins.token_of(connection, digest(text))
    return found if found is not None and found.counts(today) else None


def tokens(ledger: Ledger) -> list[Token]:
    """Return all tokens, the newest first."""
    with ledger.reading() as connection:
        return sign_ins.all_tokens(connection)


def end_token(ledger: Ledger, number: int, now: dt.datetime) -> None:
    """End a token.

    Raises:
        NotFoundError: there is none of that number.
    """
    with ledger.writing() as connection:
        if all(one.number != number for one in sign_ins.all_tokens(connection)):
            raise NotFoundError("token", "the number of a token", str(number))
        sign_ins.end_token(connection, number, instant(now))


def _counts(one: SignIn, now: dt.datetime, today: dt.date) -> bool:
    lasts = STATION_LASTS if one.is_station else OWN_LASTS
    return one.ended_at is None and one.person.is_here(today) and now - one.seen_at <= lasts


def _hashed_password(name: str, password: str) -> str:
    if not SHORTEST <= len(password) <= LONGEST:
        given = f"{len(password)} letters" if password else "nothing"
        raise InputError(
            "new_password", f"{SHORTEST} to {LONGEST} letters", given, "Three or four words of your own are easy to keep."
        )
    if card_key(password) == card_key(name) or len(set(password)) < 4:
        raise InputError("new_password", "something nobody guesses", "the name, or the same few letters again and again")
    return hashed(password)
