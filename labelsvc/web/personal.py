"""What is kept of suppliers and buyers and how long the law asks for it; the responsible person erases it here."""

from __future__ import annotations

from typing import Any

from flask import Blueprint, flash, redirect, render_template, url_for
from werkzeug.wrappers import Response

from labelsvc import settings
from labelsvc.operations import personal
from labelsvc.operations.recording import Recorded
from labelsvc.web import moments, station
from labelsvc.web.forms import Field, Form

pages = Blueprint("personal", __name__)

ERASE = Form(
    "erase",
    "Erase what is kept",
    (Field("reason", "Why", "long", required=False, hint="Needed where the law asks to keep it longer."),),
    "Erase it for good",
    "Name, address, how to reach them, what they wrote and were answered, and photos. Nobody can bring it back, and whoever is "
    "erased cannot be told in a recall. Weights, codes and days stay. Backups taken before hold it until you throw them away. "
    "Do it after work: all is derived anew, a minute or more for every few years, and nothing can be recorded meanwhile.",
    when=False,
)


@pages.get("/personal")
def overview() -> str:
    """Show of whom something is kept, and until when."""
    found = personal.kept(station.ledger(), station.today(), settings.keep_months())
    return render_template("personal.html", kept=found, today=station.today(), keep_months=settings.keep_months())


@pages.route("/personal/<int:number>", methods=["GET", "POST"])
def erase(number: int) -> moments.Answer:
    """Show what the law asks for, and erase it."""
    one = personal.kept_of(station.ledger(), str(number), station.today(), settings.keep_months())

    def act(given: dict[str, Any], _confirmed: bool) -> Recorded:
        why = str(given.get("reason", ""))
        done = personal.erase(station.ledger(), str(number), station.today(), by=station.who(), why=why)
        flash(f"Erased, {done.photos} photos with it. In its place stands: {done.words}", "did")
        if done.sealed_before:
            numbers = ", ".join(map(str, done.sealed_before))
            flash(f"Sealed before it could be erased, the name still stands in fact {numbers}.", "note")
        return Recorded(0, ())

    return moments.moment(ERASE, _done, act=act, template="erase.html", about=str(number), one=one, today=station.today())


def _done(_recorded: Recorded, _given: dict[str, Any]) -> Response:
    return redirect(url_for("personal.overview"))
