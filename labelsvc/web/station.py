"""What every view works with: the ledger, the layouts, the clock, and who asks."""

from __future__ import annotations

import datetime as dt
import ipaddress
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
from labelsvc.ledger.sign_ins import SignIn
from labelsvc.operations import accounts, looking, people
from labelsvc.operations.tray import Tray
from labelsvc.web.permissions import RESPONSIBLE

KEY = "labelsvc"
COOKIE = "labelsvc_sign_in"  # what a browser holds that was signed in; beside the session, so that a restart ends nothing
_FORWARDED = ("X-Forwarded-For", "X-Forwarded-Host", "X-Forwarded-Proto", "X-Real-IP", "Forwarded", "Via")
KEPT = 2000  # answers remembered for a second press of the same button


@dataclass(frozen=True)
class Visitor:
    """Who asks.

    Args:
        name: as facts say it; empty where nobody said it yet.
        role: what they may do, as of ``permissions``; empty for nothing but what anyone may.
        door: by which they came. ``open``: no account is made yet, and they sit at this machine. ``shut``: the same from
            elsewhere. ``own``: they signed this device in. ``station``: a bench that is signed in. ``token``: a program.
            ``none``: nobody we know.
        sign_in: of this browser.
    """

    name: str
    role: str
    door: str
    sign_in: SignIn | None = None

    @property
    def is_at_bench(self) -> bool:
        """Tell whether people share this browser."""
        return self.door in ("open", "station")


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
        tray: labels on their way to a printer, kept beside the ledger.
    """

    ledger: Ledger
    layouts: Shelf
    now: Callable[[], dt.datetime]
    idle: dt.timedelta
    tray: Tray
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


def visitor() -> Visitor:
    """Return who asks, found out once a request."""
    if "visitor" not in g:
        g.visitor = _visitor()
    found: Visitor = g.visitor
    return found


def who() -> str:
    """Return the name of who asks, as facts say it, or nothing."""
    return visitor().name


def is_this_machine() -> bool:
    """Tell whether who asks sits at this machine: asked for by a name of it, and passed on by nothing in between."""
    name, _, port = request.host.rpartition(":")
    host = (name if port.isdigit() else request.host).strip("[]")
    is_passed_on = any(header in request.headers for header in _FORWARDED)
    return not is_passed_on and _is_loopback(request.remote_addr or "") and (host == "localhost" or _is_loopback(host))


def _is_loopback(address: str) -> bool:
    try:
        return ipaddress.ip_address(address).is_loopback
    except ValueError:
        return False


def _visitor() -> Visitor:
    at, bearer = station(), request.authorization
    if request.blueprint == "api" and bearer is not None and bearer.type == "bearer":
        token = accounts.token_held(at.ledger, bearer.token or "", today())
        return Visitor(token.name, token.role, "token") if token else Visitor("", "", "none")
    if not accounts.has_accounts(at.ledger):
        return Visitor(_name_at_bench(), RESPONSIBLE, "open") if is_this_machine() else Visitor("", "", "shut")
    held = request.cookies.get(COOKIE)
    signed = accounts.sign_in_held(at.ledger, held, at.now(), today()) if held else None
    if signed is None:
        return Visitor("", "", "none")
    if not signed.is_station:
        return Visitor(signed.person.name, signed.person.role, "own", signed)
    person = _person_at_bench()
    return Visitor(person.name, person.role, "station", signed) if person else Visitor("", "", "station", signed)


def _person_at_bench() -> Person | None:
    """Who stands at this bench by PIN, badge or name, unless it was left alone."""
    person = next((one for one in staff() if one.number == session.get("person")), None)
    return None if person is None or _was_left_alone(person) else person


def _name_at_bench() -> str:
    """The name of who stands here; where nobody is recorded, one that was typed."""
    if "person" in session:
        person = _person_at_bench()
        return person.name if person else ""
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
