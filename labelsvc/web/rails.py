"""A counted lot over several rails: how many and what weight on each, one press, and a tag for every rail."""

from __future__ import annotations

from typing import Any

from flask import Blueprint, redirect, request, session, url_for
from werkzeug.wrappers import Response

from labelsvc.operations.rails import string_over_rails
from labelsvc.operations.recording import Recorded
from labelsvc.web import moments, station
from labelsvc.web.forms import Field, Form, Rows
from labelsvc.web.hanging import print_tag

pages = Blueprint("rails", __name__)

FORM = Form(
    "rails",
    "String over several rails",
    (
        Field("from", "Which lot", "lot", hint="A lot of several pieces."),
        Field("place", "Hang in", suggest="rooms"),
        Rows(
            "rails",
            "Rails",
            (
                Field("count", "How many", "count"),
                Field("weight", "On the scale", "weight", unit="g"),
                Field("tare", "String and net", "weight", required=False, unit="g"),
            ),
            "One more rail",
            start=2,
            hint="Each weighed with string and net; left empty, those are the product's for every piece.",
        ),
    ),
    "Record and print a tag for each rail",
    "Every rail gets a code, a tag and a stop weight of its own, and is weighed by itself from then on.",
    when=False,
)


@pages.route("/rails", methods=["GET", "POST"])
def string() -> moments.Answer:
    """String a counted lot over several rails."""
    asked = request.values.get("from", "")

    def act(given: dict[str, Any], confirmed: bool) -> Recorded:
        return string_over_rails(station.ledger(), given, now=station.now(), who=station.who(), confirmed=confirmed)

    def done(recorded: Recorded, given: dict[str, Any]) -> Response:
        session["place"] = given["place"]
        for code in recorded.codes:
            print_tag(code)
        return redirect(url_for("hanging.string", tag=recorded.codes))

    start = {"from": asked, "place": session.get("place", "")}
    return moments.moment(FORM, done, act=act, start=start, about=asked, lot=moments.lot_found(asked))
