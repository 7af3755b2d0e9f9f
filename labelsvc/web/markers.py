"""Blank markers printed ahead: each carries a code that waits for the piece it will hang on."""

from __future__ import annotations

from typing import Any

from flask import Blueprint, Response, flash, redirect, render_template, request, url_for
from werkzeug.wrappers import Response as BaseResponse

from labelsvc.operations import labelling
from labelsvc.operations.issuing import Stock
from labelsvc.operations.recording import Recorded
from labelsvc.web import moments, station
from labelsvc.web.forms import Field, Form

pages = Blueprint("markers", __name__)

LAYOUTS = (
    (labelling.MARKER, "Strips for the loop, 100 × 20 mm"),
    (labelling.TAG_AHEAD, "Hanging tags to write on, 60 × 120 mm"),
)
FORM = Form(
    "reserve",
    "Printed ahead",
    (
        Field("count", "How many", "count", value="20", hint="At most 500 at once."),
        Field("layout", "Printed as", "choice", choices=LAYOUTS, value=labelling.MARKER),
    ),
    "Reserve and print",
    "Printed ahead, also for the next power cut. Scan one when a piece is cut or split off, and the piece gets its code; "
    "or when it is strung, and the number leads to it.",
    when=False,
)


@pages.route("/markers", methods=["GET", "POST"])
def reserve() -> moments.Answer:
    """Reserve codes and print their markers."""

    def act(given: dict[str, Any], confirmed: bool) -> Recorded:
        at = station.station()
        stock = Stock(layout=given.get("layout"))
        count = given.get("count", 0)
        issued = labelling.markers(at.ledger, count, layouts=at.layouts, now=at.now(), who=station.who(), stock=stock)
        return Recorded(issued.fact, issued.lots)

    def done(recorded: Recorded, given: dict[str, Any]) -> BaseResponse:
        flash(f"{len(recorded.codes)} markers are reserved, every symbol on them read again.", "did")
        return redirect(url_for("markers.printed", fact=recorded.fact, layout=given.get("layout")))

    return moments.moment(FORM, done, act=act)


@pages.get("/markers/<int:fact>")
def printed(fact: int) -> str:
    """Show markers that were reserved, to print them."""
    at = station.station()
    codes = labelling.reserved_by(at.ledger, fact)
    return render_template("markers.html", fact=fact, codes=codes, layouts=LAYOUTS, layout=_layout())


@pages.get("/markers/<int:fact>.pdf")
def pdf(fact: int) -> Response:
    """Give the markers of a reservation; it records nothing."""
    at = station.station()
    drawn = labelling.markers_again(at.ledger, fact, layouts=at.layouts, stock=Stock(layout=_layout()))
    return Response(drawn, mimetype="application/pdf", headers={"Content-Disposition": f'inline; filename="markers-{fact}.pdf"'})


def _layout() -> str:
    return request.args.get("layout", labelling.MARKER)
