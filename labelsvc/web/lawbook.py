"""The rules in force, how each is known, and the workshop's own figures for those that lack one."""

from __future__ import annotations

from typing import Any

from flask import Blueprint, flash, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from labelsvc.curing.classes import compute_class
from labelsvc.errors import LabelsvcError
from labelsvc.operations import looking
from labelsvc.operations.lawbook import rules_in_force
from labelsvc.operations.recording import Recorded
from labelsvc.rules.load import MARKETS, PRACTICE
from labelsvc.web import moments, station
from labelsvc.web.api import day
from labelsvc.web.errors import status_of
from labelsvc.web.forms import Field, Form, problem_of, shown, typed

pages = Blueprint("lawbook", __name__)

_BOOLEANS = {"true": True, "false": False}
_YES_NO = (("", "Not said"), ("true", "Yes"), ("false", "No"))
_HEATED = (("", "Not said"), ("no", "No"), ("yes", "Yes, cooked"), ("sterilised", "Yes, sterilised in its pack (Fo 3 or more)"))
_WAYS = (
    ("", "Not said"),
    ("dry", "Dry, by weight"),
    ("dry_excess", "Dry, in excess salt"),
    ("pumped", "Pumped or massaged"),
    ("immersion", "In a cover pickle"),
)
_NAMED = (
    ("none", "No"),
    ("dry_cured_bacon", "Dry cured bacon"),
    ("dry_cured_ham", "Dry cured ham"),
    ("jamon_lomo_cecina", "Jamón, lomo embuchado, cecina"),
)
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


CLASS = Form(
    "class",
    "Class of the law",
    (
        Field("market", "Sold in", "choice", choices=tuple((market, market.upper()) for market in MARKETS)),
        Field("belly", "Is it belly?", "choice", choices=_YES_NO, required=False),
        Field("chopped", "Is the meat chopped or ground?", "choice", choices=_YES_NO, required=False),
        Field("heated", "Is it heated before it is sold?", "choice", choices=_HEATED, required=False),
        Field("way", "How is it cured?", "choice", choices=_WAYS, required=False),
        Field("named", "Is it sold as one of these, made by the words of the law?", "choice", choices=_NAMED, required=False),
        Field("matured_days", "Days it matures after the cure", "count", required=False, unit="days"),
        Field("sold", "Is it sold?", "choice", choices=_YES_NO, required=False),
    ),
    "Which class is it?",
    "What you leave open is answered cautiously. The class decides which limits count.",
    when=False,
)


@pages.route("/class", methods=["GET", "POST"])
def product_class() -> str | tuple[str, int]:
    """Ask plain questions, and say which class of the law follows."""
    back = typed(CLASS, request.form, station.units())
    answer, problem, status = None, None, 200
    if request.method == "POST":
        try:
            answer = compute_class({name: _BOOLEANS.get(str(value), value) for name, value in back.given.items()})
        except LabelsvcError as error:
            problem, status = problem_of(error, back.places), status_of(error)
    parts = shown(CLASS, request.form, station.units(), problem)
    page = render_template(
        "class.html", form=CLASS, parts=parts, problem=problem, answer=answer, lot=None, asked="", draft="class",
        card_names={}, suggestions={},
    )  # fmt: skip
    return page, status


@pages.get("/rules")
def rules() -> str:
    """Show the rules of a market on a day."""
    ledger = station.ledger()
    on = day("on", request.args.get("on")) or looking.today(ledger, station.now())
    market, about = request.args.get("market", "eu"), request.args.get("about", "nitrite")
    answer = rules_in_force(ledger, market, on, about)
    return render_template("rules.html", answer=answer, markets=(*MARKETS, PRACTICE), about=about)


@pages.route("/figure", methods=["GET", "POST"])
def figure() -> moments.Answer:
    """Enter a figure with its source."""

    def done(recorded: Recorded, given: dict[str, Any]) -> Response:
        flash(f"Kept: {given['value']} {given['unit']} for {given['rule']}. What it settles is no longer held.", "did")
        return redirect(url_for("lawbook.rules", market=given["rule"].partition(".")[0], about=given["rule"]))

    asked = {name: request.args.get(name, "") for name in ("rule", "unit")}
    return moments.moment(FIGURE, done, start={**asked, "by": station.who()}, about=asked["rule"])
