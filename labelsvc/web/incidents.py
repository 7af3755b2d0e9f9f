"""When something went wrong: an incident holds what it touches, and someone decides for each whether it may go on."""

from __future__ import annotations

from typing import Any

from flask import Blueprint, flash, redirect, request, url_for
from werkzeug.wrappers import Response

from labelsvc.errors import InputError
from labelsvc.ledger.state import LotState
from labelsvc.operations import looking
from labelsvc.operations.recording import Recorded, record_all
from labelsvc.web import moments, station
from labelsvc.web.forms import Field, Form, Rows

pages = Blueprint("incidents", __name__)

NAMELESS = ("Lost tag", "Swapped tags")  # after these a piece may not be known any more for certain
_KINDS = ("Power cut", "Fridge or room too warm", "Fall", "Mould", "Pest", "Broken glass or metal", *NAMELESS, "Something else")
_WHAT = (
    Field("kind", "What happened", "choice", choices=tuple((kind, kind) for kind in _KINDS)),
    Field("words", "More about it", required=False, hint="Such as: 14 °C in the morning; the tag lay on the floor."),
)
FORMS = {
    "place": Form(
        "incident",
        "Something happened in a place",
        (
            *_WHAT,
            Field("place", "Where", suggest="places", hint="Room, rack, fridge or tub."),
            Field("from", "From", "time"),
            Field("to", "Until", "time", required=False, hint="Leave empty where it goes on."),
        ),
        "Record it and hold what was there",
        "Everything that was there in that time is held until someone decides.",
    ),
    "lots": Form(
        "incident",
        "Something happened to pieces",
        (*_WHAT, Field("lots", "Which", "codes", hint="Codes or markers, one a line.")),
        "Record it and hold these",
        "They are held until someone decides.",
    ),
}
_DECISIONS = (("", "Stays held"), ("lift", "May go on"), ("destroyed", "Destroyed"))


@pages.route("/incident", methods=["GET", "POST"])
def incident() -> moments.Answer:
    """Record an incident, by place and time or by lots."""
    asked = request.args.getlist("lots")
    by = request.args.get("by") or ("lots" if asked else "place")
    by = by if by in FORMS else "place"

    def act(given: dict[str, Any], confirmed: bool) -> Recorded:
        words = [given.pop(name, "") for name in ("kind", "words")]
        return moments.recording("incident")({**given, "what": ": ".join(word for word in words if word)}, confirmed)

    def done(recorded: Recorded, given: dict[str, Any]) -> Response:
        flash("The incident is recorded.", "did")
        return redirect(url_for("incidents.decide", fact=recorded.fact))

    here = looking.standings(station.ledger())
    places = [*looking.places_in(here), *looking.tubs_in(here)]
    start = {"lots": "\n".join(asked), "place": request.args.get("place", "")}
    return moments.moment(
        FORMS[by], done, act=act, start=start, template="incident.html", about=by, by=by, suggestions={"places": places}
    )


@pages.route("/incident/<int:fact>", methods=["GET", "POST"])
def decide(fact: int) -> moments.Answer:
    """Show what an incident touched, and take the decision for each lot it still holds."""
    touched = looking.touched_by_incident(station.ledger(), fact)
    is_nameless = touched.what.startswith(NAMELESS)
    rows = _rows_of(touched)

    def act(given: dict[str, Any], confirmed: bool) -> Recorded:
        return _decided(touched, given, confirmed)

    def done(recorded: Recorded, given: dict[str, Any]) -> Response:
        flash("Decided, and kept with your name.", "did")
        return redirect(url_for("incidents.decide", fact=fact))

    start: dict[str, str] = {}
    for row, lot in enumerate(rows):
        start[f"decisions-{row}-code"] = lot.code
        start[f"decisions-{row}-what"] = "destroyed" if is_nameless and lot.kind == "piece" else ""
    titles = tuple(_said(lot, fact) for lot in rows)
    about = ",".join((str(fact), *(lot.code for lot in rows)))  # a draft fits only the very same rows
    return moments.moment(
        _decision_form(titles), done, act=act, start=start, template="decide.html", about=about, touched=touched,
        is_nameless=is_nameless,
    )  # fmt: skip


def _rows_of(touched: looking.Touched) -> list[LotState]:
    """The lots to decide: those still held; in a form that came back those that it named, so that no decision slips a row."""
    if request.method == "GET":
        return [one.lot for one in touched.held]
    known = {one.lot.code: one.lot for one in touched.lots}
    named = [value for name, value in request.form.items() if name.startswith("decisions-") and name.endswith("-code")]
    if any(code not in known for code in named):
        raise InputError("decisions", f"lots that fact {touched.fact} touched", ", ".join(named))
    return [known[code] for code in named]


def _said(lot: LotState, fact: int) -> str:
    """A lot above its decision: what it is, where, and what else holds it: that is a decision of its own."""
    also = [held.reason for held in lot.held_for if held.fact != fact]
    said = (
        lot.code,
        lot.name,
        *lot.aliases,
        lot.place or lot.tub or lot.holder or "",
        f"also held: {'; '.join(also)}" if also else "",
    )
    return " · ".join(word for word in said if word)


def _decision_form(titles: tuple[str, ...]) -> Form:
    return Form(
        "decide",
        "Decide for each",
        (
            Rows(
                "decisions",
                "Still held",
                (
                    Field("code", "", "hidden", carried=True),
                    Field("what", "Decision", "choice", required=False, choices=_DECISIONS),
                ),
                "",
                start=0,
                titles=titles,
            ),
            Field("reason", "Why it may go on", required=False, hint="What was looked at or measured, and what was found."),
        ),
        "Record the decisions",
        when=False,
    )


def _decided(touched: looking.Touched, given: dict[str, Any], confirmed: bool) -> Recorded:
    """Lift first, in one fact; then destroy each: all of it in one transaction."""
    decisions = given.get("decisions", [])
    lifted = [one["code"] for one in decisions if one.get("what") == "lift"]
    destroyed = [one["code"] for one in decisions if one.get("what") == "destroyed"]
    if not lifted and not destroyed:
        raise InputError("decisions", "a decision for one lot or more", "none")
    if lifted and not given.get("reason"):
        raise InputError("reason", "a value", "nothing")
    lifted += touched.settled_by({*lifted, *destroyed})  # the pack lot itself, once each of its packs is decided
    reason = given.get("reason", "decided for each of its packs")
    acts: list[tuple[str, dict[str, Any]]] = [("dispose", {"lot": code, "how": "destroyed"}) for code in destroyed]
    if lifted:
        acts.insert(0, ("lift", {"lots": lifted, "reason": reason, "holds": [touched.fact]}))
    return record_all(station.ledger(), acts, now=station.now(), who=station.who(), confirmed=confirmed, once=station.once_key())[
        -1
    ]
