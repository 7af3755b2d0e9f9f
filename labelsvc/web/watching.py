"""Looking after what is there: measured, moved, counted, and what was cleaned."""

from __future__ import annotations

from typing import Any

from flask import Blueprint, flash, redirect, request
from werkzeug.wrappers import Response

from labelsvc.facts import RESIDUES
from labelsvc.operations import looking
from labelsvc.operations.recording import Recorded
from labelsvc.web import moments, station
from labelsvc.web.forms import Field, Form
from labelsvc.web.scanning import lot_address

pages = Blueprint("watching", __name__)

_LOT = Field("lot", "Lot", "lot", hint="Scan it, or type its code or marker.")
MOVE = Form("move", "Move", (_LOT, Field("place", "To", suggest="places", hint="Room, rack, or tub.")), "It is moved")
COUNT = Form(
    "count",
    "Count stock",
    (_LOT, Field("weight", "What is there", "weight", unit="g", hint="On the scale now, without container or string.")),
    "Record the count",
    "What is more or less than the record says is kept as the difference found by counting.",
)
_METHOD = Field("method", "How it was measured", hint="Such as: meter, calibrated today; laboratory, with the report's number.")
_VALUES = {
    "ph": ("pH", Field("value", "pH", "decimal")),
    "water_activity": ("Water activity", Field("value", "Water activity", "decimal", hint="Such as 0.91.")),
    "salt_percent": ("Salt", Field("value", "Salt in the finished product", "decimal", unit="%")),
    "water_phase_salt_percent": (
        "Brine",
        Field("value", "Salt in the water phase", "decimal", unit="%", hint="Salt ÷ (salt + water), both measured."),
    ),
    "residual_nitrite": (
        "Nitrite left",
        Field("value", "Nitrite left", unit="mg/kg", hint="Such as 38, or <5 where less was found."),
    ),
    "residual_nitrate": (
        "Nitrate left",
        Field("value", "Nitrate left", unit="mg/kg", hint="Such as 38, or <5 where less was found."),
    ),
    "laboratory": ("Laboratory", Field("value", "What the report says", hint="Such as: Listeria not found in 25 g.")),
}
CLEAN = Form(
    "clean",
    "Cleaned",
    (
        Field("thing", "What was cleaned", suggest="things", hint="Slicer, tub, bowl, table or machine."),
        Field(
            "allergen_clean",
            "How",
            "choice",
            choices=(("no", "Cleaned as every day"), ("yes", "Allergen-clean: taken apart, washed, nothing left")),
        ),
    ),
    "Record the cleaning",
    "Allergen-clean ends the reach of an allergen in a recall: say it only where it was so.",
)


@pages.route("/move", methods=["GET", "POST"])
def move() -> moments.Answer:
    """Move a lot to another room, rack or tub."""

    def done(recorded: Recorded, given: dict[str, Any]) -> Response:
        return _back(given["lot"], f"moved to {given['place']}.")

    here = looking.standings(station.ledger())
    return _of_lot(MOVE, done, suggestions={"places": looking.places_in(here)})


@pages.route("/check", methods=["GET", "POST"])
def check() -> moments.Answer:
    """Record a measurement."""
    what = request.args.get("what", "ph")
    what = what if what in _VALUES else "ph"
    words, value = _VALUES[what]
    lead = "A measurement of this very lot. An estimate is none, and belongs nowhere in the record."
    substances = tuple((name, name) for name in RESIDUES.get(what, ()))
    said_as = (Field("expressed_as", "Given as", "choice", choices=substances, hint="As the report says."),) if substances else ()
    form = Form("check", f"Check: {words}", (_LOT, value, *said_as, _METHOD), "Record the measurement", lead)

    def act(given: dict[str, Any], confirmed: bool) -> Recorded:
        return moments.recording("check")({**given, "what": what}, confirmed)

    def done(recorded: Recorded, given: dict[str, Any]) -> Response:
        return _back(given["lot"], f"{words} {given['value']}, {given['method']}.")

    whats = [(name, words) for name, (words, _) in _VALUES.items()]
    return _of_lot(form, done, act=act, template="check.html", what=what, whats=whats)


@pages.route("/count", methods=["GET", "POST"])
def count() -> moments.Answer:
    """Record what is there of a lot."""

    def done(recorded: Recorded, given: dict[str, Any]) -> Response:
        return _back(given["lot"], f"counted, {given['weight']}.")

    return _of_lot(COUNT, done)


@pages.route("/clean", methods=["GET", "POST"])
def clean() -> moments.Answer:
    """Record a cleaning."""

    def act(given: dict[str, Any], confirmed: bool) -> Recorded:
        return moments.recording("clean")({**given, "allergen_clean": given.get("allergen_clean") == "yes"}, confirmed)

    def done(recorded: Recorded, given: dict[str, Any]) -> Response:
        flash(f"Cleaned: {given['thing']}{', allergen-clean' if given['allergen_clean'] == 'yes' else ''}.", "did")
        return redirect("/clean")

    things = looking.things_in(looking.standings(station.ledger()))
    return moments.moment(CLEAN, done, act=act, start=request.args, suggestions={"things": things})


def _of_lot(form: Form, done: moments.Done, *, template: str = "of_lot.html", **context: Any) -> moments.Answer:
    """A moment of one lot, which is named in the address or scanned into the form."""
    asked = request.values.get("lot", "")
    lot = moments.lot_head(asked) if asked and request.method == "GET" else moments.lot_found(asked)
    return moments.moment(form, done, start={"lot": asked}, template=template, about=asked, lot=lot, **context)


def _back(text: str, did: str) -> Response:
    code = looking.standing_of(station.ledger(), text).lot.code
    flash(f"{code}: {did}", "did")
    return redirect(lot_address(code))
