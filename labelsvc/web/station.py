"""What every view works with: the ledger, the layouts, the clock, and who stands at the bench."""

from __future__ import annotations

import datetime as dt
import threading
from collections import OrderedDict
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field

from flask import current_app, g, request, session

from labelsvc import facts
from labelsvc.labels.shelf import Shelf
from labelsvc.ledger.database import Ledger
from labelsvc.ledger.people import Person
from labelsvc.operations import looking, people

KEY = "labelsvc"
KEPT = 2000  # answers remembered for a second press of the same button


class Slip:
    """One form on its way: a second press waits for the first and gets its answer."""

    def __init__(self) -> None:
        self.lock = threading.Lock()
        self.went_to = ""
        self.said = ""


@dataclass
class Station:
    """The parts an application is made with.

    Args:
        ledger: the ledger.
        layouts: the label layouts at hand.
        now: the clock.
        idle: how long a bench may be left alone before it asks again who is there; zero for ever.
    """

    ledger: Ledger
    layouts: Shelf
    now: Callable[[], dt.datetime]
    idle: dt.timedelta
    _slips: OrderedDict[str, Slip] = field(default_factory=OrderedDict)
    _lock: threading.Lock = field(default_factory=threading.Lock)

    @contextmanager
    def once(self, token: str) -> Iterator[Slip]:
        """Give the slip of a form, alone: what a wet finger presses twice is recorded once."""
        with self._lock:
            slip = self._slips.setdefault(token, Slip()) if token else Slip()
            while len(self._slips) > KEPT:
                self._slips.popitem(last=False)
        with slip.lock:
            yield slip


def station() -> Station:
    """Return the station of this application."""
    found: Station = current_app.extensions[KEY]
    return found


def ledger() -> Ledger:
    """Return the ledger."""
    return station().ledger


def now() -> dt.datetime:
    """Return the present."""
    return station().now()


def today() -> dt.date:
    """Return the workshop's day, read once a request."""
    if "today" not in g:
        g.today = looking.today(ledger(), now())
    found: dt.date = g.today
    return found


def staff() -> list[Person]:
    """Return who works here today, read once a request; nobody where names alone will do."""
    if "staff" not in g:
        everyone = people.staff(ledger())
        g.staff = [one for one in everyone if one.is_here(today())] if everyone else []
    found: list[Person] = g.staff
    return found


def once_key() -> str:
    """Return the key under which what this form says is recorded once: a second press, or one after a restart, is safe."""
    return request.form.get("once", "")


def who() -> str:
    """Return who stands at the bench, or nothing."""
    if "person" in session:
        person = next((one for one in staff() if one.number == session["person"]), None)
        return "" if person is None or _was_left_alone(person) else person.name
    name = str(session.get("who", ""))
    return "" if name and staff() else name


def was_seen() -> None:
    """Remember that someone who signed in did something just now."""
    if "person" in session:
        session["seen"] = int(now().timestamp())


def _was_left_alone(person: Person) -> bool:
    """Tell whether nobody did anything here for too long; a name without any secret is asked only once."""
    is_asked = bool(person.pin_hash or person.badge_digest) and bool(station().idle)
    return is_asked and now().timestamp() - session.get("seen", 0) > station().idle.total_seconds()


def here() -> str:
    """Return the address of this page, to come back to; the first page where it cannot be opened again."""
    can_open = request.url_rule is not None and "GET" in (request.url_rule.methods or ())
    return request.full_path.rstrip("?") if can_open else "/"


def workshop() -> facts.Workshop | None:
    """Return the workshop, read once a request, or None where none is recorded yet."""
    if "workshop" not in g:
        g.workshop = looking.workshop_card(ledger())
    found: facts.Workshop | None = g.workshop
    return found


def units() -> dict[str, str]:
    """Return the units a bare number is taken in: grams and kilograms, ounces and pounds in the US."""
    card = workshop()
    return {"g": "oz", "kg": "lb"} if card and card.country == "US" else {"g": "g", "kg": "kg"}
