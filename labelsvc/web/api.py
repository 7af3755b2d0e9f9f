"""The same operations as JSON under ``/api/v1``, with the same errors as the command line."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Mapping, Sequence
from typing import Any, cast

from flask import Blueprint, jsonify, request

from labelsvc.errors import InputError
from labelsvc.operations.batch import batch_record, here
from labelsvc.operations.cases import case_of
from labelsvc.operations.cases import cases as all_cases
from labelsvc.operations.complaints import complaint_of
from labelsvc.operations.complaints import complaints as all_complaints
from labelsvc.operations.computing import COMPUTATIONS
from labelsvc.operations.photos import keep_photo
from labelsvc.operations.recalling import recall as search
from labelsvc.operations.recording import record as record_fact
from labelsvc.operations.searching import Reach, Suspicion
from labelsvc.operations.tracing import trace as trace_lot
from labelsvc.units import decimal
from labelsvc.web import station
from labelsvc.web.openapi import document

pages = Blueprint("api", __name__)
REACHES = ("mass", "tub", "slicer", "room")
_DIGITS = 10  # a number with as many is none that anyone counts to
# What a recall may be searched by, each with its words.
RECALL_ASKS = {
    "lot": "Code, marker or number of a lot; may be given several times.",
    "supplier": "Name of a supplier.",
    "ingredient": "Name of an ingredient.",
    "from": "First day, such as 2026-03-02.",
    "to": "Last day.",
    "place": "A room, rack or tub.",
    "undeclared": "An allergen that the labels do not name.",
    "customer": "Someone who had packs of it.",
    "recipe": "A recipe that pieces were cured by.",
    "recipe_version": "With recipe: only what was cured by that version of it, 1 for the first.",
    "mark": "An ear tag, herd mark or delivery number; it may lead to several lots.",
    "rule": "A rule that labels relied on, by its id.",
    "dose_above": "Nitrite put on a piece, as sodium nitrite in ppm: above this.",
    "since_cleaning": "true: of the place, only what was there since it was last cleaned.",
    "reach": f"How far it reaches: {', '.join(REACHES)}; mass where it is left out.",
}


@pages.post("/record/<kind>")
def record(kind: str) -> Any:
    """Record a fact given as a JSON object; answers its number and the codes it gave out. With an Idempotency-Key only once."""
    given, key = _object(kind), request.headers.get("Idempotency-Key", "")
    recorded = record_fact(station.ledger(), kind.replace("-", "_"), given, now=station.now(), who=station.who(), once=key)
    return jsonify(recorded.as_json())


@pages.post("/compute/<name>")
def compute(name: str) -> Any:
    """Compute something from a JSON object."""
    if name not in COMPUTATIONS:
        raise InputError("name", f"one of {', '.join(COMPUTATIONS)}", name)
    return jsonify(COMPUTATIONS[name](_object(name)))


@pages.post("/photos")
def photo() -> Any:
    """Keep a photo, sent as it is; answers the hash by which a fact names it."""
    kept = keep_photo(station.ledger(), request.get_data(), now=station.now(), who=station.who(), field="photo")
    return jsonify({"photo": kept})


@pages.get("/trace/<path:code>")
def trace(code: str) -> Any:
    """Trace a lot both ways."""
    return jsonify(trace_lot(station.ledger(), code))


@pages.get("/recall")
def recall() -> Any:
    """Search a recall."""
    asked = request.args
    for name in asked:
        if name not in RECALL_ASKS:
            raise InputError(name, f"only {', '.join(RECALL_ASKS)}", "a parameter of that name")
    return jsonify(search(station.ledger(), suspicion_of(asked, asked.getlist("lot"))))


@pages.get("/cases")
def cases() -> Any:
    """List the withdrawals, recalls and exercises, the open ones first."""
    return jsonify({"cases": all_cases(station.ledger(), station.now())})


@pages.get("/cases/<int:number>")
def case(number: int) -> Any:
    """Give a case: what is affected, who is to be told and was, where the grams are."""
    return jsonify(case_of(station.ledger(), number, station.now()))


@pages.get("/complaints")
def complaints() -> Any:
    """List the complaints, the newest first, with what two of them have in common."""
    return jsonify({"complaints": all_complaints(station.ledger())})


@pages.get("/complaints/<int:number>")
def complaint(number: int) -> Any:
    """Give a complaint."""
    return jsonify(complaint_of(station.ledger(), number))


@pages.get("/lots")
def lots() -> Any:
    """List what is in the workshop."""
    return jsonify({"lots": here(station.ledger(), request.args.get("state"))})


@pages.get("/lots/<path:code>")
def lot(code: str) -> Any:
    """Give the batch record of a lot."""
    return jsonify(batch_record(station.ledger(), code))


@pages.get("/openapi.json")
def openapi() -> Any:
    """Describe this interface as OpenAPI 3.1."""
    return jsonify(document(RECALL_ASKS))


def suspicion_of(asked: Mapping[str, str], lots: Sequence[str]) -> Suspicion:
    """Return what a search asks, from the parameters of ``RECALL_ASKS``; one that is empty is not asked.

    Raises:
        InputError: a day, number or reach that cannot be.
    """
    reach = asked.get("reach") or "mass"
    if reach not in REACHES:
        raise InputError("reach", f"one of {', '.join(REACHES)}", reach)
    above = asked.get("dose_above")
    names = ("supplier", "ingredient", "place", "undeclared", "customer", "recipe", "mark", "rule")
    return Suspicion(
        tuple(lots),
        first=day("from", asked.get("from")),
        last=day("to", asked.get("to")),
        reach=cast(Reach, reach),
        dose_above=decimal(above, "dose_above") if above else None,
        since_cleaning=asked.get("since_cleaning") in ("true", "yes"),
        recipe_version=whole("recipe_version", asked.get("recipe_version")),
        **{name: asked.get(name) or None for name in names},
    )


def whole(field: str, text: str | None) -> int | None:
    """Return a whole number as it was given, or None where nothing was.

    Raises:
        InputError: not a whole number.
    """
    if text and not (text.isascii() and text.isdigit() and len(text) < _DIGITS):
        raise InputError(field, "a whole number such as 2", text)
    return int(text) if text else None


def day(field: str, text: str | None) -> dt.date | None:
    """Return a day as it was given, or None where nothing was.

    Raises:
        InputError: not a day.
    """
    try:
        return dt.date.fromisoformat(text) if text else None
    except ValueError:
        raise InputError(field, "a day such as 2026-03-02", text or "") from None


def _object(name: str) -> dict[str, Any]:
    """Read the body; a number with a decimal point stays a float, so that reading a fact refuses it by name."""
    try:
        given = json.loads(request.get_data())
    except (ValueError, RecursionError):
        raise InputError(name, "one JSON object", "text that is not JSON") from None
    if not isinstance(given, dict):
        raise InputError(name, "one JSON object", json.dumps(given)[:60])
    return given
