"""Signing in by a password, on a device of one's own or at a bench that all share; what is signed in; tokens of programs."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import Any

from flask import Blueprint, flash, make_response, redirect, render_template, request, session, url_for
from werkzeug.wrappers import Response

from labelsvc.errors import InputError, LabelsvcError, NotAllowedError
from labelsvc.ledger.people import Person
from labelsvc.operations import accounts, people
from labelsvc.web import station
from labelsvc.web.api import day
from labelsvc.web.errors import status_of
from labelsvc.web.forms import Field, Form, problem_of, shown, typed
from labelsvc.web.people import onward
from labelsvc.web.permissions import RESPONSIBLE, in_words

pages = Blueprint("accounts", __name__)

Answer = Response | str | tuple[str, int]
ROLES = (
    ("bench_hand", "Works at the bench"),
    ("packer", "Packs and sells"),
    ("responsible", "Responsible person"),
    ("reader", "Only reads, such as an inspector"),
)
_HINT = f"At least {accounts.SHORTEST} letters. Three or four words of your own are easy to keep."
NEW_PASSWORD = Field("new_password", "New password", "password", hint=_HINT)
_DEVICE = Field(
    "device", "What is this device called?", required=False, hint="Such as: tablet at the slicer. It stands in the list."
)
_SIGN_IN_AS = (("own", "A device of my own"), ("station", "A bench that all share, by PIN and badge"))
SIGN_IN = Form(
    "sign_in",
    "Sign in",
    (
        Field("name", "Name"),
        Field("password", "Password", "password"),
        Field("as", "This device is", "choice", choices=_SIGN_IN_AS),
        _DEVICE,
    ),
    "Sign in",
    when=False,
)
FIRST = Form(
    "first_account",
    "The responsible person",
    (Field("name", "Your name", hint="As every record will say it."), NEW_PASSWORD),
    "Make the account",
    "Until this account is there, whoever sits at this machine may do everything, and nobody else anything. From then on "
    "everyone signs in.",
    when=False,
)
PASSWORD = Form(
    "own_password",
    "Your account",
    (Field("password", "Password now", "password"), NEW_PASSWORD),
    "Change it",
    when=False,
)
TOKEN = Form(
    "token",
    "Make a token",
    (
        Field("name", "What is it for?", hint="Such as: scale in the cold room. What it records says so."),
        Field("role", "It may do what this person may", "choice", choices=ROLES, value="reader"),
        Field("until", "Ends on", "day", hint="At most a year from now."),
    ),
    "Make the token",
    when=False,
)


@pages.route("/sign-in", methods=["GET", "POST"])
def sign_in() -> Answer:
    """Ask for name and password."""
    at, door = station.station(), station.visitor().door
    if door == "shut" or (request.method == "GET" and door != "none"):
        return redirect("/" if door == "shut" else onward())  # which says why nothing opens yet

    def act(given: dict[str, Any]) -> Response:
        person = accounts.check_password(
            at.ledger, str(given.get("name", "")), request.form.get("password", ""), request.remote_addr or "", at.now(),
            station.today(),
        )  # fmt: skip
        is_station = given.get("as") == "station"
        if is_station and person.role != RESPONSIBLE:
            raise NotAllowedError("as", in_words(RESPONSIBLE), f"{person.name}, {in_words(person.role)}", "They sign a bench in.")
        return _signed_in(person, str(given.get("device") or _device_in_words()), is_station)

    return _asked(SIGN_IN, act, template="sign_in.html", onward=onward())


@pages.route("/first-account", methods=["GET", "POST"])
def first() -> Answer:
    """Make the first account, at this machine only."""
    if station.visitor().door != "open":
        return redirect(url_for("accounts.sign_in"))

    def act(given: dict[str, Any]) -> Response:
        person = accounts.make_first_account(station.ledger(), str(given.get("name", "")), _new_password())
        flash("The account is made. Next: give everyone who works here a PIN or badge, and sign the benches in.", "did")
        return _signed_in(person, _device_in_words(), False)

    return _asked(FIRST, act, start={"name": station.who()})


@pages.route("/account", methods=["GET", "POST"])
def mine() -> Answer:
    """Show who is signed in here, and change the own password."""
    at, visitor = station.station(), station.visitor()

    def act(given: dict[str, Any]) -> Response:
        if visitor.sign_in is None or visitor.door != "own":
            raise NotAllowedError("password", "a device of your own", "a bench that all share", "Sign in on your own device.")
        checked = accounts.check_password(
            at.ledger, visitor.name, request.form.get("password", ""), request.remote_addr or "", at.now(), station.today()
        )
        accounts.set_password(at.ledger, checked.number, _new_password(), at.now(), keep=visitor.sign_in.number)
        flash("The password is changed. Your other devices are signed out.", "did")
        return redirect(url_for("accounts.mine"))

    return _asked(PASSWORD, act, template="account.html", role=in_words(visitor.role))


@pages.route("/people/<int:number>/password", methods=["GET", "POST"])
def password(number: int) -> Answer:
    """Set a person's password."""
    person = people.person_of(station.ledger(), number)

    def act(_given: dict[str, Any]) -> Response:
        signed = station.visitor().sign_in
        keep = signed.number if signed is not None and signed.person.number == number else None
        accounts.set_password(station.ledger(), number, _new_password(), station.now(), keep=keep)
        flash(f"{person.name} has a new password. What {person.name} had signed in is signed out.", "did")
        return redirect(url_for("staff.overview"))

    form = Form("set_password", f"Password of {person.name}", (NEW_PASSWORD,), "Set it", when=False)
    return _asked(form, act)


@pages.post("/sign-out")
def sign_out() -> Response:
    """Sign this browser out."""
    signed = station.visitor().sign_in
    if signed is not None:
        accounts.end_sign_in(station.ledger(), signed.number, station.now())
    session.clear()
    answer = redirect(url_for("accounts.sign_in"))
    answer.delete_cookie(station.COOKIE)
    return answer


@pages.get("/sign-ins")
def signed_in() -> str:
    """Show what is signed in."""
    found = accounts.signed_in(station.ledger(), station.now(), station.today())
    return render_template("sign_ins.html", sign_ins=found, ago=lambda one: _ago(station.now() - one.seen_at))


@pages.post("/sign-ins/<int:number>/end")
def end(number: int) -> Response:
    """Sign a browser out that is somewhere else, or lost."""
    accounts.end_sign_in(station.ledger(), number, station.now())
    flash("Signed out. It can do nothing more until someone signs it in again.", "did")
    return redirect(url_for("accounts.signed_in"))


@pages.route("/tokens", methods=["GET", "POST"])
def tokens() -> Answer:
    """Show the tokens of programs, and make one: it is shown once."""
    at = station.station()

    def act(given: dict[str, Any]) -> Response:
        until = day("until", given.get("until"))
        if until is None:
            raise InputError("until", "the day it ends on", "nothing")
        said = {name: str(given.get(name, "")) for name in ("name", "role")}
        made = accounts.make_token(
            at.ledger, **said, ends_on=until, made_by=station.who(), now=at.now(), today=station.today()
        )  # fmt: skip
        return make_response(render_template("token.html", made=made))

    return _asked(TOKEN, act, template="tokens.html", tokens=accounts.tokens(at.ledger), today=station.today())


@pages.post("/tokens/<int:number>/end")
def end_token(number: int) -> Response:
    """End a token."""
    accounts.end_token(station.ledger(), number, station.now())
    flash("The token opens nothing any more.", "did")
    return redirect(url_for("accounts.tokens"))


def _asked(form: Form, act: Callable[[dict[str, Any]], Response], *, template: str = "form.html", **context: Any) -> Answer:
    """Show a form, or do what came back of it; nothing of it is a fact, and no secret stands on the page again."""
    start, problem, status = context.pop("start", {}), None, 200
    if request.method == "POST":
        back = typed(form, request.form, station.units())
        start = request.form
        try:
            return act(back.given)
        except LabelsvcError as error:
            problem, status = problem_of(error, back.places), status_of(error)
    page = render_template(
        template, form=form, parts=shown(form, start, station.units(), problem), problem=problem, asked="", draft=form.kind,
        card_names={}, suggestions={}, lot=None, **context,
    )  # fmt: skip
    return page, status


def _new_password() -> str:
    return request.form.get("new_password", "")


def _signed_in(person: Person, device: str, is_station: bool) -> Response:
    """Begin a session of its own: nothing of what was there before the sign-in goes on."""
    at = station.station()
    text = accounts.begin_sign_in(at.ledger, person, device, is_station, at.now())
    remembered = session.get("people", [])
    flashed = session.get("_flashes", [])
    session.clear()
    session.update({"people": remembered, "_flashes": flashed})
    session.permanent = True
    answer = redirect(onward())
    answer.set_cookie(
        station.COOKIE, text, max_age=accounts.STATION_LASTS, httponly=True, samesite="Lax", secure=request.is_secure
    )  # fmt: skip
    return answer


def _device_in_words() -> str:
    """What kind of device asks, as its browser says."""
    said = request.headers.get("User-Agent", "")
    kinds = ("iPhone", "iPad", "Android", "Windows", "Macintosh", "Linux")
    return next((kind for kind in kinds if kind in said), "some device")


def _ago(passed: dt.timedelta) -> str:
    minutes = int(passed.total_seconds() // 60)
    if minutes <= 5:
        return "now"
    if minutes < 120:
        return f"{minutes} minutes ago"
    return f"{minutes // 60} hours ago" if minutes < 48 * 60 else f"{minutes // 60 // 24} days ago"
