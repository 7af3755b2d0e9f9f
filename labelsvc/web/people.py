"""Who stands at the bench: a badge, a PIN, or a name alone where nobody is recorded; every fact says it.

A badge goes into the box that every page has, and leads back to the page it was scanned on; what was typed there is a draft of
that device and stands there again.
"""

from __future__ import annotations

from flask import Blueprint, redirect, render_template, request, session, url_for
from werkzeug.wrappers import Response

from labelsvc.errors import InputError
from labelsvc.ledger.people import Person
from labelsvc.operations import looking
from labelsvc.operations import people as staff
from labelsvc.operations.people import LONGEST_NAME
from labelsvc.web import station
from labelsvc.web.errors import status_of, told
from labelsvc.web.permissions import RESPONSIBLE

pages = Blueprint("people", __name__)
MOST_REMEMBERED = 6  # people of this station, the last one first
BY_BUYER = "a buyer"  # who records what comes in by the buyer's page; nobody who stands at the bench

Answer = str | Response | tuple[str, int]


@pages.get("/who")
def choose() -> str:
    """Show who works here, or the names seen so far."""
    return _chooser()


@pages.post("/who")
def chosen() -> Answer:
    """Take the name; who has a PIN is asked for it next."""
    if station.staff():
        return _staff_chosen()
    name = " ".join((request.form.get("other") or request.form.get("name") or "").split())
    if not 0 < len(name) <= LONGEST_NAME:
        return _chooser(f"Choose a name or type one of at most {LONGEST_NAME} letters."), 400
    session.pop("person", None)
    session["who"] = name
    return _signed_in(name)


@pages.get("/who/<int:number>")
def pin(number: int) -> str:
    """Show the PIN pad of a person."""
    return render_template("pin.html", person=staff.person_of(station.ledger(), number), onward=onward(), problem="")


@pages.post("/who/<int:number>")
def pin_typed(number: int) -> Answer:
    """Sign a person in by the PIN."""
    at = station.station()
    try:
        person = staff.sign_in_by_pin(at.ledger, number, request.form.get("pin", ""), at.now(), station.today())
    except InputError as error:
        person = staff.person_of(at.ledger, number)
        return render_template("pin.html", person=person, onward=onward(), problem=told(error)), status_of(error)
    return sign_in(person)


@pages.post("/leave")
def leave() -> Response:
    """Forget who stood here; whoever comes next is led back to the same page."""
    for name in ("who", "person", "seen"):
        session.pop(name, None)
    return redirect(url_for("people.choose", onward=onward()))


def sign_in_by_badge(text: str) -> Answer:
    """Sign in whose badge was scanned, and lead back to the page it was scanned on."""
    try:
        return sign_in(staff.sign_in_by_badge(station.ledger(), text, station.today()))
    except InputError as error:
        return _chooser(told(error)), status_of(error)


def sign_in(person: Person) -> Response:
    """Keep who stands at this bench."""
    session.pop("who", None)
    session["person"] = person.number
    station.was_seen()
    return _signed_in(person.name)


def _signed_in(name: str) -> Response:
    session["people"] = [name, *(one for one in _remembered() if one != name)][:MOST_REMEMBERED]
    session.permanent = True
    return redirect(onward())


def _staff_chosen() -> Answer:
    number = request.form.get("number", "")
    person = next((one for one in station.staff() if str(one.number) == number), None)
    if person is None:
        return _chooser("Choose who you are, or scan your badge into the box above."), 400
    if person.pin_hash is not None:
        return redirect(url_for("people.pin", number=person.number, onward=onward()))
    if person.badge_digest is not None:
        return _chooser(f"{person.name} has a badge: scan it into the box above."), 400
    if person.role == RESPONSIBLE and station.visitor().door == "station":
        return _chooser(
            f"{person.name} decides, so the name alone will not do: a PIN or badge is given under Cards, People."
        ), 400
    return sign_in(person)


def _chooser(problem: str = "") -> str:
    last = _remembered()
    people = sorted(station.staff(), key=lambda one: last.index(one.name) if one.name in last else len(last))
    names = [] if people else _names()
    return render_template("who.html", people=people, names=names, onward=onward(), problem=problem)


def _remembered() -> list[str]:
    return [str(one) for one in session.get("people", [])]


def _names() -> list[str]:
    """Return the last people of this station, then the others seen in the facts."""
    seen = [one for one in looking.people(station.ledger()) if one != BY_BUYER]
    return list(dict.fromkeys([*_remembered(), *seen]))


def onward() -> str:
    """Return where the person wanted to go: a page of ours, nothing else."""
    wanted = request.values.get("onward", "/")
    return wanted if wanted.startswith("/") and not wanted.startswith(("//", "/\\")) else "/"
