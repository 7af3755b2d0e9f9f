"""A counted lot over several rails: how many and what weight on each, one press, and a tag for every rail."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, cast

from flask import Blueprint, flash, redirect, request, session, url_for
from werkzeug.wrappers import Response

from labelsvc.operations import looking
from labelsvc.operations.rails import string_over_rails, weigh_rails
from labelsvc.operations.recording import Recorded
from labelsvc.web import moments, station
from labelsvc.web.forms import Field, Form, Rows
from labelsvc.web.hanging import print_tags

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
)


@pages.route("/rails", methods=["GET", "POST"])
def string() -> moments.Answer:
    """String a counted lot over several rails."""
    asked = request.values.get("from", "")

    def act(given: dict[str, Any], confirmed: bool) -> Recorded:
        return string_over_rails(station.ledger(), {**given, "ask": True}, **_said(confirmed))

    def done(recorded: Recorded, given: dict[str, Any]) -> Response:
        session["place"] = given["place"]
        return redirect(url_for("hanging.string", tag=recorded.codes, sent=print_tags(recorded.codes)))

    start = {"from": asked, "place": session.get("place", "")}
    return moments.moment(FORM, done, act=act, start=start, about=asked, lot=moments.lot_found(asked))


WEIGH = Form(
    "weigh",
    "Weigh the rails",
    (
        Rows(
            "rails",
            "Rails",
            (Field("piece", "Rail", "lot", carried=True), Field("weight", "On the scale", "weight", required=False, unit="g")),
            "",
            start=0,
            hint="Each as it hangs, string included. One that is not weighed now stays empty.",
        ),
    ),
    "Record the weights",
)


@pages.route("/weigh-rails", methods=["GET", "POST"])
def weigh() -> moments.Answer:
    """Weigh what hangs of a lot over several rails, in one go."""
    lot = request.args.get("of", "")
    hanging = [one for one in looking.standings(station.ledger()) if one.lot.parent == lot and one.lot.phase == "hanging"]
    hanging.sort(key=lambda one: one.lot.code)
    titles = tuple(f"{one.lot.place} · {one.lot.count or 1} pieces · last {one.on_scale} g" for one in hanging)
    form = replace(WEIGH, parts=(replace(cast(Rows, WEIGH.parts[0]), titles=titles),))

    def act(given: dict[str, Any], confirmed: bool) -> Recorded:
        return weigh_rails(station.ledger(), given, **_said(confirmed))

    def done(recorded: Recorded, given: dict[str, Any]) -> Response:
        flash(f"{len(given['rails'])} of {len(hanging)} rails are weighed.", "did")
        return redirect(url_for("hanging.weigh"))

    start = {f"rails-{place}-piece": one.lot.code for place, one in enumerate(hanging)}
    return moments.moment(form, done, act=act, start=start, about=lot)


def _said(confirmed: bool) -> dict[str, Any]:
    return {"now": station.now(), "who": station.who(), "confirmed": confirmed, "once": station.once_key()}
