"""What is kept of suppliers, buyers and complainants, how long it must and may be, and its erasure; the ledger stays whole."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Mapping
from dataclasses import dataclass

from labelsvc.errors import ConflictError, InputError, NotFoundError, StorageError
from labelsvc.facts import PERSONAL
from labelsvc.ledger import attachments, personal, read
from labelsvc.ledger.database import Connection, Ledger
from labelsvc.ledger.derive.bench import card_key
from labelsvc.ledger.follow_up import numbered
from labelsvc.ledger.replay import rebuild
from labelsvc.operations.cases import waiting_to_tell
from labelsvc.rules.load import MARKETS
from labelsvc.trace.record_keeping import Least, least, months_after


@dataclass(frozen=True)
class Kept:
    """Someone of whom something is kept, or was.

    Args:
        number: of the first fact that named them.
        name: as it is kept, or the words that stand in its place.
        last_day: on which a fact last named them.
        law: what each market asks for.
        until: first day on which it should be erased: the law's, or the workshop's own time where that is longer; None where
            no market has a rule and the workshop set no time.
        erased_on: the day it was erased, or None.
        sealed_before: facts that hold the name in the chain itself, from before it could be erased.
    """

    number: int
    name: str
    last_day: dt.date
    law: tuple[Least, ...]
    until: dt.date | None
    erased_on: dt.date | None = None
    sealed_before: tuple[int, ...] = ()

    @property
    def law_until(self) -> dt.date | None:
        """First day on which no market asks to keep it."""
        return max((one.until for one in self.law), default=None)

    def is_due(self, today: dt.date) -> bool:
        """Tell whether its time is over and it is still there."""
        return self.erased_on is None and self.until is not None and self.until <= today


@dataclass(frozen=True)
class Erased:
    """What came of an erasure.

    Args:
        words: that stand in the place of everything erased.
        photos: how many photos went with it.
        sealed_before: facts that still hold the name, sealed before it could be erased.
        is_wiped: whether the database also let go of its own traces.
    """

    words: str
    photos: int
    sealed_before: tuple[int, ...]
    is_wiped: bool


def kept(ledger: Ledger, today: dt.date, keep_months: int | None = None) -> list[Kept]:
    """Return everyone of whom something is kept or was erased, those due first, then by their last day.

    Args:
        ledger: where.
        today: the workshop's day.
        keep_months: how long the workshop keeps it after the last time; only the law's least counts if None.
    """
    with ledger.reading() as connection:
        found = _kept(connection, today, keep_months)
    return sorted(found, key=lambda one: (one.erased_on is not None, one.until or dt.date.max, one.number))


def kept_of(ledger: Ledger, who: str, today: dt.date, keep_months: int | None = None) -> Kept:
    """Return what is kept of one person.

    Args:
        ledger: where.
        who: the name, how to reach them (of a complaint), or the number of the first fact that named them.
        today: as of ``kept``.
        keep_months: as of ``kept``.

    Raises:
        NotFoundError: nothing is kept of anyone by that name.
    """
    with ledger.reading() as connection:
        return _found(_kept(connection, today, keep_months), who)


def erase(ledger: Ledger, who: str, today: dt.date, *, by: str, why: str = "") -> Erased:
    """Erase what is kept of one person, photos of their complaints among it; everything is derived anew, as by rebuild.

    Args:
        ledger: where.
        who: as of ``kept_of``.
        today: the workshop's day.
        by: who decided it.
        why: needed where the law's least time is not over.

    Raises:
        NotFoundError: nothing is kept of anyone by that name; ConflictError: it is erased already, or
            an open withdrawal or recall has them untold.
        InputError: the law's least time is not over and no reason is given.
    """
    with ledger.writing() as connection:
        one = _found(_kept(connection, today, None), who)
        if one.erased_on is not None:
            raise ConflictError("who", "someone of whom something is kept", f"{who}, erased on {one.erased_on}")
        case = waiting_to_tell(connection, one.name)
        if case is not None:
            expected = "someone who is told of every open withdrawal and recall"
            got = f"{one.name}, who waits to be told in {case}"
            raise ConflictError("who", expected, got, "Tell them first, or close the case.")
        if one.law_until is not None and today < one.law_until and not why.strip():
            asks = max(one.law, key=lambda least: least.until)
            raise InputError(
                "reason", f"a reason for erasing before {one.law_until}", "none", f"{asks.rule.citation}; {asks.rule.known}."
            )
        whose = next(row.whose for row in personal.whose_all(connection) if row.fact == one.number)
        words = personal.erase(connection, whose, today, by=by, why=why.strip())
        rebuild(connection)
        photos = _photos_of(connection, words)
        for digest in photos:
            attachments.erase_attachment(connection, digest, today)
    return Erased(words, len(photos), one.sealed_before, _is_wiped(ledger))


def _is_wiped(ledger: Ledger) -> bool:
    try:
        ledger.wipe_traces()
    except StorageError:  # someone else is at work in it: erased it is all the same
        return False
    return True


def _photos_of(connection: Connection, words: str) -> list[str]:
    bodies = [json.loads(row.body) for row in numbered(connection, "complaint")]
    return [digest for body in bodies if body["text"] == words for digest in body.get("photos", ())]


def _found(several: list[Kept], who: str) -> Kept:
    for one in several:
        if card_key(one.name) == card_key(who) or str(one.number) == who.strip():
            return one
    raise NotFoundError("who", "someone of whom something is kept", who, "See: labelsvc personal")


def _kept(connection: Connection, today: dt.date, keep_months: int | None) -> list[Kept]:
    named = _named(connection)
    business = {card_key(card["name"]): bool(card.get("business", True)) for card in read.cards(connection, "customer")}
    business |= {card_key(card["name"]): True for card in read.cards(connection, "supplier")}  # one step back, whoever it was
    products = read.cards(connection, "product")
    markets = [market for market in MARKETS if any(market in map(str.lower, one["markets"]) for one in products)]
    shelf = max((int(one["shelf_life_days"]) for one in products), default=0)
    found = []
    for row in personal.whose_all(connection):
        last, plain = named[row.whose]
        is_business = business.get(row.whose, False)
        law = tuple(least(markets, last, is_business=is_business, shelf_life_days=shelf, on=today))
        times = [*(one.until for one in law), *([] if keep_months is None else [months_after(last, keep_months)])]
        erased_on = dt.date.fromisoformat(row.erased_on) if row.erased_on else None
        found.append(Kept(row.fact, row.text, last, law, max(times, default=None), erased_on, plain))
    return found


def _named(connection: Connection) -> Mapping[str, tuple[dt.date, tuple[int, ...]]]:
    """Return for everyone the day on which a fact last named them, and the facts that hold the name itself."""
    whose = personal.whose_by_key(connection)
    days: dict[str, dt.date] = {}
    plain: dict[str, list[int]] = {}
    for seq, kind, day, given in personal.naming(connection):
        name = given.get(PERSONAL[kind][0])
        names = [card_key(name)] if isinstance(name, str) else []
        for one in names:
            plain.setdefault(one, []).append(seq)
        for one in [*names, *(whose[key] for key in personal.keys_in(given))]:
            days[one] = max(days.get(one, dt.date.min), day)
    return {one: (day, tuple(plain.get(one, ()))) for one, day in days.items()}
