"""Goods in: an animal, a part, or an ingredient, with everything that is read off it and its papers."""

from __future__ import annotations

from typing import Any

from flask import Blueprint, flash, redirect, request, url_for
from werkzeug.wrappers import Response

from labelsvc.facts import trichinella_status
from labelsvc.operations.recording import Recorded
from labelsvc.web import moments
from labelsvc.web.forms import Field, Form
from labelsvc.web.scanning import lot_address

pages = Blueprint("goods_in", __name__)

_TRICHINELLA = (
    ("unknown", "Not known"),
    ("tested", "Tested"),
    ("controlled_housing", "From controlled housing"),
    ("frozen", "Frozen"),
)
_KNOWN_AS = (
    ("not known", "Not known"),
    ("individual", "As one animal"),
    ("group", "As a group"),
    ("delivery", "As a delivery"),
)
_SUPPLIER = Field("supplier", "Supplier", "card", card="supplier")
_LOT = Field("supplier_lot", "Supplier's lot number", required=False, hint="It leads to this lot when typed or scanned later.")
_PHOTOS = Field("photos", "Photo of the paper", "photos", required=False, hint="Delivery note, mark or goods: JPEG, PNG or PDF.")
_WARM = Field("temperature_c", "Temperature", "decimal", required=False, unit="°C")
_FROZEN = (
    Field("trichinella.temperature_c", "Frozen at", "decimal", False, "Freezing counts only with all four of its figures.", "°C"),
    Field("trichinella.thickness_cm", "Thickest piece", "decimal", False, unit="cm"),
    Field("trichinella.start", "Frozen from", "time", False),
    Field("trichinella.end", "Frozen until", "time", False),
)
_MEAT = (
    _SUPPLIER,
    Field("name", "What it is", hint="Such as: half pig, beef silverside.", suggest="meat"),
    Field("species", "Animal", suggest="species", hint="Such as: pig, cattle, duck."),
    Field("weight", "Weight", "weight", unit="kg"),
    _WARM,
    Field("known_as", "How it is known", "choice", choices=_KNOWN_AS, value="not known"),
    Field("identity", "Ear tag, slap mark or delivery number", required=False, hint="Exactly as it is read."),
    Field("herd_mark", "Herd mark", required=False),
    Field("slaughterhouse", "Slaughterhouse", required=False, hint="Its approval number."),
    Field("kill_date", "Day of slaughter", "day", required=False),
    _LOT,
    Field("origin", "Country it comes from", required=False, hint="Two capitals, such as FR, as its papers say."),
    Field("trichinella.status", "Trichinella", "choice", choices=_TRICHINELLA, value="unknown"),
    *_FROZEN,
    _PHOTOS,
)
FORMS = {
    "animal": Form("receive", "Goods in: an animal", _MEAT, "Take it in", "A whole animal, a half or a quarter."),
    "part": Form(
        "receive",
        "Goods in: a part",
        (*_MEAT[:4], Field("count", "How many", "count", required=False), *_MEAT[4:]),
        "Take it in",
        "A cut or several of the same: necks, silverside, duck breasts.",
    ),
    "ingredient": Form(
        "receive",
        "Goods in: an ingredient",
        (
            _SUPPLIER,
            Field("name", "Ingredient", "card", card="ingredient", hint="Each container is a lot of its own."),
            Field("weight", "Weight", "weight", unit="kg"),
            _LOT,
            Field("temperature_c", "Temperature", "decimal", required=False, unit="°C"),
            Field(
                "sodium_nitrite_percent",
                "Nitrite on this bag",
                "decimal",
                required=False,
                unit="%",
                hint="Of curing salt, as sodium nitrite, where it is not what its card says: the dose follows the bag.",
            ),
            Field(
                "sodium_nitrate_percent", "Nitrate on this bag", "decimal", required=False, unit="%", hint="As sodium nitrate."
            ),
            _PHOTOS,
        ),
        "Take it in",
        "Salt, curing salt, spice, sugar, casings: whatever goes on the meat.",
    ),
}


def as_typed(receipt: dict[str, Any]) -> dict[str, Any]:
    """Return a receipt as its form takes it: what is known of Trichinella as its parts, however it was recorded."""
    known = receipt.get("trichinella")
    return {**receipt, "trichinella": {"status": trichinella_status(known)}} if isinstance(known, str) else receipt


@pages.route("/goods-in", methods=["GET", "POST"])
def receive() -> moments.Answer:
    """Take something in."""
    kind = request.values.get("kind", "animal")
    form = FORMS.get(kind, FORMS["animal"])
    kind = kind if kind in FORMS else "animal"

    def done(recorded: Recorded, given: dict[str, object]) -> Response:
        flash(f"Taken in as {recorded.codes[0]}. Write the code on it.", "did")
        if kind == "ingredient":
            return redirect(url_for("goods_in.receive", kind=kind, taken=recorded.codes[0]))
        return redirect(lot_address(recorded.codes[0]))

    def act(given: dict[str, object], confirmed: bool) -> Recorded:
        return moments.recording("receive")({**given, "kind": kind}, confirmed)

    return moments.moment(
        form,
        done,
        act=act,
        start=request.args,
        template="goods_in.html",
        about=kind,
        goods=kind,
        taken=request.args.get("taken", ""),
        suggestions={"species": ["pig", "cattle", "duck", "goose", "sheep", "goat", "deer"], "meat": ["half pig", "whole pig"]},
    )
