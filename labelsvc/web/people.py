"""Who stands at the bench: a name chosen or typed once, and every fact says it. Accounts will take this module's place."""

from __future__ import annotations

from flask import Blueprint, Flask, redirect, render_template, request, session, url_for
from werkzeug.wrappers import Response

from labelsvc.operations import looking
from labelsvc.web import station

pages = Blueprint("people", __name__)
LONGEST = 60  # characters of a name
MOST_REMEMBERED = 6  # people of this station, the last one first
BY_BUYER = "a buyer"  # who records what comes in by the buyer's page; nobody who stands at the bench
_OPEN = ("people", "public", "api", None)  # what anyone may ask for; None is a page that does not exist


def install(app: Flask) -> None:
    """Ask for a name before anything of the workshop is shown."""
    app.before_request(_ask_who)
    app.context_processor(lambda: {"who": station.who, "workshop": station.workshop})


@pages.get("/who")
def choose() -> str:
    """Show the names seen so far."""
    return render_template("who.html", names=_names(), onward=_onward(), problem="")


@pages.post("/who")
def chosen() -> Response | tuple[str, int]:
    """Keep the name for this browser."""
    name = " ".join((request.form.get("other") or request.form.get("name") or "").split())
    if not 0 < len(name) <= LONGEST:
        problem = f"Choose a name or type one of at most {LONGEST} letters."
        return render_template("who.html", names=_names(), onward=_onward(), problem=problem), 400
    session["who"] = name
    session["people"] = [name, *(one for one in _remembered() if one != name)][:MOST_REMEMBERED]
    session.permanent = True
    return redirect(_onward())


@pages.post("/leave")
def leave() -> Response:
    """Forget who stood here."""
    session.pop("who", None)
    return redirect(url_for("people.choose"))


def _remembered() -> list[str]:
    return [str(one) for one in session.get("people", [])]


def _names() -> list[str]:
    """Return the last people of this station, then the others seen in the facts."""
    seen = [one for one in looking.people(station.ledger()) if one != BY_BUYER]
    return list(dict.fromkeys([*_remembered(), *seen]))


def _onward() -> str:
    """Return where the person wanted to go: a page of ours, nothing else."""
    wanted = request.values.get("onward", "/")
    return wanted if wanted.startswith("/") and not wanted.startswith(("//", "/\\")) else "/"


def _ask_who() -> Response | None:
    if request.blueprint in _OPEN or station.who():
        return None
    wanted = request.full_path.rstrip("?") if request.method == "GET" else "/"
    return redirect(url_for("people.choose", onward=wanted))
