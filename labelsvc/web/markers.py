"""Blank markers printed ahead: each carries a code that waits for the piece it will hang on."""

from __future__ import annotations

from typing import Any

from flask import Blueprint, Response, flash, redirect, render_template, url_for
from werkzeug.wrappers import Response as BaseResponse

from labelsvc.operations import labelling
from labelsvc.operations.recording import Recorded
from labelsvc.web import moments, station
from labelsvc.web.forms import Field, Form

pages = Blueprint("markers", __name__)

FORM = Form(
    "reserve",
    "Blank markers",
    (Field("count", "How many", "count", value="20", hint="At most 500 at once."),),
    "Reserve and print",
    "Waterproof strips for the loop, printed ahead. Scan one at the cut, and the piece gets its code.",
    when=False,
)


@pages.route("/markers", methods=["GET", "POST"])
def reserve() -> moments.Answer:
    """Reserve codes and print their markers."""

    def act(given: dict[str, Any], confirmed: bool) -> Recorded:
        at = station.station()
        issued = labelling.markers(at.ledger, given.get("count", 0), layouts=at.layouts, now=at.now(), who=station.who())
        return Recorded(issued.fact, issued.lots)

    def done(recorded: Recorded, given: dict[str, Any]) -> BaseResponse:
        flash(f"{len(recorded.codes)} markers are reserved, every symbol on them read again.", "did")
        return redirect(url_for("markers.printed", fact=recorded.fact))

    return moments.moment(FORM, done, act=act)


@pages.get("/markers/<int:fact>")
def printed(fact: int) -> str:
    """Show markers that were reserved, to print them."""
    at = station.station()
    return render_template("markers.html", fact=fact, codes=labelling.reserved_by(at.ledger, fact))


@pages.get("/markers/<int:fact>.pdf")
def pdf(fact: int) -> Response:
    """Give the markers of a reservation; it records nothing."""
    at = station.station()
    drawn = labelling.markers_again(at.ledger, fact, layouts=at.layouts)
    return Response(drawn, mimetype="application/pdf", headers={"Content-Disposition": f'inline; filename="markers-{fact}.pdf"'})
