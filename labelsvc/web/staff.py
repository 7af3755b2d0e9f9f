"""The people of the workshop as cards: added, changed, given a PIN and a badge, and no longer let in once they left."""

from __future__ import annotations

import datetime as dt
from typing import Any

from flask import Blueprint, Response, flash, redirect, render_template, url_for
from werkzeug.wrappers import Response as BaseResponse

from labelsvc.ledger.people import Person
from labelsvc.operations import people
from labelsvc.operations.recording import Recorded
from labelsvc.web import moments, station
from labelsvc.web.accounts import ROLES
from labelsvc.web.api import day
from labelsvc.web.forms import Field, Form

pages = Blueprint("staff", __name__)

_FIELDS = (
    Field("name", "Name", hint="As every record will say it."),
    Field("role", "What they do", "choice", choices=ROLES, value="bench_hand"),
    Field("pin", "PIN", "secret", required=False, hint="4 to 8 digits. Without a PIN and a badge the name alone will do."),
)
NEW = Form(
    "person",
    "Someone who works here",
    _FIELDS,
    "Keep",
    "Once someone is recorded, whoever stands at the bench is chosen from these people: record yourself first.",
    when=False,
)
CHANGE = Form(
    "person",
    "Change",
    (
        *_FIELDS[:2],
        Field("pin", "New PIN", "secret", required=False, hint="4 to 8 digits. Leave empty to keep it as it is."),
        Field("left_on", "Not here any more from", "day", required=False, hint="From then on no PIN or badge of theirs counts."),
    ),
    "Keep",
    when=False,
)


@pages.get("/people")
def overview() -> str:
    """Show who works here."""
    return render_template("staff.html", people=people.staff(station.ledger()), today=station.today())


@pages.route("/people/new", methods=["GET", "POST"])
def add() -> moments.Answer:
    """Record someone."""

    def act(given: dict[str, Any], _confirmed: bool) -> Recorded:
        said = {name: str(given.get(name, "")) for name in ("name", "role", "pin")}
        return _kept(people.add_person(station.ledger(), **said))

    return moments.moment(NEW, _done, act=act, start={"name": "" if station.staff() else station.who()})


@pages.route("/people/<int:number>", methods=["GET", "POST"])
def change(number: int) -> moments.Answer:
    """Change what is recorded of someone."""
    person = people.person_of(station.ledger(), number)

    def act(given: dict[str, Any], _confirmed: bool) -> Recorded:
        said = {name: str(given.get(name, "")) for name in ("name", "role", "pin")}
        left: dt.date | None = day("left_on", given.get("left_on"))
        return _kept(people.change_person(station.ledger(), number, **said, left_on=left))

    start = {"name": person.name, "role": person.role, "left_on": person.left_on.isoformat() if person.left_on else ""}
    return moments.moment(CHANGE, _done, act=act, start=start, template="person.html", about=str(number), person=person)


@pages.post("/people/<int:number>/badge")
def badge(number: int) -> Response:
    """Give a new badge, to be printed at once: its text is kept nowhere."""
    at = station.station()
    made = people.give_badge(at.ledger, number, at.layouts)
    name = f"badge-{number}.pdf"
    return Response(made.pdf, mimetype="application/pdf", headers={"Content-Disposition": f'inline; filename="{name}"'})


@pages.post("/people/<int:number>/no-pin")
def no_pin(number: int) -> BaseResponse:
    """Let someone sign in without a PIN."""
    people.take_pin_away(station.ledger(), number)
    flash(f"{people.person_of(station.ledger(), number).name} signs in without a PIN.", "did")
    return redirect(url_for("staff.change", number=number))


def _kept(person: Person) -> Recorded:
    """Nothing of it is a fact: what a person is called and by what they sign in may have to go."""
    flash(f"{person.name}: kept.", "did")
    return Recorded(0, ())


def _done(_recorded: Recorded, _given: dict[str, Any]) -> BaseResponse:
    return redirect(url_for("staff.overview"))
