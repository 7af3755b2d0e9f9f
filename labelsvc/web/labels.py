"""Printing any label of a lot or tub: which layout, on which sheet and from which position; reprint and void with a reason."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from flask import Blueprint, Response, flash, redirect, render_template, request
from werkzeug.wrappers import Response as BaseResponse

from labelsvc.errors import InputError, NotFoundError
from labelsvc.labels.layout import Layout, Purpose
from labelsvc.operations import issuing, labelling, looking
from labelsvc.operations.issuing import Issued, Stock
from labelsvc.operations.looking import Standing
from labelsvc.web import station
from labelsvc.web.scanning import lot_address

pages = Blueprint("labels", __name__)


@dataclass(frozen=True)
class Kind:
    """A kind of label.

    Args:
        words: what it is called.
        purpose: of its layouts.
        issue: how it is printed.
        usual: name of the layout that is taken where none is chosen; by market for sale labels.
        fits: whether a lot may have one as it stands.
    """

    words: str
    purpose: Purpose
    issue: Callable[..., Issued]
    usual: str
    fits: Callable[[Standing], bool]


def _is_pack(one: Standing) -> bool:
    return one.lot.kind == "pack"


KINDS: dict[str, Kind] = {
    "tag": Kind("Hanging tag", "hanging_tag", labelling.tag, labelling.TAG, lambda one: one.lot.strung_on is not None),
    "sale-label": Kind("Sale label", "sale_label", labelling.sale_label, labelling.SALE_LABEL, _is_pack),
    "counter-card": Kind("Counter card", "counter_card", labelling.counter_card, labelling.DIRECT_CARD, _is_pack),
    "case-label": Kind("Case label", "case_label", labelling.case_label, labelling.CASE, _is_pack),
    "hold-tag": Kind("Hold tag", "hold_tag", labelling.hold_tag, labelling.HOLD, lambda one: one.lot.is_held),
    "container-label": Kind(
        "Container label",
        "container_label",
        labelling.container_label,
        labelling.CONTAINER,
        lambda one: one.lot.kind == "ingredient",
    ),
    "tub-card": Kind("Tub card", "tub_card", labelling.tub_card, labelling.TUB_CARD, lambda one: one.lot.phase == "in cure"),
}


@pages.get("/labels/<path:code>")
def of_lot(code: str) -> str:
    """Show the labels a lot may have, each with its layouts and sheets."""
    one = looking.standing_of(station.ledger(), code)
    shelf = station.station().layouts
    offered = [
        {
            "name": name,
            "kind": kind,
            "what": one.lot.tub if name == "tub-card" else one.lot.code,
            "layouts": (layouts := _layouts(kind, one)),
            "sheets": list({sheet.name: sheet for layout in layouts for sheet in shelf.sheets_for(layout)}.values()),
        }
        for name, kind in KINDS.items()
        if kind.fits(one)
    ]
    return render_template("labels.html", lot=one, offered=offered)


def _layouts(kind: Kind, one: Standing) -> list[Layout]:
    """Return the layouts for a kind of label, the usual one first."""
    market = (one.lot.market or "").lower() or None
    found = station.station().layouts.for_purpose(kind.purpose, market)
    usual = labelling.usual_sale_label(station.ledger(), one.lot) if kind.purpose == "sale_label" else kind.usual
    return sorted(found, key=lambda layout: layout.name != usual)


@pages.post("/labels/<name>/<path:what>")
def issue(name: str, what: str) -> BaseResponse:
    """Print a label: proved, kept, and shown as PDF."""
    if name not in KINDS:
        raise NotFoundError("label", f"one of {', '.join(KINDS)}", name)
    at = station.station()
    asked: Any = [what] if name == "case-label" else what
    issued = KINDS[name].issue(at.ledger, asked, layouts=at.layouts, now=at.now(), who=station.who(), stock=_stock())
    return _pdf(issued.pdf, f"{name}-{what.replace('/', '-')}.pdf")


def _stock() -> Stock:
    start = request.form.get("start", "1").strip() or "1"
    if not start.isascii() or not start.isdigit():
        raise InputError("start", "the number of a position on the sheet", start)
    return Stock(request.form.get("layout") or None, request.form.get("sheet") or None, int(start))


@pages.post("/issued-label/<int:fact>/again")
def again(fact: int) -> BaseResponse:
    """Print an issued label once more as it was."""
    at = station.station()
    issued = issuing.reprint(at.ledger, fact, _reason(), layouts=at.layouts, now=at.now(), who=station.who())
    return _pdf(issued.pdf, f"label-{fact}.pdf")


@pages.post("/issued-label/<int:fact>/void")
def void(fact: int) -> BaseResponse:
    """Record that an issued label counts no more."""
    at = station.station()
    issuing.void(at.ledger, fact, _reason(), now=at.now(), who=station.who())
    flash(f"The label of fact {fact} is void.", "did")
    return redirect(lot_address(request.form.get("code", "")) if request.form.get("code") else "/")


def _reason() -> str:
    reason = request.form.get("reason", "").strip()
    if not reason:
        raise InputError("reason", "why: it was torn, lost, spoiled", "nothing")
    return reason


@pages.get("/tub-card/<path:tub>")
def tub(tub: str) -> BaseResponse:
    """Lead from a tub to the labels of what lies in it."""
    inside = looking.in_tub(station.ledger(), tub)
    if not inside:
        raise NotFoundError("tub", "a tub with something in cure", tub, "Put pieces in it first.")
    return redirect(f"/labels/{inside[0].lot.code}")


def _pdf(pdf: bytes, name: str) -> Response:
    return Response(pdf, mimetype="application/pdf", headers={"Content-Disposition": f'inline; filename="{name}"'})
