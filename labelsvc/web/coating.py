"""After the cure: a wash, a coating, a casing or a netting goes on pieces."""

from __future__ import annotations

from typing import Any

from flask import Blueprint, flash, redirect, request, url_for
from werkzeug.wrappers import Response

from labelsvc.operations import looking
from labelsvc.operations.recording import Recorded
from labelsvc.web import moments, station
from labelsvc.web.forms import Field, Form
from labelsvc.web.scanning import lot_address
from labelsvc.web.tubs import MIX, tell_doses

pages = Blueprint("coating", __name__)

_WHAT = (("wash", "A wash"), ("coating", "A coating"), ("casing", "A casing"), ("netting", "A netting"))
COAT = Form(
    "coat",
    "Wash, coat, case or net",
    (
        Field("pieces", "Pieces", "codes", hint="Codes or markers, one a line."),
        Field("what", "What goes on", "choice", choices=_WHAT),
        MIX,
        Field("unused", "What touched no meat", "weight", required=False, unit="g", hint="It is thrown away."),
        Field("things", "Machines and bowls", "list", required=False, hint="With commas between."),
    ),
    "Record it",
    "It counts as an ingredient, for limits, and for allergens.",
)


@pages.route("/coat", methods=["GET", "POST"])
def coat() -> moments.Answer:
    """Put something on pieces after or beside the cure."""
    asked = request.args.getlist("pieces")

    def done(recorded: Recorded, given: dict[str, Any]) -> Response:
        tell_doses(given["pieces"])
        flash(f"{given['what'].capitalize()} on {', '.join(given['pieces'])}.", "did")
        return redirect(lot_address(given["pieces"][0]) if len(given["pieces"]) == 1 else url_for("today.today"))

    here = looking.standings(station.ledger())
    stock = [(one.lot.code, f"{one.lot.name}, {one.here} g") for one in here if one.lot.kind == "ingredient"]
    return moments.moment(
        COAT, done, start={"pieces": "\n".join(asked)}, about=",".join(asked), suggestions={"stock": stock},
        lot=moments.lot_found(asked[0]) if len(asked) == 1 else None,
    )  # fmt: skip
