"""The page behind the QR: the batch record at a bench, the buyer's page for everyone else, and a buyer's complaint."""

from __future__ import annotations

import secrets
from typing import Any

from flask import Blueprint, Flask, current_app, g, make_response, redirect, request, url_for
from werkzeug.wrappers import Response

from labelsvc.codes.lot_code import LotCode
from labelsvc.codes.scanned import lot_code_in
from labelsvc.errors import InputError
from labelsvc.ledger.once import is_key
from labelsvc.operations.buyer import maker_of, seen_by_buyer
from labelsvc.operations.recording import record
from labelsvc.shape import printable
from labelsvc.web import station
from labelsvc.web.buyers_page import LONGEST, ComplaintForm, pack_page, unknown_page
from labelsvc.web.errors import status_of
from labelsvc.web.floods import Floods
from labelsvc.web.lots import record_page
from labelsvc.web.people import BY_BUYER
from labelsvc.web.security import buyers_policy

pages = Blueprint("public", __name__)
_FLOODS = "labelsvc.floods"


def install(app: Flask) -> None:
    """Begin to count complaints."""
    app.extensions[_FLOODS] = Floods()


@pages.get("/lot/<code>", defaults={"unit": None})
@pages.get("/lot/<code>/<int:unit>")
@pages.get("/01/<gtin>/10/<code>", defaults={"unit": None})
@pages.get("/01/<gtin>/10/<code>/21/<int:unit>")
def lot(code: str, unit: int | None, gtin: str = "") -> str | Response:
    """Show the lot: all of it to those who work here, what a label says to everyone else and to who asks for that page."""
    text = _text(code, unit)
    if station.who() and request.args.get("see") != "buyer":
        return record_page(text)
    return _shown(text)


@pages.get("/lot")
def look() -> Response:
    """Lead to the page of a code that a buyer typed."""
    text = lot_code_in(request.args.get("code", "").strip())
    try:
        code = LotCode.parse(text)
    except InputError:
        return _shown(text)
    return redirect(url_for("public.lot", code=code.lot, unit=code.unit))


@pages.post("/lot", defaults={"code": "", "unit": None})
@pages.post("/lot/<code>", defaults={"unit": None})
@pages.post("/lot/<code>/<int:unit>")
def complain(code: str, unit: int | None) -> Response:
    """Take a buyer's complaint; it stands in the lot's record at once, and on the workshop's first page until answered."""
    text = _text(code, unit)
    once = station.once_key() if is_key(station.once_key()) else ""  # a form that was tampered with is taken as one without a key
    with station.station().once(once) as slip:
        if slip.went_to:
            return _shown(text, thanks=True)
        problem, status = _problem(text)
        if problem:
            return _shown(text, problem=problem, status=status)
        record(station.ledger(), "complaint", _said(text), now=station.now(), who=BY_BUYER, once=once)
        slip.went_to = request.path
    return _shown(text, thanks=True)


def _problem(text: str) -> tuple[str, int]:
    """Return what keeps a complaint from being taken, by its key, and the status; nothing is thrown away unsaid."""
    said, contact = (printable(request.form.get(name, "")).strip() for name in ("text", "contact"))
    if not said or len(said) > LONGEST or len(contact) > LONGEST:
        return "empty", 400
    if request.form.get("subject"):
        return "trapped", 400  # machines fill in every field; a person's browser may have, so it is asked again
    floods: Floods = current_app.extensions[_FLOODS]
    keys = {"sender": request.remote_addr or "", "pack": text, "all": ""}
    return ("", 200) if floods.lets_in(keys, station.now()) else ("flood", 429)


def _said(text: str) -> dict[str, Any]:
    """The complaint as a fact: with the code of a lot that buyers may know, else with what was typed for one."""
    said, contact = (printable(request.form.get(name, "")).strip() for name in ("text", "contact"))
    given: dict[str, Any] = {"text": said, **({"contact": contact} if contact else {})}
    try:
        return {**given, "code": seen_by_buyer(station.ledger(), text).code}
    except InputError:
        return {**given, "text": f"{said} (the code was given as {text})"} if text else given


def _shown(text: str, *, problem: str = "", thanks: bool = False, status: int = 200) -> Response:
    g.policy = buyers_policy()
    typed = {name: request.form.get(name, "") for name in ("text", "contact")} if problem else {}
    language, once = request.form.get("language", ""), secrets.token_urlsafe(12)
    try:
        seen = seen_by_buyer(station.ledger(), text)
    except InputError as error:
        look = url_for("public.look")
        form = ComplaintForm(look, once, typed, problem)
        page = unknown_page(text, maker_of(station.ledger()), form, thanks=thanks, language=language, look=look)
        return make_response(page, status if problem or thanks else status_of(error))
    form = ComplaintForm(f"/lot/{seen.code}", once, typed, problem)
    return make_response(pack_page(seen, form, thanks=thanks, language=language), status)


def _text(code: str, unit: int | None) -> str:
    return code if unit is None else f"{code}/{unit}"
