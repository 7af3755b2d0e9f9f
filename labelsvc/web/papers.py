"""Reports, letters and documents as PDF, from the pages that they belong to."""

from __future__ import annotations

from flask import Blueprint, Response, request

from labelsvc.errors import InputError
from labelsvc.exchange.paper import Paper
from labelsvc.operations import recall_papers
from labelsvc.operations.papers import dispatch_paper, drawn, trace_paper
from labelsvc.web import station
from labelsvc.web.api import day

pages = Blueprint("papers", __name__)


@pages.get("/paper/trace/<path:code>.pdf")
def trace(code: str) -> Response:
    """Give the trace report of a lot."""
    return _pdf(trace_paper(station.ledger(), code, station.now()), f"trace-{code.replace('/', '-')}")


@pages.get("/case/<int:number>/<any(recall, notice, authority):what>.pdf")
def of_case(number: int, what: str) -> Response:
    """Give the report of a case, the notice at the point of sale, or the facts for the authority."""
    return _pdf(recall_papers.OF_CASE[what](station.ledger(), number, station.now()), f"case-{number}-{what}")


@pages.get("/case/<int:number>/letter.pdf")
def letter(number: int) -> Response:
    """Give the letter to one who has something of it."""
    return _pdf(
        recall_papers.letter(station.ledger(), number, request.args.get("to", ""), station.now()), f"case-{number}-letter"
    )


@pages.get("/paper/dispatch.pdf")
def dispatch() -> Response:
    """Give the document that goes with what was sold to a business."""
    customer = request.args.get("customer", "")
    if not customer:
        raise InputError("customer", "a customer", "nothing")
    document, on = request.args.get("document") or None, day("day", request.args.get("day"))
    return _pdf(dispatch_paper(station.ledger(), customer, station.now(), document=document, day=on), "dispatch")


def _pdf(paper: Paper, name: str) -> Response:
    return Response(drawn(paper), mimetype="application/pdf", headers={"Content-Disposition": f'inline; filename="{name}.pdf"'})
