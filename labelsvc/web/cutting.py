"""Cutting: each piece gets its code, and its green weight once it is trimmed."""

from __future__ import annotations

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
                Field("marker", "Marker on the loop", required=False),
            ),
            "One more piece",
            hint="Weigh after trimming. What is not weighed stays with the animal.",
        ),
        Field("trim", "Trim", "weight", required=False, unit="g"),
        Field("bone", "Bone", "weight", required=False, unit="g"),
    ),
    "Record the cut",
)


@pages.route("/cut", methods=["GET", "POST"])
def cut() -> moments.Answer:
    """Cut an animal or part into pieces."""
    source = request.args.get("from", "")

    def done(recorded: Recorded, given: dict[str, object]) -> Response:
        flash(f"{len(recorded.codes)} cut: {', '.join(recorded.codes)}. Next: into the cure.", "did")
        return redirect(url_for("curing.weigh_out", pieces=recorded.codes))

    here = looking.standings(station.ledger())
    to_cut = [(one.lot.code, f"{one.lot.name}, {one.here} g") for one in here if one.next_step == "cut"]
    start = {"from": source}
    products = moments.names("product")
    if len(products) == 1:
        start.update({f"pieces-{row}-product": products[0] for row in range(3)})
    return moments.moment(
        FORM, done, start=start, about=source, lot=moments.lot_head(source), suggestions={"to_cut": to_cut}
    )  # fmt: skip
