"""While it lies in the tub: salted again, turned, and taken out before it is strung."""

from __future__ import annotations

from typing import Any

from flask import Blueprint, flash, redirect, request, url_for
from werkzeug.wrappers import Response

from labelsvc.operations import looking
from labelsvc.operations.batch import batch_record
from labelsvc.operations.looking import Standing
from labelsvc.operations.recording import Recorded
from labelsvc.rules.load import MARKETS
from labelsvc.web import moments, station
from labelsvc.web.forms import Field, Form, Rows

pages = Blueprint("tubs", __name__)

BY_THE_SPOON = "Spices also as 2 tsp or 1 tbsp: an estimate. Never what holds nitrite or nitrate."
MIX = Rows(
    "mix",
    "Weighed out, for all pieces together",
    (
        Field("lot", "Container", "lot", suggest="stock", carried=True),
        Field("weight", "Grams on the scale", "weight", unit="g"),
    ),
    "One more ingredient",
    start=1,
    hint=BY_THE_SPOON,
)
SALT_AGAIN = Form(
    "salt_again",
    "Salt again",
    (
        Field("pieces", "Pieces", "codes", hint="Codes or markers, one a line."),
        MIX,
        Field("unused", "Mix that touched no meat", "weight", required=False, unit="g", hint="It is thrown away."),
    ),
    "Record the salt",
    "What was put on before counts too: limits are checked on the sum.",
)
TAKE_OUT = Form(
    "take_out",
    "Out of the tub",
    (
        Rows(
            "pieces",
            "Pieces that come out",
            (
                Field("code", "Piece", "lot", suggest="in_cure"),
                Field("weight", "Weight, drained", "weight", required=False, unit="g"),
            ),
            "One more piece",
            start=1,
            hint="A weight may be left out. Clear the row of a piece that stays in.",
        ),
        Field("leftover", "Scraped off, drained", "weight", required=False, unit="g", hint="Of a cure in excess salt."),
    ),
    "Record it",
    "Piece by piece with a tag: string it instead, then it is out of the tub by itself.",
)
TURN = Form("turn", "Turn the tub", (Field("tub", "Tub", suggest="tubs"),), "It is turned")


@pages.route("/salt-again", methods=["GET", "POST"])
def salt_again() -> moments.Answer:
    """Put more of a mix on pieces in cure."""
    asked = _asked()

    def done(recorded: Recorded, given: dict[str, Any]) -> Response:
        tell_doses(given["pieces"])
        flash(f"Salted again: {', '.join(given['pieces'])}.", "did")
        return redirect(url_for("today.today"))

    here = looking.standings(station.ledger())
    stock = [(one.lot.code, f"{one.lot.name}, {one.here} g") for one in here if one.lot.kind == "ingredient"]
    return moments.moment(
        SALT_AGAIN, done, start={"pieces": "\n".join(one.lot.code for one in asked)}, template="tub.html",
        about=_about(asked), suggestions={"stock": stock}, **_page_of("tubs.salt_again", asked, here),
    )  # fmt: skip


@pages.route("/take-out", methods=["GET", "POST"])
def take_out() -> moments.Answer:
    """Take pieces out of the tub, weighed or not, without stringing them yet."""
    asked = _asked()

    def done(recorded: Recorded, given: dict[str, Any]) -> Response:
        flash(f"Out of the tub: {', '.join(one['code'] for one in given['pieces'])}. Next: string.", "did")
        return redirect(url_for("hanging.string"))

    here = looking.standings(station.ledger())
    in_cure = [(one.lot.code, " · ".join((one.lot.name, *one.lot.aliases))) for one in here if one.lot.phase == "in cure"]
    return moments.moment(
        TAKE_OUT, done, start={f"pieces-{row}-code": one.lot.code for row, one in enumerate(asked)}, template="tub.html",
        about=_about(asked), suggestions={"in_cure": in_cure}, **_page_of("tubs.take_out", asked, here),
    )  # fmt: skip


@pages.route("/turn", methods=["GET", "POST"])
def turn() -> moments.Answer:
    """Record that a tub was turned or restacked."""
    here = looking.standings(station.ledger())
    tub = request.args.get("tub", "")

    def done(recorded: Recorded, given: dict[str, Any]) -> Response:
        flash(f"Turned: {given['tub']}.", "did")
        return redirect(url_for("today.today"))

    return moments.moment(
        TURN, done, start={"tub": tub}, template="tub.html", about=tub,
        suggestions={"tubs": looking.tubs_in(here)}, **_page_of("tubs.turn", [], here),
    )  # fmt: skip


def tell_doses(pieces: list[str]) -> None:
    """Say what the limits make of it at once, where it can still be put right."""
    for piece in pieces:
        for dose in batch_record(station.ledger(), piece)["doses"]:
            for finding in dose["findings"]:
                if finding["severity"] != "note":
                    market = finding["rule"].partition(".")[0]
                    where = f", {market.upper()}" if market in MARKETS else ""
                    flash(f"{dose['code']}{where}: {finding['message']}", "stop" if finding["severity"] == "stop" else "note")


def _asked() -> list[Standing]:
    """The pieces of the tub, or those named in the address."""
    tub = request.args.get("tub", "")
    if tub:
        return looking.in_tub(station.ledger(), tub)
    return [looking.standing_of(station.ledger(), code) for code in request.args.getlist("pieces")]


def _about(asked: list[Standing]) -> str:
    return request.args.get("tub", "") or ",".join(one.lot.code for one in asked)


def _page_of(page: str, asked: list[Standing], here: list[Standing]) -> dict[str, Any]:
    """What the page shows around its form: the lot where it is one, else the tubs to choose from."""
    tub = request.args.get("tub", "")
    return {"page": page, "tub": tub, "tubs": looking.tubs_in(here), "lot": asked[0] if len(asked) == 1 and not tub else None}
