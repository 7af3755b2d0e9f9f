"""The rules in force, how each is known, and the workshop's own figures for those that lack one."""

from __future__ import annotations

from typing import Any

from flask import Blueprint, flash, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from labelsvc.operations import looking
from labelsvc.operations.lawbook import rules_in_force
from labelsvc.operations.recording import Recorded
from labelsvc.rules.load import MARKETS
from labelsvc.web import moments, station
from labelsvc.web.api import day
from labelsvc.web.forms import Field, Form

pages = Blueprint("lawbook", __name__)

FIGURE = Form(
    "figure",
    "Enter a figure of the law",
    (
        Field("rule", "Rule", hint="As the list of rules names it."),
        Field("value", "Figure", "decimal"),
        Field("unit", "Unit", hint="That of the rule."),
        Field("source", "Where you read it", "long", hint="Instrument, article, edition; or who told you, and when."),
        Field("by", "The responsible person"),
    ),
    "Keep the figure",
    "It counts from now on in this workshop, as a figure at second hand: over it, nothing may be sold.",
)


@pages.get("/rules")
def rules() -> str:
    """Show the rules of a market on a day."""
    ledger = station.ledger()
    on = day("on", request.args.get("on")) or looking.today(ledger, station.now())
    market, about = request.args.get("market", "eu"), request.args.get("about", "nitrite")
    answer = rules_in_force(ledger, market, on, about)
    return render_template("rules.html", answer=answer, markets=MARKETS, about=about)


@pages.route("/figure", methods=["GET", "POST"])
def figure() -> moments.Answer:
    """Enter a figure with its source."""

    def done(recorded: Recorded, given: dict[str, Any]) -> Response:
        flash(f"Kept: {given['value']} {given['unit']} for {given['rule']}. What it settles is no longer held.", "did")
        return redirect(url_for("lawbook.rules", market=given["rule"].partition(".")[0], about=given["rule"]))

    asked = {name: request.args.get(name, "") for name in ("rule", "unit")}
    return moments.moment(FIGURE, done, start={**asked, "by": station.who()}, about=asked["rule"])
