"""A withdrawal, recall or exercise as a page that leads step by step: hold, call the next one, tell the public, close."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from flask import Blueprint, flash, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from labelsvc.declaration.words import vocabulary
from labelsvc.operations.cases import case_of
from labelsvc.operations.cases import cases as all_cases
from labelsvc.operations.recording import Recorded
from labelsvc.web import moments, station
from labelsvc.web.buyers_page import warning_words
from labelsvc.web.forms import Field, Form

pages = Blueprint("cases", __name__)

NAMES = {"recall": "Recall", "withdrawal": "Withdrawal", "mock": "MOCK exercise"}
_WHATS = (
    ("withdrawal", "Withdrawal: back from shops and restaurants"),
    ("recall", "Recall: back from everyone, buyers too"),
    ("mock", "Exercise (MOCK): the same search and clock, nothing held, nothing published"),
)
_HOWS = tuple((how, how) for how in ("by telephone", "in person", "by mail", "by letter", "notice at the point of sale"))
RISKS = (
    ("allergen", "An allergen that the label does not name"),
    ("germ", "A germ that makes people ill"),
    ("cure", "Too much or too little curing salt"),
    ("foreign_body", "Glass, metal or plastic"),
    ("animal", "Something about the animal"),
    ("warm", "It was not kept cold"),
    ("other", "Something else"),
)
OPEN = Form(
    "open_case",
    "Open a case",
    (
        Field("what", "What it is", "choice", choices=_WHATS),
        Field("reason", "Why", hint="One sentence, as you would say it to a buyer."),
        Field("known_since", "When did you come to know?", "time", required=False, hint="Empty for now. The clock runs from it."),
        Field("lots", "The lots it starts from", "codes", hint="Everything made of them belongs to the case."),
        Field("asked", "", "hidden"),
    ),
    "Open the case",
    "A case holds nothing and tells nobody by itself. Its page leads you through it, step by step.",
    when=False,
)  # fmt: skip
TELL = Form(
    "tell",
    "Told",
    (
        Field("customer", "", "hidden"),
        Field("how", "How", "choice", choices=_HOWS),
        Field("still_had", "They still have", "weight", required=False, unit="g", hint="By the labels; 0 for nothing left."),
        Field("answer", "What they said", required=False),
        Field("reached", "", "hidden"),
    ),
    "Told",
    when=False,
)
PUBLISH = Form(
    "publish",
    "Tell the public",
    (
        Field("risk", "What the danger is", "choice", choices=RISKS),
        Field("allergen", "The allergen", suggest="allergens", required=False, hint="Only where that is the danger."),
        Field("words", "More, in your own words", "long", required=False, hint="Shown as you write it, in no other language."),
        Field("by", "Who decides", hint="The person responsible."),
        Field("lots", "Packs", "codes"),
    ),
    "Warn whoever scans these packs",
    "A decision of the person responsible. From now on each of these packs, scanned by anyone, says first of all not to eat it.",
    when=False,
)
UNPUBLISH = Form(
    "unpublish",
    "Stop warning",
    (
        Field("reason", "Why buyers need not be warned any more"),
        Field("by", "Who decides", hint="The person responsible."),
        Field("lots", "Packs", "codes"),
    ),
    "Take the warning from these packs",
    when=False,
)
STEPS: dict[str, Form] = {
    "authority_told": Form(
        "case_step", "The authority was told", (Field("words", "Whom, how, and what they said"),), "Record it", when=False
    ),
    "destroyed_there": Form(
        "case_step",
        "Destroyed where it was",
        (
            Field("lots", "Which packs", "codes"),
            Field("words", "Who says so, and how it was shown", hint="Such as: the shop, photo of the cut labels."),
        ),
        "Record it",
        when=False,
    ),
    "wider": Form(
        "case_step",
        "More lots belong to it",
        (Field("lots", "Which lots", "codes"), Field("words", "Why")),
        "Widen the case",
        when=False,
    ),
    "note": Form("case_step", "Note", (Field("words", "What happened"),), "Keep it", when=False),
}
CLOSE = Form(
    "close_case",
    "Close the case",
    (Field("outcome", "What came of it", "long", hint="What it was, what is changed so that it does not happen again."),),
    "Close it",
    when=False,
)


@pages.get("/cases")
def overview() -> str:
    """Show all cases."""
    return render_template("cases.html", cases=all_cases(station.ledger(), station.now()), names=NAMES)


@pages.route("/case/new", methods=["GET", "POST"])
def new() -> moments.Answer:
    """Open a case from what a search found."""

    def done(recorded: Recorded, given: dict[str, Any]) -> Response:
        flash(f"Case {recorded.fact} is open.", "did")
        return redirect(url_for("cases.case", number=recorded.fact))

    start = {name: request.args.get(name, "") for name in ("what", "reason", "asked")}
    start["lots"] = "\n".join(request.args.getlist("lots"))
    return moments.moment(OPEN, done, start=start, template="case_form.html", case=None, names=NAMES)


@pages.get("/case/<int:number>")
def case(number: int) -> str:
    """Show a case and its next step."""
    found = case_of(station.ledger(), number, station.now())
    asked = request.args.get("call", "")
    waiting = [one for one in found["to_tell"] if one["state"] != "told"]
    call = next((one for one in found["to_tell"] if one["name"] == asked), waiting[0] if waiting else None)
    return render_template("case.html", case=found, call=call, names=NAMES, hows=_HOWS, hold_reason=_hold_reason(found))


@pages.route("/case/<int:number>/tell", methods=["GET", "POST"])
def tell(number: int) -> moments.Answer:
    """Record that someone was told, or not reached."""
    found = case_of(station.ledger(), number, station.now())
    name = request.values.get("customer", "")

    def done(recorded: Recorded, given: dict[str, Any]) -> Response:
        flash(f"{given['customer']}: {'not reached' if given.get('reached') == 'false' else 'told'}.", "did")
        return redirect(url_for("cases.case", number=number))

    form = replace(TELL, title="Tell them" if name in ("", "public", "own use", "sample") else f"Tell {name}")
    return _of_case(form, number, done, found=found, start={"customer": name}, about=f"{number} {name}")


@pages.route("/case/<int:number>/publish", methods=["GET", "POST"])
def publish(number: int) -> moments.Answer:
    """Decide to tell the public."""
    found = case_of(station.ledger(), number, station.now())
    start = {"lots": "\n".join(found["packs"]), "by": station.who()}
    return _of_case(
        PUBLISH, number, _back(number, "Whoever scans one of these packs is warned."), found=found, start=start,
        suggestions={"allergens": sorted(vocabulary()["allergens"])}, warning=warning_words(),
    )  # fmt: skip


@pages.route("/case/<int:number>/unpublish", methods=["GET", "POST"])
def unpublish(number: int) -> moments.Answer:
    """Decide that buyers need no warning any more."""
    found = case_of(station.ledger(), number, station.now())
    start = {"lots": "\n".join(found["published"]), "by": station.who()}
    return _of_case(UNPUBLISH, number, _back(number, "The warning is taken from these packs."), found=found, start=start)


@pages.route("/case/<int:number>/<any(authority_told, destroyed_there, wider, note):what>", methods=["GET", "POST"])
def step(number: int, what: str) -> moments.Answer:
    """Record a step that no other fact says."""
    found = case_of(station.ledger(), number, station.now())
    start = {"lots": "\n".join(request.args.getlist("lots"))}
    return _of_case(STEPS[what], number, _back(number, "Recorded."), found=found, start=start, also={"what": what}, about=what)


@pages.route("/case/<int:number>/close", methods=["GET", "POST"])
def close(number: int) -> moments.Answer:
    """Close the case."""
    found = case_of(station.ledger(), number, station.now())
    return _of_case(CLOSE, number, _back(number, "The case is closed."), found=found)


def _of_case(
    form: Form,
    number: int,
    done: moments.Done,
    *,
    found: dict[str, Any],
    start: dict[str, str] | None = None,
    also: dict[str, Any] | None = None,
    about: str = "",
    **context: Any,
) -> moments.Answer:
    def act(given: dict[str, Any], confirmed: bool) -> Recorded:
        return moments.recording(form.kind)({"case": number, **(also or {}), **given}, confirmed)

    return moments.moment(
        form, done, act=act, start=start or {}, template="case_form.html", about=about or str(number), case=found, names=NAMES,
        **context,
    )  # fmt: skip


def _back(number: int, did: str) -> moments.Done:
    def done(_recorded: Recorded, _given: dict[str, Any]) -> Response:
        flash(did, "did")
        return redirect(url_for("cases.case", number=number))

    return done


def _hold_reason(found: dict[str, Any]) -> str:
    return f"case {found['case']}: {found['reason']}"
