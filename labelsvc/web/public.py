"""The page behind the QR: the batch record at a bench, the buyer's page for everyone else."""

from __future__ import annotations

from flask import Blueprint, g, make_response, render_template, request
from markupsafe import Markup
from werkzeug.wrappers import Response

from labelsvc.errors import InputError
from labelsvc.operations.buyer import Seen, seen_by_buyer
from labelsvc.operations.recording import record
from labelsvc.web import station
from labelsvc.web.errors import status_of
from labelsvc.web.lots import record_page
from labelsvc.web.people import BY_BUYER
from labelsvc.web.security import BUYER_STYLE, buyers_policy

pages = Blueprint("public", __name__)
LONGEST = 2000  # characters of a complaint


@pages.get("/lot/<code>", defaults={"unit": None})
@pages.get("/lot/<code>/<int:unit>")
@pages.get("/01/<gtin>/10/<code>", defaults={"unit": None})
@pages.get("/01/<gtin>/10/<code>/21/<int:unit>")
def lot(code: str, unit: int | None, gtin: str = "") -> str | Response:
    """Show the lot: all of it to those who work here, what a label says to everyone else."""
    text = code if unit is None else f"{code}/{unit}"
    if station.who():
        return record_page(text)
    return _seen(text)


@pages.post("/lot/<code>", defaults={"unit": None})
@pages.post("/lot/<code>/<int:unit>")
def complain(code: str, unit: int | None) -> Response:
    """Take a buyer's complaint; it stands in the lot's record at once."""
    text = code if unit is None else f"{code}/{unit}"
    said = request.form.get("text", "").strip()
    contact = request.form.get("contact", "").strip()
    if not said or len(said) > LONGEST or len(contact) > LONGEST:
        return _seen(text, problem=f"Please write what is wrong, in at most {LONGEST} letters.", status=400)
    given = {"text": said, "code": text, **({"contact": contact} if contact else {})}
    with station.station().once(request.form.get("once", "")) as slip:
        if not slip.went_to:
            record(station.ledger(), "complaint", given, now=station.now(), who=BY_BUYER)
            slip.went_to = request.path
    return _seen(text, thanks=True)


def _seen(text: str, *, problem: str = "", thanks: bool = False, status: int = 200) -> Response:
    g.policy = buyers_policy()
    seen: Seen | None = None
    try:
        seen = seen_by_buyer(station.ledger(), text)
    except InputError as error:
        status = status_of(error)
    return make_response(
        render_template(
            "buyer.html",
            seen=seen,
            text=text,
            style=Markup(BUYER_STYLE),  # our own file, and the policy allows just its hash
            problem=problem,
            thanks=thanks,
            typed=request.form if problem else {},
        ),
        status,
    )
