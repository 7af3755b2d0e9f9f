"""Cutting: each piece gets its code, and its green weight once it is trimmed."""

from __future__ import annotations

from dataclasses import replace

from flask import Blueprint, flash, redirect, request, url_for
from werkzeug.wrappers import Response

from labelsvc.operations import looking
from labelsvc.operations.recording import Recorded
from labelsvc.web import moments, station
from labelsvc.web.forms import Field, Form, Rows

pages = Blueprint("cutting", __name__)

FORM = Form(
    "cut",
    "Cut",
    (
        Field("from", "Cut from", "lot", suggest="to_cut", hint="Code, ear tag or delivery number."),
        Rows(
            "pieces",
            "Pieces to be cured",
            (
                Field("product", "Product", "card", card="product", carried=True),
                Field("weight", "Green weight", "weight", unit="g"),
                Field("marker", "Marker on the loop", "lot", required=False, suggest="markers"),
                Field("count", "How many, as one lot", "count", required=False),
            ),
            "One more piece",
            hint="Weigh after trimming. What is not weighed stays with the animal.",
        ),
        Field("trim", "Trim", "weight", required=False, unit="g"),
        Field("bone", "Bone", "weight", required=False, unit="g"),
    ),
    "Record the cut",
)


SPLIT = Form(
    "split",
    "Split",
    (
        Field(
            "from", "Which", "lot", hint="A piece that is cut through, or a lot of several pieces that get codes of their own."
        ),
        Rows(
            "pieces",
            "Pieces it becomes",
            (
                Field("weight", "Weight", "weight", unit="g"),
                Field("marker", "Marker on the loop", "lot", required=False, suggest="markers"),
                Field("tare", "String and net", "weight", required=False, unit="g"),
            ),
            "One more piece",
            start=2,
            hint="Each weighed without string. Of a lot of several, those not named here stay together under its code.",
        ),
    ),
    "Record the split",
)


@pages.route("/cut", methods=["GET", "POST"])
def cut() -> moments.Answer:
    """Cut an animal or part into pieces."""
    source = request.args.get("from", "")

    def done(recorded: Recorded, given: dict[str, object]) -> Response:
        flash(f"{len(recorded.codes)} cut: {', '.join(recorded.codes)}. Next: into the cure.", "did")
        return redirect(url_for("curing.weigh_out", pieces=recorded.codes))

    here = looking.standings(station.ledger())
    to_cut = [one for one in here if one.next_step == "cut"]
    start = {"from": source, "pieces-0-marker": request.args.get("marker", "")}
    products = moments.names("product")
    if len(products) == 1:
        start.update({f"pieces-{row}-product": products[0] for row in range(3)})
    free = looking.free_markers(station.ledger())
    return moments.moment(
        FORM, done, start=start, template="cut.html", about=source, lot=moments.lot_head(source), free=free, to_cut=to_cut,
        suggestions={"to_cut": [(one.lot.code, f"{one.lot.name}, {one.here} g") for one in to_cut], "markers": free},
    )  # fmt: skip


@pages.route("/split", methods=["GET", "POST"])
def split() -> moments.Answer:
    """Cut a piece through, or give pieces of a counted lot codes of their own."""
    asked = request.values.get("from", "")
    lot = moments.lot_head(asked) if asked and request.method == "GET" else moments.lot_found(asked)

    def done(recorded: Recorded, given: dict[str, object]) -> Response:
        flash(f"{len(recorded.codes)} pieces: {', '.join(recorded.codes)}. Write or hang its code on each.", "did")
        return redirect(f"/lot/{recorded.codes[0]}" if len(recorded.codes) == 1 else "/")

    form = replace(SPLIT, parts=(SPLIT.parts[0], replace(_rows(SPLIT), start=min(lot.lot.count or 2, 20)))) if lot else SPLIT
    free = looking.free_markers(station.ledger())
    start = {"from": asked, "pieces-0-marker": request.args.get("marker", "")}
    return moments.moment(
        form, done, start=start, template="split.html", about=asked, lot=lot, free=free, suggestions={"markers": free}
    )


def _rows(form: Form) -> Rows:
    return next(part for part in form.parts if isinstance(part, Rows))
