"""The HTTP interface as an OpenAPI 3.1 document, written from the shapes that read its requests."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cache
from typing import Any

from labelsvc.facts import KINDS
from labelsvc.operations.computing import COMPUTATIONS, REQUESTS
from labelsvc.web.json_schema import schemas_of
from labelsvc.web.station import COOKIE

Schema = dict[str, Any]
_BASE = "/api/v1"
_TEXT: Schema = {"type": "string"}
_NULLABLE: Schema = {"type": ["string", "null"]}
# Beside its own fields every fact may say when, by whom, and yes to a question.
_ENVELOPE: Schema = {
    "at": {"type": "string", "description": "A day or time; now if left out.", "examples": ["2026-03-02", "2026-03-02T08:15"]},
    "who": {"type": "string", "description": "Who says so."},
    "confirmed": {"type": "boolean", "description": "Yes to what is unusual but possible.", "default": False},
    "ask": {
        "type": "boolean",
        "description": "Someone is there to be asked about a day long gone or a weight unlike the product's others.",
        "default": False,
    },
}
# The request that reads its three forms itself.
_GS1: Schema = {
    "type": "object",
    "description": "One set of GS1 elements in one of three forms.",
    "properties": {
        "human_readable": {"type": "string", "examples": ["(01)09521234543213(10)H14"]},
        "scan": {"type": "string", "description": "As a scanner sends it, FNC1 as U+001D."},
        "link": {"type": "string", "description": "A GS1 Digital Link."},
        "base": {"type": "string", "description": "The address of the link that is written."},
    },
    "oneOf": [{"required": [form]} for form in ("human_readable", "scan", "link")],
    "additionalProperties": False,
}
# What each computation answers; every one is an object, and amounts in it are bare decimals in quotes.
_COMPUTED: Mapping[str, Sequence[str]] = {
    "ingoing": ("nitrite", "nitrate", "salt_percent", "upper_bound", "findings", "working"),
    "dose": ("weigh", "ingoing", "worst", "findings", "working"),
    "declaration": ("ingredient_list", "runs", "quantity_statement", "quantities", "allergens", "statements", "findings"),
    "nutrition": ("per_100g", "declared"),
    "label": ("particulars", "smallest_mm", "x_height_mm", "findings"),
    "gs1": ("elements", "human_readable", "scan", "link", "findings"),
    "drying": ("ready_day",),
    "water": ("water_phase_salt_percent", "water_activity", "finished_salt_percent", "findings"),
    "lot-code": ("code", "kind", "date"),
    "habit": ("habit", "known", "can_mean", "cannot_tell", "needs", "findings"),
    "class": ("market", "class", "why", "remarks", "classes"),
    "volume": ("name", "volume", "weight", "estimate", "source", "findings"),
    "intake": ("mg_a_day_as_ion", "mg_a_day_as_sodium_salt", "food_grams_a_day", "working", "findings"),
}
_CASE = ("case", "what", "reason", "lots", "opened", "closed", "minutes")
_ERRORS = {
    "400": "A field that cannot be, or a question that wants `confirmed`.",
    "401": "Nobody knows who asks.",
    "403": "The role of who asks may not.",
    "404": "No such lot, fact or name.",
    "409": "It cannot follow what is recorded.",
    "422": "Stopped by findings; there is no override.",
    "503": "The database cannot be read or written just now; nothing half is kept.",
}
# How a program and a browser say who they are; until the first account is made, this machine alone needs neither.
_SCHEMES: Schema = {
    "token": {"type": "http", "scheme": "bearer", "description": "Made by the responsible person, with a role and an end date."},
    "browser": {"type": "apiKey", "in": "cookie", "name": COOKIE, "description": "Of a browser that someone signed in."},
}


@cache
def _shapes() -> dict[str, Schema]:
    """Return the schemas of all requests: a kind of fact is a component of its name, a computation's of its class."""
    asked = {shape.__name__: shape for shapes in REQUESTS.values() for shape in shapes}
    found = schemas_of({**{f"fact.{kind}": shape for kind, shape in KINDS.items()}, **asked})
    for kind in KINDS:
        found[f"fact.{kind}"] = {
            **found[f"fact.{kind}"],
            "properties": {**found[f"fact.{kind}"]["properties"], **_ENVELOPE},
        }
    return found


def document(recall_asks: Mapping[str, str]) -> dict[str, Any]:
    """Return the document.

    Args:
        recall_asks: name and words of each parameter that a recall may be searched by.
    """
    return {
        "openapi": "3.1.0",
        "info": {
            "title": "labelsvc",
            "version": "1",
            "description": "The same operations as the commands and pages: the same JSON, and the same errors. Weights are text "
            "with a unit, other amounts bare decimals in quotes; floats are refused.",
        },
        "paths": {
            **{f"{_BASE}/record/{kind}": {"post": _record(kind)} for kind in KINDS},
            **{f"{_BASE}/compute/{name}": {"post": _compute(name)} for name in COMPUTATIONS},
            f"{_BASE}/photos": {"post": _photos()},
            f"{_BASE}/trace/{{code}}": {"get": _get("trace", "Trace a lot both ways.", "Trace", [_code()], "400", "404")},
            f"{_BASE}/recall": {"get": _get("recall", "Search a recall.", "Recall", _asks(recall_asks), "400", "404")},
            f"{_BASE}/cases": {"get": _get("cases", "List withdrawals, recalls and exercises.", "Cases", [])},
            f"{_BASE}/cases/{{number}}": {"get": _get("case", "Give a case.", "Case", [_number("case")], "404")},
            f"{_BASE}/complaints": {"get": _get("complaints", "List the complaints.", "Complaints", [])},
            f"{_BASE}/complaints/{{number}}": {
                "get": _get("complaint", "Give a complaint.", "Complaint", [_number("complaint")], "404")
            },
            f"{_BASE}/lots": {"get": _get("lots", "List what is in the workshop.", "Lots", [_state()])},
            f"{_BASE}/lots/{{code}}": {"get": _get("lot", "Give the batch record of a lot.", "Batch", [_code()], "400", "404")},
            f"{_BASE}/openapi.json": {"get": _get("openapi", "Describe this interface.", "Document", [])},
        },
        "components": {"schemas": {**_answers(), **_shapes()}, "securitySchemes": _SCHEMES},
        "security": [{"token": []}, {"browser": []}],
    }


def _record(kind: str) -> Schema:
    summary = str(_shapes()[f"fact.{kind}"]["description"]).split(". ")[0]
    said = {"operationId": f"record_{kind}", "tags": ["record"], "summary": summary, "parameters": [_key()]}
    return {**said, "requestBody": _body(_ref(f"fact.{kind}")), "responses": _responses("Recorded", *_ERRORS)}


def _compute(name: str) -> Schema:
    shapes = [_GS1] if name == "gs1" else [_ref(shape.__name__) for shape in REQUESTS[name]]
    body = shapes[0] if len(shapes) == 1 else {"oneOf": shapes}
    said = {"operationId": f"compute_{name.replace('-', '_')}", "tags": ["compute"], "summary": f"Compute {name}."}
    return {**said, "requestBody": _body(body), "responses": _responses(f"computed.{name}", "400", "422")}


def _photos() -> Schema:
    body = {"required": True, "content": {kind: {} for kind in ("image/jpeg", "image/png", "application/pdf")}}
    said = {"operationId": "photo", "tags": ["record"], "summary": "Keep a photo; a fact names it by its hash in `photos`."}
    return {**said, "requestBody": body, "responses": _responses("Photo", "400")}


def _get(name: str, summary: str, answer: str, parameters: list[Schema], *errors: str) -> Schema:
    said = {"operationId": name, "tags": ["read"], "summary": summary}
    return {**said, "parameters": parameters, "responses": _responses(answer, *errors)}


def _responses(answer: str, *errors: str) -> Schema:
    done = {"description": "Done.", "content": _json(_ref(answer))}
    codes = ("401", "403", *errors)
    return {"200": done, **{code: {"description": _ERRORS[code], "content": _json(_ref("Error"))} for code in codes}}


def _body(schema: Schema) -> Schema:
    return {"required": True, "content": _json(schema)}


def _json(schema: Schema) -> Schema:
    return {"application/json": {"schema": schema}}


def _ref(name: str) -> Schema:
    return {"$ref": f"#/components/schemas/{name}"}


def _key() -> Schema:
    words = "New for each request: sent again under the same key it is recorded once, and answered alike."
    return {"name": "Idempotency-Key", "in": "header", "description": words, "schema": {**_TEXT, "maxLength": 200}}


def _code() -> Schema:
    words = "A lot code, a pack's code with its number (K261125026/3), a marker, ear tag or supplier's lot number."
    return {"name": "code", "in": "path", "required": True, "description": words, "schema": _TEXT}


def _number(kind: str) -> Schema:
    words = f"The number of the fact that is the {kind}."
    return {"name": "number", "in": "path", "required": True, "description": words, "schema": {"type": "integer"}}


def _state() -> Schema:
    words = "Only lots of this state, such as hanging or in stock."
    return {"name": "state", "in": "query", "description": words, "schema": _TEXT}


def _asks(asks: Mapping[str, str]) -> list[Schema]:
    return [
        {
            "name": name,
            "in": "query",
            "description": words,
            "schema": {"type": "array", "items": _TEXT} if name == "lot" else _TEXT,
        }
        for name, words in asks.items()
    ]


def _answers() -> dict[str, Schema]:
    """Return the schemas of answers."""
    texts = {name: _TEXT for name in ("rule", "known", "citation", "message")}
    figures = {name: _NULLABLE for name in ("limit", "found", "unit", "expressed_as", "basis")}
    severity = {"enum": ["stop", "warn", "note"]}
    lot = _object(("code", "kind", "state", "place", "grams"), code=_TEXT, kind=_TEXT, state=_TEXT, place=_NULLABLE, grams=_TEXT)
    return {
        "Finding": _object(
            ("rule", "severity", "exceeded", "message"), severity=severity, exceeded={"type": "boolean"}, **texts, **figures
        ),
        "Error": _object(
            ("error",),
            error=_object(
                ("field", "expected", "got", "message"),
                field=_NULLABLE, expected=_NULLABLE, got=_NULLABLE, message=_TEXT, findings=_list(_ref("Finding")),
                answer=_object((), confirmed={"type": "boolean"}),
            ),
        ),
        "Recorded": _object(
            ("fact", "codes"),
            fact={"type": "integer"}, codes=_list(_TEXT), notes=_list(_TEXT), later=_list({"type": "object"}),
        ),
        "Lot": lot,
        "Lots": _object(("lots",), lots=_list(_ref("Lot"))),
        "Way": _list(_ref("Lot")),
        "Balance": _object(("in", "out", "difference"), out={"type": "object", "additionalProperties": _TEXT}),
        "Trace": _object(
            ("lot", "back", "forward", "contact", "sales", "balance"),
            lot=_ref("Lot"), back=_ref("Way"), forward=_ref("Way"), contact=_ref("Way"), balance=_ref("Balance"),
        ),
        "Recall": _object(
            ("affected", "start", "customers", "told_otherwise", "balance", "took_ms"),
            affected=_ref("Way"), balance=_ref("Balance"), took_ms={"type": "integer"},
        ),
        "Cases": _object(("cases",), cases=_list(_object(_CASE))),
        "Case": _object(
            (*_CASE, "affected", "to_hold", "held", "to_tell", "packs", "published", "authority", "steps", "effectiveness"),
            affected=_ref("Way"), balance=_ref("Balance"), to_tell=_list(_object(("name", "how", "state", "grams", "calls"))),
        ),
        "Complaints": _object(("complaints",), complaints=_list(_ref("Complaint"))),
        "Complaint": _object(("complaint", "day", "text", "contact", "code", "answers", "meets"), text=_TEXT, contact=_NULLABLE),
        "Batch": _object(("lot", "weights", "timeline", "made_of", "came_out", "doses", "labels"), lot=_ref("Lot")),
        "Photo": _object(("photo",), photo=_TEXT),
        "Document": {"type": "object"},
        **{f"computed.{name}": _computed(name) for name in COMPUTATIONS},
    }  # fmt: skip


def _computed(name: str) -> Schema:
    fields = _COMPUTED.get(name, ())
    return _object(fields, **({"findings": _list(_ref("Finding"))} if "findings" in fields else {}))


def _object(required: Sequence[str], /, **properties: Schema) -> Schema:
    return {"type": "object", "required": list(required), "properties": properties}


def _list(items: Schema) -> Schema:
    return {"type": "array", "items": items}
