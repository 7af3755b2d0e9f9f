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
from labelsvc.ledger.tries import forget_tries
from labelsvc.operations.tries import FREE_TRIES, count_try, said, set_back

BADGE = "badge_86x54"
LONGEST_NAME = 60  # letters
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
        return known(connection, number)


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
        role: bench_hand, packer, responsible or reader: what they may do.
        pin: 4 to 8 digits, or nothing.

    Raises:
        InputError: a name, role or PIN that cannot be; ConflictError: the name is taken.
    """
    name, role = checked_name(name), choices.role(role)
    pin_hash = _hashed(pin) if pin else None
    with ledger.writing() as connection:
        _refuse_taken(connection, name, None)
        number = people.put_person(connection, name, role)
        people.change_person(connection, number, pin_hash=pin_hash)
        return known(connection, number)


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
    name, role = checked_name(name), choices.role(role)
    fresh = {"pin_hash": _hashed(pin)} if pin else {}
    with ledger.writing() as connection:
        person = known(connection, number)
        _refuse_taken(connection, name, number)
        if role != "responsible" or left_on is not None:
            refuse_last(connection, person)
        left = left_on.isoformat() if left_on else None
        people.change_person(connection, number, name=name, role=role, left_on=left, **fresh)
        if pin:
            forget_tries(connection, [_pin_key(number)])
        return known(connection, number)


def take_pin_away(ledger: Ledger, number: int) -> None:
    """Let a person sign in without a PIN: by a badge where there is one, else by the name alone."""
    with ledger.writing() as connection:
        known(connection, number)
        people.change_person(connection, number, pin_hash=None)
        forget_tries(connection, [_pin_key(number)])


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
        people.change_person(connection, number, badge_digest=digest(text))
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
        found = people.by_badge(connection, digest(_bare(text)))
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
    key = _pin_key(number)
    with ledger.writing() as connection:
        person = known(connection, number)
        if not person.is_here(today):
            raise NotFoundError("person", "someone who works here", f"{person.name}, who left on {person.left_on}")
        wait = count_try(connection, "pin", {key: FREE_TRIES}, now, ", or scan the badge")
    if fits(person.pin_hash, pin):
        set_back(ledger, key)
        return person
    hint = f"Wait {said(wait)}, or scan the badge." if wait else "Forgotten? Someone else sets a new one under Cards, People."
    raise InputError("pin", f"the PIN of {person.name}", "another one", hint)


def _pin_key(number: int) -> str:
    return f"pin {number}"


def refuse_last(connection: Connection, person: Person) -> None:
    """Refuse to lose the last account that may change anything: nobody could open the door again from inside.

    Raises:
        ConflictError: it is the last one.
    """
    if person.password_hash is None or person.role != "responsible":
        return
    others = [one for one in people.everyone(connection) if one.role == "responsible" and one.password_hash and not one.left_on]
    if [one for one in others if one.number != person.number] == [] and person.left_on is None:
        raise ConflictError(
            "role", "at least one responsible person with a password", f"the last one, {person.name}",
            "Give another responsible person a password first.",
        )  # fmt: skip


def known(connection: Connection, number: int) -> Person:
    """Return the person of a number, in a transaction that is open already.

    Raises:
        NotFoundError: there is none.
    """
    found = people.by_number(connection, number)
    if found is None:
        raise NotFoundError("person", "someone who is recorded", f"number {number}")
    return found


def checked_name(text: str) -> str:
    """Return a name with its spaces closed up.

    Raises:
        InputError: nothing, or too long.
    """
    name = " ".join(text.split())
    if not 0 < len(name) <= LONGEST_NAME:
        raise InputError("name", f"a name of at most {LONGEST_NAME} letters", f"{len(name)} letters" if name else "nothing")
    return name


def _refuse_taken(connection: Connection, name: str, number: int | None) -> None:
    other = people.by_name(connection, name)
    if other is not None and other.number != number:
        raise ConflictError("name", "a name that nobody has yet", name, "Add the family name, or a letter of it.")


def _hashed(pin: str) -> str:
    if not _PIN.fullmatch(pin):
        raise InputError("pin", "4 to 8 digits", f"{len(pin)} characters")
    return hashed(pin)


def hashed(secret: str) -> str:
    """Return the argon2id hash of a secret that people type; slow to make, so slow to guess."""
    import argon2  # signing in alone needs it

    return argon2.PasswordHasher().hash(secret)


def fits(secret_hash: str | None, secret: str) -> bool:
    """Tell whether a secret is the one that was hashed; where there is none it takes as long to say no."""
    import argon2

    hasher = argon2.PasswordHasher()
    if secret_hash is None:
        hasher.hash(secret)
        return False
    try:
        return hasher.verify(secret_hash, secret)
    except argon2.exceptions.VerifyMismatchError:
        return False


def digest(secret: str) -> str:
    """Return the SHA-256 of a secret that we gave out at random: nobody can try them all, and it is found in one look."""
    return hashlib.sha256(secret.encode()).hexdigest()


def _bare(text: str) -> str:
    """A badge without what a scanner puts before it."""
    return re.sub(r"^\][A-Za-z][0-9]", "", text.strip()).upper()
