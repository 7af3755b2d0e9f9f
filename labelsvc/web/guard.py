"""Stands before every page and every call: who asks, and may they? The answer is the table in ``permissions``."""

from __future__ import annotations

from typing import Any

import msgspec
from flask import Flask, redirect, render_template, request, session, url_for
from werkzeug.wrappers import Response

from labelsvc.errors import NotAllowedError, NotSignedInError
from labelsvc.operations import looking
from labelsvc.operations.people import is_badge
from labelsvc.web import station
from labelsvc.web.people import sign_in_by_badge
from labelsvc.web.permissions import ANYONE, AT_A_BENCH, RESPONSIBLE, in_words, may, needed
from labelsvc.web.station import Visitor

_SHUT = "This workshop has no account yet: until then it answers only the machine that it runs on."
_HOW = "On that machine, open the first page, or run: labelsvc person NAME --role responsible --password-prompt"


def install(app: Flask) -> None:
    """Ask before a view runs, and let pages show only what may be pressed."""
    app.before_request(_stop)
    app.context_processor(
        lambda: {
            "who": station.who,
            "visitor": station.visitor,
            "workshop": station.workshop,
            "here": station.here,
            "may": may_open,
        }
    )


def may_open(endpoint: str, method: str = "GET", **said: Any) -> bool:
    """Tell whether who asks may see a page, or send it."""
    return may(station.visitor().role, needed(endpoint, method, said))


def _stop() -> Any:
    """Return what is answered instead of the page, or nothing."""
    wanted = needed(request.endpoint, request.method, request.view_args or {})
    if wanted == ANYONE and request.endpoint != "public.lot":
        return None
    visitor = station.visitor()
    if visitor.name:
        station.was_seen()
    elif visitor.is_at_bench and request.endpoint == "scanning.go" and is_badge(request.form.get("code", "")):
        return sign_in_by_badge(request.form["code"])
    if wanted == ANYONE:
        return _chooser() if _is_left_bench(visitor) else None  # a bench left alone is no buyer
    if wanted == AT_A_BENCH:
        return None if visitor.is_at_bench else _way_in(visitor)
    if not visitor.role or (not visitor.name and request.blueprint != "api"):
        return _way_in(visitor)
    _refuse(visitor, wanted)
    return None


def _is_left_bench(visitor: Visitor) -> bool:
    return visitor.is_at_bench and not visitor.name and (visitor.door == "station" or "person" in session)


def _way_in(visitor: Visitor) -> Response | tuple[str, int]:
    """Lead to where one says who one is.

    Raises:
        NotSignedInError: a program, which cannot be led anywhere.
    """
    if request.blueprint == "api":
        _refuse_program(visitor)
    if visitor.is_at_bench:
        return _chooser()
    if visitor.door == "shut":
        return render_template("shut.html", what=_SHUT, how=_HOW), 401
    if visitor.door == "own":
        return redirect("/")  # on a device of one's own nobody else stands
    return redirect(url_for("accounts.sign_in", onward=station.here()))


def _chooser() -> Response:
    return redirect(url_for("people.choose", onward=station.here()))


def _refuse_program(visitor: Visitor) -> None:
    got = "one that opens nothing" if "Authorization" in request.headers else "none"
    hint = f"{_SHUT} {_HOW}" if visitor.door == "shut" else "The responsible person makes one under Cards, People, Tokens."
    raise NotSignedInError("Authorization", "a token that counts, as Bearer", got, hint)


def _refuse(visitor: Visitor, wanted: str) -> None:
    """Refuse what the role may not do.

    Raises:
        NotAllowedError: it may not.
    """
    if not may(visitor.role, wanted):
        raise NotAllowedError("who", in_words(wanted), f"{visitor.name or 'nobody'}, {in_words(visitor.role)}")
    if visitor.role == RESPONSIBLE:
        return
    given = request.get_json(silent=True) if request.endpoint == "api.record" else None
    said = given if isinstance(given, dict) else {}
    if said.get("who") not in (None, "", visitor.name):
        raise NotAllowedError(
            "who", f"yourself, {visitor.name}", str(said["who"]), "Only the responsible person records for others."
        )
    views = request.view_args or {}
    is_correction = request.endpoint in ("correcting.put_right", "correcting.take_back") or views.get("kind") == "correct"
    if is_correction:
        _refuse_correction(visitor, views.get("fact", said.get("fact")))


def _refuse_correction(visitor: Visitor, number: object) -> None:
    """What others recorded, or what one may not record, is for the responsible person to put right."""
    try:
        fact = msgspec.convert(number, int, strict=False)  # as a fact reads it: also in quotes, "3e0" among them
    except msgspec.ValidationError:
        return  # the view names the field
    if not 0 < fact < 2**63:
        return  # no fact has such a number, says the view
    kind, names = looking.said_by(station.ledger(), fact)
    if names != {visitor.name} or not may(visitor.role, needed("api.record", "POST", {"kind": kind})):
        by = " and ".join(sorted(name or "nobody named" for name in names))
        got = f"a fact of the kind {kind} by {by}"
        raise NotAllowedError("fact", f"one that you recorded and may record, or {in_words(RESPONSIBLE)}", got)
