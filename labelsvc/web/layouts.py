"""Layouts to look at and to change: copied into one's own folder, a number changed, the label seen, faults at their line."""

from __future__ import annotations

import base64
from typing import Any, cast

from flask import Blueprint, Response, flash, g, redirect, render_template, request, url_for
from werkzeug.wrappers import Response as BaseResponse

from labelsvc.errors import InputError, NotFoundError
from labelsvc.labels.samples import Which
from labelsvc.operations import previewing
from labelsvc.web import station
from labelsvc.web.security import POLICY

pages = Blueprint("layouts", __name__)
LANGUAGES = ("en", "fr", "de", "it", "es")
LONGEST = 60_000  # characters of a layout file; the longest shipped one has a tenth of that


@pages.get("/layouts")
def shelf() -> str:
    """Show all layouts and sheets."""
    at_hand = station.station().layouts
    return render_template("layouts.html", said=previewing.shelf_said(at_hand), own=at_hand.own is not None)


@pages.get("/layouts/<name>.png")
def picture(name: str) -> Response:
    """Give the picture of a layout with an everyday or the longest content."""
    at_hand = station.station().layouts
    text = previewing.text_of(at_hand, name)
    seen = previewing.preview(text, f"{name}.toml", at_hand, which=_which(request.args), language=_language(request.args))
    if seen.fault is not None:
        raise NotFoundError("layout", f"{name} without a fault", seen.fault.message)
    return Response(seen.png, mimetype="image/png")


@pages.route("/layouts/<name>", methods=["GET", "POST"])
def layout(name: str) -> str:
    """Show a layout's file and how it looks, as it is or as it was changed on the page; nothing is kept."""
    is_typed = request.method == "POST"
    text = _typed() if is_typed else previewing.text_of(station.station().layouts, name)
    return _shown(name, text, _language(request.form if is_typed else request.args))


@pages.post("/layouts/<name>/keep")
def keep(name: str) -> str | BaseResponse:
    """Keep a changed layout in the own folder."""
    kept_as = request.form.get("name", name).strip()
    try:
        previewing.keep_own(station.station().layouts, kept_as, _typed(), changed_from=name)
    except InputError as error:
        return _shown(name, _typed(), _language(request.form), error.message)
    flash(f"{kept_as} is kept in your own folder. It goes before a shipped layout of the same name.", "did")
    return redirect(url_for("layouts.layout", name=kept_as))


def _typed() -> str:
    return request.form.get("text", "")[:LONGEST]


def _shown(name: str, text: str, language: str, problem: str = "") -> str:
    at_hand = station.station().layouts
    seen = {which: previewing.preview(text, f"{name}.toml", at_hand, which=which, language=language) for which in _WHICH}
    pictures = {which: base64.b64encode(one.png).decode("ascii") for which, one in seen.items()}
    g.policy = f"{POLICY}; img-src 'self' data:"  # the pictures of what was typed and is kept nowhere
    return render_template(
        "layout.html", name=name, text=text, seen=seen, pictures=pictures, language=language, languages=LANGUAGES,
        problem=problem, own=at_hand.own is not None, lines=text.splitlines(),
    )  # fmt: skip


_WHICH: tuple[Which, Which] = ("sample", "worst")


def _which(given: Any) -> Which:
    return cast(Which, given.get("content")) if given.get("content") in _WHICH else "sample"


def _language(given: Any) -> str:
    return str(given.get("language")) if given.get("language") in LANGUAGES else "en"
