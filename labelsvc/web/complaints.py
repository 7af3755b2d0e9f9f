"""A complaint: one scan leads to what it is, where it came from, what it met and who has it; and to the hold."""

from __future__ import annotations

from typing import Any

from flask import Blueprint, flash, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from labelsvc.codes.scanned import lot_code_in
from labelsvc.errors import InputError
from labelsvc.operations import looking
from labelsvc.operations.complaints import complaint_of, complaints
from labelsvc.operations.recording import Recorded
from labelsvc.operations.tracing import trace
from labelsvc.web import moments, station
from labelsvc.web.api import day
from labelsvc.web.errors import status_of, told
from labelsvc.web.forms import Field, Form

pages = Blueprint("complaints", __name__)

FORM = Form(
    "complaint",
    "What the buyer says",
    (
        Field("code", "Code", "lot", required=False),
        Field("text", "What is wrong", "long"),
        Field("contact", "How to reach them", required=False),
        Field("photos", "Photo of it", "photos", required=False, hint="JPEG, PNG or PDF."),
    ),
    "Record the complaint",
)
ANSWER = Form(
    "answer_complaint",
    "What was decided",
    (
        Field("decision", "Decision", "long", hint="What was found, and what is done about it."),
        Field("answer", "What the buyer was told", required=False),
    ),
    "Keep the decision",
    when=False,
)


@pages.route("/complaint", methods=["GET", "POST"])
def complaint() -> moments.Answer:
    """Show what is known of the lot complained about, and record what was said."""
    code = lot_code_in(request.args.get("code", "").strip())
    if request.method == "GET" and not code:
        return _search()
    answer: dict[str, Any] | None = None
    if request.method == "GET":
        try:
            answer = trace(station.ledger(), code)
        except InputError as error:
            return _search(told(error), status_of(error))

    def done(recorded: Recorded, given: dict[str, Any]) -> Response:
        flash("The complaint is recorded.", "did")
        return redirect(url_for("complaints.taken", number=recorded.fact))

    start = {"code": answer["lot"]["code"] if answer else ""}
    return moments.moment(
        FORM, done, start=start, template="complaint.html", about=code, trace=answer,
        sets=_sets(answer) if answer else [], lot=moments.lot_head(code) if answer else None,
    )  # fmt: skip


@pages.get("/complaints")
def overview() -> str:
    """Show all complaints, those that wait for an answer first."""
    found = complaints(station.ledger())
    return render_template("complaints.html", complaints=sorted(found, key=lambda one: bool(one["answers"])))


@pages.route("/complaint/<int:number>", methods=["GET", "POST"])
def taken(number: int) -> moments.Answer:
    """Show a complaint, what it may have in common with others, what may be held; and record what was decided."""
    one = complaint_of(station.ledger(), number)
    answer = trace(station.ledger(), one["code"]) if one["code"] else None

    def act(given: dict[str, Any], confirmed: bool) -> Recorded:
        return moments.recording("answer_complaint")({"complaint": number, **given}, confirmed)

    def done(recorded: Recorded, given: dict[str, Any]) -> Response:
        flash("The decision is kept with the complaint.", "did")
        return redirect(url_for("complaints.taken", number=number))

    return moments.moment(
        ANSWER, done, act=act, template="complaint_taken.html", about=str(number), complaint=one, trace=answer,
        sets=_sets(answer) if answer else [], lot=moments.lot_head(one["code"]) if answer else None,
    )  # fmt: skip


def _search(message: str = "", status: int = 200) -> tuple[str, int]:
    """Without a code: product, shop and day give candidates."""
    asked = {name: request.args.get(name, "").strip() for name in ("product", "name", "day")}
    found, problem = None, message
    if any(asked.values()) and not message:
        try:
            found = looking.deliveries(station.ledger(), asked["product"], asked["name"], day("day", asked["day"]))
        except InputError as error:
            problem, status = told(error), 400
    page = render_template(
        "complaint_search.html",
        asked=asked,
        found=found,
        problem=problem,
        code=request.args.get("code", ""),
        products=moments.names("product"),
        customers=moments.names("customer"),
    )
    return page, status


def _sets(answer: dict[str, Any]) -> list[dict[str, Any]]:
    """Return what may share the trouble, from near to far, each as a sentence, its lots, and the reason of a hold."""
    own = answer["lot"]
    packs = own["packs"] or [own]
    printed = own["code"].partition("/")[0]
    sold = {sale["code"]: sale for sale in answer["sales"]}
    near = [one["code"] for one in packs] + [code for code in sold if code.partition("/")[0] == printed]
    found = [_set("The same printed lot", printed, [*near, *_met(answer, ("session",), printed)], answer)]
    pieces = [one["code"] for one in answer["back"] if one["kind"] == "piece"]
    if pieces:
        found.append(_set("The same pieces and all their packs", ", ".join(pieces), [*pieces, *near, *sold], answer))
    for where, title in (("session", "The same packing session"), ("slicer", "The same slicer"), ("tub", "The same tub")):
        for thing in dict.fromkeys(one["thing"] for one in answer["contact"] if one["where"] == where):
            codes = [one["code"] for one in answer["contact"] if one["where"] == where and one["thing"] == thing]
            found.append(_set(title, thing, [*codes, *near], answer))
    return found


def _met(answer: dict[str, Any], where: tuple[str, ...], printed: str) -> list[str]:
    return [one["code"] for one in answer["contact"] if one["where"] in where and one["code"].partition("/")[0] == printed]


def _set(title: str, thing: str, codes: list[str], answer: dict[str, Any]) -> dict[str, Any]:
    return {
        "title": title,
        "thing": thing,
        "codes": list(dict.fromkeys(codes)),
        "reason": f"complaint about {answer['lot']['code']}",
    }
