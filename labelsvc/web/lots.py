"""The batch record of a lot, holds and their end, corrections, and the labels as PDF."""

from __future__ import annotations

from flask import Blueprint, Response, flash, redirect, render_template, request, url_for
from werkzeug.wrappers import Response as BaseResponse

from labelsvc.operations import labelling, looking
from labelsvc.operations.batch import batch_record
from labelsvc.operations.issuing import Issued, Stock
from labelsvc.operations.tracing import trace as trace_lot
from labelsvc.operations.unreached import free_made_of
from labelsvc.web import moments, printers, station
from labelsvc.web.actions import actions_of
from labelsvc.web.forms import Field, Form
from labelsvc.web.scanning import lot_address
from labelsvc.web.wording import plural

pages = Blueprint("lots", __name__)

HOLD = Form(
    "hold",
    "Hold",
    (
        Field("lots", "Lots", "codes", hint="Scan each, or type codes or markers, one a line."),
        Field("reason", "Why", hint="Such as: mould, power cut, came back warm."),
    ),
    "Hold",
    "Nothing that is held is packed, sold or given away until someone decides.",
)
LIFT = Form(
    "lift",
    "Lift the hold",
    (
        Field("lots", "Lots", "codes", hint="Scan each, or type codes or markers, one a line."),
        Field("reason", "Why it may go on", hint="What was looked at, and what was found."),
        Field(
            "by",
            "The responsible person",
            required=False,
            hint="Asked for where a measured value or a figure of the law is lacking. What is over a limit nobody lifts.",
        ),
        Field("holds", "Only the hold of fact", "list", required=False, hint="Its number; empty ends every hold of these lots."),
    ),
    "Lift the hold",
    "This decision stands in the record with your name.",
)


def record_page(text: str) -> str:
    """Return the batch record as a page.

    Raises:
        CodeError, NotFoundError: no such lot.
    """
    ledger = station.ledger()
    lot = looking.standing_of(ledger, text)
    return render_template(
        "lot.html",
        record=batch_record(ledger, text),
        lot=lot,
        made_free=free_made_of(ledger, text) if lot.lot.is_held else [],
        actions=actions_of(lot),
        packs=looking.codes_under(ledger, [text]) if "/" not in text else [],
        show=request.args.get("show", ""),
        sent=printers.sent_here(),
    )


@pages.get("/trace/<path:code>")
def trace(code: str) -> str:
    """Show a lot's way both ways."""
    return render_template("trace.html", trace=trace_lot(station.ledger(), code), lot=moments.lot_head(code))


@pages.get("/tag/<code>.pdf")
def tag(code: str) -> Response:
    """Give the hanging tag as it was last printed."""
    at = station.station()
    return _pdf(labelling.tag_as_issued(at.ledger, code, layouts=at.layouts), f"tag-{code}.pdf")


@pages.get("/sale-label/<path:code>.pdf")
def sale_label(code: str) -> Response:
    """Give the sale label of a pack, or those of a lot, as they were last printed."""
    at = station.station()
    drawn = labelling.sale_label_as_issued(at.ledger, code, layouts=at.layouts, now=at.now())
    return _pdf(drawn, f"sale-label-{code.replace('/', '-')}.pdf")


@pages.post("/sale-label/<path:code>")
def print_anew(code: str) -> BaseResponse:
    """Print the sale labels of a pack or lot as they would be today."""
    at = station.station()
    printer = printers.of_station("sale-label")

    def issue(stock: Stock) -> Issued:
        return labelling.sale_label(at.ledger, code, layouts=at.layouts, now=at.now(), who=station.who(), stock=stock)

    issued = printers.issued_for(printer, issue)
    flash(f"{plural(len(issued.lots), 'label')} of {code} ready, every symbol on them read again.", "did")
    for finding in issued.findings:
        if finding.severity != "note":
            flash(finding.message, "note")
    sent = printers.send(printer, "sale-label", [issued])
    return redirect(f"{lot_address(code)}?show=labels{f'&sent={sent}' if sent else ''}")


@pages.route("/hold", methods=["GET", "POST"])
def hold() -> moments.Answer:
    """Hold lots."""
    return moments.moment(HOLD, lambda _, given: _back(given["lots"], "Held"), start=_lots_asked())


@pages.route("/lift", methods=["GET", "POST"])
def lift() -> moments.Answer:
    """End the holds of lots."""
    return moments.moment(
        LIFT,
        lambda _, given: _back(given["lots"], "The hold is lifted"),
        start={**_lots_asked(), "holds": request.args.get("holds", "")},
    )


def _lots_asked() -> dict[str, str]:
    return {"lots": "\n".join(request.args.getlist("lots")), "reason": request.args.get("reason", "")}


def _back(lots: list[str], did: str) -> BaseResponse:
    flash(f"{did}: {', '.join(lots[:5])}{f' and {len(lots) - 5} more' if len(lots) > 5 else ''}.", "did")
    if case := request.args.get("case", type=int):
        return redirect(url_for("cases.case", number=case))
    return redirect(lot_address(lots[0]) if len(lots) == 1 else "/")


def _pdf(pdf: bytes, name: str) -> Response:
    return Response(pdf, mimetype="application/pdf", headers={"Content-Disposition": f'inline; filename="{name}"'})
