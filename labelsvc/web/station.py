"""What every view works with: the ledger, the layouts, the clock, and who stands at the bench."""

from __future__ import annotations

import datetime as dt
import threading
from collections import OrderedDict
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field

from flask import current_app, g, session

from labelsvc import facts
from labelsvc.labels.shelf import Shelf
from labelsvc.ledger.database import Ledger
from labelsvc.operations import looking

KEY = "labelsvc"
KEPT = 2000  # answers remembered for a second press of the same button


class Slip:
    """One form on its way: a second press waits for the first and gets its answer."""

    def __init__(self) -> None:
        self.lock = threading.Lock()
        self.went_to = ""


@dataclass
class Station:
    """The parts an application is made with.

    Args:
        ledger: the ledger.
        layouts: the label layouts at hand.
        now: the clock.
    """

    ledger: Ledger
    layouts: Shelf
    now: Callable[[], dt.datetime]
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


def who() -> str:
    """Return who stands at the bench, or nothing. Accounts will answer this in the place of the session."""
    return str(session.get("who", ""))


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
