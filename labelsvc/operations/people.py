"""People at the bench: who works here, and how a badge or a short PIN says who stands there.

A PIN is short, so it is kept as an argon2 hash and wrong ones are slowed down. A badge is a hundred random bits that we give out
and never a text that someone chose: nobody can try them all, so its SHA-256 is enough, and finds the person in one look.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import re
import secrets
from dataclasses import dataclass

from labelsvc import choices
from labelsvc.errors import ConflictError, InputError, NotFoundError
from labelsvc.labels.content import LabelContent
from labelsvc.labels.draw import draw, lay_out
from labelsvc.labels.proof import prove
from labelsvc.labels.shelf import Shelf
from labelsvc.ledger import people
from labelsvc.ledger.database import Connection, Ledger
from labelsvc.ledger.people import Person

BADGE = "badge_86x54"
LONGEST_NAME = 60  # letters
FREE_TRIES = 5  # wrong PINs before the first wait
FIRST_WAIT = dt.timedelta(seconds=30)  # doubled with each further wrong one, up to the longest
LONGEST_WAIT = dt.timedelta(minutes=15)
_BADGE_DIGITS = 30  # 99.7 bits; even, so that Code 128 packs them in pairs
_BADGE = re.compile(rf"W[0-9]{{{_BADGE_DIGITS}}}", re.ASCII)
_PIN = re.compile(r"[0-9]{4,8}", re.ASCII)


@dataclass(frozen=True)
class Badge:
    """A badge as it leaves the printer; the text on it is kept nowhere.

    Args:
        text: what its symbols say.
        pdf: one page of the size of a bank card.
    """

    text: str
    pdf: bytes


def staff(ledger: Ledger) -> list[Person]:
    """Return everyone who works here or did, by name."""
    with ledger.reading() as connection:
        return people.everyone(connection)


def person_of(ledger: Ledger, number: int) -> Person:
    """Return the person of a number.

    Raises:
        NotFoundError: there is none.
    """
    with ledger.reading() as connection:
        return _known(connection, number)


def person_named(ledger: Ledger, name: str) -> Person:
    """Return the person of a name.

    Raises:
        NotFoundError: there is none.
    """
    with ledger.reading() as connection:
        found = people.by_name(connection, name)
    if found is None:
        raise NotFoundError("name", "the name of a person who is recorded", name, "Record them first.")
    return found


def add_person(ledger: Ledger, name: str, role: str = "bench_hand", pin: str = "") -> Person:
    """Record someone who works here.

    Args:
        ledger: where.
        name: as every fact will say it; one person a name.
        role: bench_hand, packer, responsible or reader; nothing depends on it yet.
        pin: 4 to 8 digits, or nothing.

    Raises:
        InputError: a name, role or PIN that cannot be; ConflictError: the name is taken.
    """
    name, role = _checked_name(name), choices.role(role)
    pin_hash = _hashed(pin) if pin else None
    with ledger.writing() as connection:
        _refuse_taken(connection, name, None)
        number = people.put_person(connection, name, role)
        people.change_person(connection, number, pin_hash=pin_hash)
        return _known(connection, number)


def change_person(ledger: Ledger, number: int, *, name: str, role: str, pin: str = "", left_on: dt.date | None = None) -> Person:
    """Change what is recorded of a person; a new PIN starts with no wrong ones.

    Args:
        ledger: where.
        number: of the person.
        name: as facts will say it from now on; earlier facts keep the old one.
        role: as of ``add_person``.
        pin: a new one; nothing leaves it as it is.
        left_on: first day on which they are not here any more; None if they work here.

    Raises: as of ``add_person``; NotFoundError: no such person.
    """
    name, role = _checked_name(name), choices.role(role)
    fresh: dict[str, str | int | None] = {"pin_hash": _hashed(pin), "wrong_pins": 0, "wait_until": None} if pin else {}
    with ledger.writing() as connection:
        _known(connection, number)
        _refuse_taken(connection, name, number)
        left = left_on.isoformat() if left_on else None
        people.change_person(connection, number, name=name, role=role, left_on=left, **fresh)
        return _known(connection, number)


def take_pin_away(ledger: Ledger, number: int) -> None:
    """Let a person sign in without a PIN: by a badge where there is one, else by the name alone."""
    with ledger.writing() as connection:
        _known(connection, number)
        people.change_person(connection, number, pin_hash=None, wrong_pins=0, wait_until=None)


def give_badge(ledger: Ledger, number: int, layouts: Shelf) -> Badge:
    """Return a new badge of a person, both symbols on it read again; an earlier one opens nothing from now on.

    Raises:
        NotFoundError: no such person; LayoutError: the name does not fit.
    """
    person = person_of(ledger, number)
    text = "W" + "".join(secrets.choice("0123456789") for _ in range(_BADGE_DIGITS))
    layout = layouts.layout(BADGE)
    placed = lay_out(layout, [LabelContent({"person": person.name, "code128": text, "qr": text})], language="en")
    pdf = draw(placed, title=f"Badge of {person.name}", language="en")
    prove(pdf, placed)
    with ledger.writing() as connection:
        people.change_person(connection, number, badge_digest=_digest(text))
    return Badge(text, pdf)


def is_badge(text: str) -> bool:
    """Tell whether what was scanned has the form of a badge."""
    return _BADGE.fullmatch(_bare(text)) is not None


def sign_in_by_badge(ledger: Ledger, text: str, today: dt.date) -> Person:
    """Return whose badge was scanned.

    Raises:
        InputError: nobody's, or of someone who left.
    """
    with ledger.reading() as connection:
        found = people.by_badge(connection, _digest(_bare(text)))
    if found is None or not found.is_here(today):
        raise InputError("badge", "the badge of someone who works here", "one that opens nothing", "A new one ends the old.")
    return found


def sign_in_by_pin(ledger: Ledger, number: int, pin: str, now: dt.datetime, today: dt.date) -> Person:
    """Return the person whose PIN was typed; after some wrong ones it waits, longer each time.

    Args:
        ledger: where.
        number: of the person.
        pin: as typed.
        now: the present, with a time zone.
        today: the workshop's day.

    Raises:
        NotFoundError: no such person, or they left.
        InputError: a wrong PIN, or one typed while it waits.
    """
    person, wait = _counted_try(ledger, number, now, today)
    if person.pin_hash is not None and _fits(person.pin_hash, pin):
        with ledger.writing() as connection:
            people.change_person(connection, number, wrong_pins=0, wait_until=None)
        return person
    hint = f"Wait {_said(wait)}, or scan the badge." if wait else "Forgotten? Someone else sets a new one under Cards, People."
    raise InputError("pin", f"the PIN of {person.name}", "another one", hint)


def _counted_try(ledger: Ledger, number: int, now: dt.datetime, today: dt.date) -> tuple[Person, dt.timedelta | None]:
    """Count a try as wrong before it is looked at, so that many at once gain nothing; a right one sets the count back."""
    with ledger.writing() as connection:
        person = _known(connection, number)
        if not person.is_here(today):
            raise NotFoundError("person", "someone who works here", f"{person.name}, who left on {person.left_on}")
        _refuse_waiting(person, now)
        wait = _wait_after(person.wrong_pins + 1)
        until = (now + wait).isoformat() if wait else None
        people.change_person(connection, number, wrong_pins=person.wrong_pins + 1, wait_until=until)
    return person, wait


def _refuse_waiting(person: Person, now: dt.datetime) -> None:
    if person.wait_until is not None and now < person.wait_until:
        left = _said(person.wait_until - now)
        raise InputError(
            "pin",
            f"a try in {left}",
            "one now",
            f"{person.wrong_pins} wrong PINs: wait, or scan the badge.",
        )


def _wait_after(wrong: int) -> dt.timedelta | None:
    doublings = wrong - FREE_TRIES
    return min(FIRST_WAIT * 2 ** min(doublings, 10), LONGEST_WAIT) if doublings >= 0 else None


def _said(wait: dt.timedelta) -> str:
    seconds = max(1, round(wait.total_seconds()))
    if seconds < 90:
        return f"{seconds} second{'' if seconds == 1 else 's'}"
    return f"{round(seconds / 60)} minutes"


def _known(connection: Connection, number: int) -> Person:
    found = people.by_number(connection, number)
    if found is None:
        raise NotFoundError("person", "someone who is recorded", f"number {number}")
    return found


def _checked_name(text: str) -> str:
    name = " ".join(text.split())
    if not 0 < len(name) <= LONGEST_NAME:
        raise InputError("name", f"a name of at most {LONGEST_NAME} letters", f"{len(name)} letters" if name else "nothing")
    return name


def _refuse_taken(connection: Connection, name: str, number: int | None) -> None:
    other = people.by_name(connection, name)
    if other is not None and other.number != number:
        raise ConflictError("name", "a name that nobody has yet", name, "Add the family name, or a letter of it.")


def _hashed(pin: str) -> str:
    import argon2  # signing in alone needs it

    if not _PIN.fullmatch(pin):
        raise InputError("pin", "4 to 8 digits", f"{len(pin)} characters")
    return argon2.PasswordHasher().hash(pin)


def _fits(pin_hash: str, pin: str) -> bool:
    import argon2

    try:
        return argon2.PasswordHasher().verify(pin_hash, pin)
    except argon2.exceptions.VerifyMismatchError:
        return False


def _digest(badge: str) -> str:
    return hashlib.sha256(badge.encode()).hexdigest()


def _bare(text: str) -> str:
    """A badge without what a scanner puts before it."""
    return re.sub(r"^\][A-Za-z][0-9]", "", text.strip()).upper()
