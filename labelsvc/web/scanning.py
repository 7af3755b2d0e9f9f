"""The box on every page: any code, marker, link or tub leads to that lot and its next natural step."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from labelsvc.codes.scanned import lot_code_in
from labelsvc.errors import InputError
from labelsvc.operations import looking
from labelsvc.operations.people import is_badge
from labelsvc.web import station
from labelsvc.web.errors import status_of, told
from labelsvc.web.people import sign_in_by_badge
from labelsvc.web.wording import step_of

pages = Blueprint("scanning", __name__)


@pages.route("/go", methods=["GET", "POST"])
def go() -> str | Response | tuple[str, int]:
    """Lead to what was scanned or typed; a badge says who stands here and leads back. It is posted: no address shows a badge."""
    text = request.values.get("code", "").strip()
    if request.method == "POST" and is_badge(text):
        return sign_in_by_badge(text)
    if not text:
        return redirect(url_for("today.today"))
    try:
        standing = looking.standing_of(station.ledger(), lot_code_in(text))
    except InputError as error:
        if looking.in_tub(station.ledger(), text):
            return redirect(url_for("hanging.string", tub=text))
        if looking.is_free_marker(station.ledger(), lot_code_in(text)):
            flash(f"{lot_code_in(text)} was printed ahead and is free. Say which animal the piece is cut from.", "note")
            return redirect(url_for("cutting.cut", marker=lot_code_in(text)))
        return render_template("not_found.html", text=text, message=told(error)), status_of(error)
    return redirect(next_page(standing))


def next_page(standing: looking.Standing) -> str:
    """Return the page of a lot's next natural step; its own page where there is none."""
    step = step_of(standing)
    return step["href"] if step else lot_address(standing.lot.code)


def lot_address(code: str) -> str:
    """Return the address of a lot's page."""
    return f"/lot/{code}"
