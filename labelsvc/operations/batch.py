"""The batch record of a lot, and what is in the workshop now."""

from __future__ import annotations

import json
from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from labelsvc import facts
from labelsvc.curing.ingoing import UNCHECKED_CONTENT
from labelsvc.curing.trichinella import may_carry
from labelsvc.ledger import flows, read
from labelsvc.ledger.asof import AsOf, lot_from
from labelsvc.ledger.attachments import erased_among
from labelsvc.ledger.database import Connection, Ledger
from labelsvc.ledger.derive.hanging import base_milligrams
from labelsvc.ledger.projection import issues_from
from labelsvc.ledger.read import LotRow
from labelsvc.ledger.state import LotState
from labelsvc.operations.labelling import issued_labels
from labelsvc.operations.making import Dose, Used, doses_of, made_of
from labelsvc.operations.readiness import ready_said
from labelsvc.operations.recording import sentence
from labelsvc.operations.tracing import whole_json
from labelsvc.units import grams_text, plain, round_half_up


def batch_record(ledger: Ledger, text: str) -> dict[str, Any]:
    """Return everything known of a lot, for the page and the command.

    Args:
        ledger: where.
        text: a code, marker or number.

    Returns:
        lot, weights (sentences), timeline, made_of, came_out, doses and labels.

    Raises:
        CodeError, NotFoundError: no such lot.
    """
    with ledger.reading() as connection:
        lot = read.find(connection, text)
        units = read.units_of(connection, lot)
        pieces = _pieces_of(connection, lot, units)
        return {
            "lot": whole_json(lot, units),
            "weights": weights_said(connection, lot.state),
            "timeline": _timeline(connection, lot),
            "came_out": _came_out_json(connection, units),
            "made_of": _made_of_json(connection, units) if lot.state.kind in ("piece", "pack") else [],
            "doses": [
                dose_json(dose) for dose in doses_of(connection, pieces, lot.state.market, _days(lot.state), lot.state.measured)
            ],
            "labels": [
                {**label, "text": _label_said(label)}
                for unit in {one.code: one for one in (lot, *units)}.values()
                for label in issued_labels(connection, unit)
            ],
        }


def here(ledger: Ledger, state: str | None = None) -> list[dict[str, Any]]:
    """Return the lots of which something is in the workshop, by state."""
    with ledger.reading() as connection:
        return [row.state.shown() for row in read.here(connection) if state is None or row.state.whereabouts == state]


def weights_said(connection: Connection, lot: LotState) -> list[str]:
    """Return what is known of a lot's weight, in sentences; in cure nothing is called a weight before a weighing."""
    if lot.kind != "piece":
        began = [f"began with {grams_text(lot.made_milligrams)} g"] if lot.made_milligrams else []
        return began + _origin_said(connection, lot)
    said = [f"green weight {grams_text(lot.green_milligrams)} g"]
    if lot.phase == "in cure" and not lot.is_weighed:
        said.append(f"in cure: {_now_said(lot)}")
    if lot.strung_on:
        said.append(
            f"hang weight {grams_text(lot.hang_milligrams)} g without {grams_text(lot.tare_milligrams)} g of string and net"
        )
    card = AsOf(connection, read.END_OF_TIME).card("product", lot.product or "")
    if lot.is_portioned:
        said.append(f"{grams_text(lot.milligrams)} g left, the rest is packed")
    elif lot.strung_on and lot.milligrams and isinstance(card, facts.Product):
        base = base_milligrams(lot, card)
        lost = round_half_up(Decimal(base - lot.milligrams) * 100 / base, 1)
        target = f" of {plain(card.target_loss_percent)} % wanted" if card.target_loss_percent else ""
        said.append(f"now {grams_text(lot.milligrams)} g, {lost} % lost{target} ({card.loss_base} weight)")
        ready = ready_said(connection, lot, card)
        said += [ready] if ready else []
    return said


def _origin_said(connection: Connection, lot: LotState) -> list[str]:
    """Return what is known of where goods come from, exactly as read; "not known" is an answer."""
    received = [json.loads(row.body) for row in read.history(connection, lot.code) if row.kind == "receive" and row.body]
    is_host = may_carry(lot.species, lot.born)
    if not received:
        return [f"Trichinella: {lot.trichinella.replace('_', ' ')}"] if lot.trichinella and is_host else []
    fields = _OF_MEAT if lot.kind in ("animal", "part") else _OF_INGREDIENT
    asked = {name: words for name, words in fields.items() if name != "trichinella" or is_host}
    return [f"{words}: {_field_said(received[0].get(name))}" for name, words in asked.items()]


_OF_MEAT = {
    "known_as": "known as",
    "identity": "identity",
    "herd_mark": "herd mark",
    "carcass_number": "carcass number",
    "slaughterhouse": "slaughterhouse",
    "kill_date": "killed on",
    "trichinella": "Trichinella",
    "supplier_lot": "supplier's lot",
    "temperature_c": "temperature at receipt, °C",
}
_OF_INGREDIENT = {"supplier_lot": "supplier's lot", "temperature_c": "temperature at receipt, °C"}


def _field_said(value: Any) -> str:
    if isinstance(value, dict):
        return ", ".join(f"{name.replace('_', ' ')} {inner}" for name, inner in value.items()).removeprefix("status ")
    return "not known" if value is None else str(value).replace("_", " ")


def _timeline(connection: Connection, lot: LotRow) -> list[dict[str, Any]]:
    """What was done to the lot, and what was done where it was (turned, cleaned) meanwhile."""
    own = [(row, row.state) for row in read.history(connection, lot.code)]
    around = [(row, None) for row in read.cared_for(connection, lot.number)]
    return [
        {
            "fact": row.fact,
            "day": row.day,
            "kind": row.kind,
            "what": _what(row.kind, json.loads(row.body or "{}"), lot_from(state) if state else None),
            "by": row.recorded_by,
            "corrected_by": row.corrected_by,
            "findings": [sentence(issue) for issue in issues_from(row.issues)],
            "photos": _photos(connection, json.loads(row.body or "{}")),
        }
        for row, state in sorted([*own, *around], key=lambda pair: (pair[0].at, pair[0].fact))
    ]


def _photos(connection: Connection, body: dict[str, Any]) -> list[dict[str, str | None]]:
    """Return the photos of a fact: hash, and the day on which one was erased."""
    digests = body.get("photos") or ()
    known = erased_among(connection, digests) if digests else {}
    found = [(digest, known.get(digest)) for digest in digests]
    return [{"photo": digest, "erased_on": day.isoformat() if day else None} for digest, day in found]


def _came_out_json(connection: Connection, units: Sequence[LotRow]) -> list[dict[str, Any]]:
    return [
        {
            **row.state.shown(),
            "grams": grams_text(milligrams),
            "text": f"{grams_text(milligrams):>10} g  {row.state.name}, {row.code}",
        }
        for row, milligrams in read.went_into(connection, [unit.number for unit in units])
    ]


def _what(kind: str, body: dict[str, Any], state: LotState | None) -> str:
    """Return what a fact did to a lot, in a few words."""
    now = f", {_now_said(state)}" if state and state.milligrams else ""
    words = {
        "receive": f"received from {body.get('supplier')}",
        "cut": "cut",
        "cure": f"into {body.get('tub')} ({body.get('method')})",
        "salt_again": "salted again",
        "coat": f"{body.get('what')} put on",
        "move": f"moved to {body.get('place')}",
        "split": "split",
        "check": f"{str(body.get('what')).replace('_', ' ')} {body.get('value')} ({body.get('method')})",
        "count": f"counted, {body.get('weight')}",
        "incident": f"held: {body.get('what')}",
        "clean": f"{body.get('thing')} cleaned{', free of allergens' if body.get('allergen_clean') else ''}",
        "turn": f"turned in {body.get('tub')}",
        "take_out": "out of the cure",
        "string": f"strung, {body.get('place')}",
        "weigh": f"weighed {body.get('weight')}",
        "release": f"released by {body.get('by')}",
        "pack": f"packed, session {body.get('session')}",
        "sell": f"sold to {body.get('customer') or 'the public'}",
        "give": f"given to {body.get('to')}",
        "return": f"came back from {body.get('from')}",
        "dispose": str(body.get("how", "")).replace("_", " "),
        "hold": f"held: {body.get('reason')}",
        "lift": f"hold lifted: {body.get('reason')}",
        "complaint": f"complaint: {body.get('text')}",
        "answer_complaint": f"complaint {body.get('complaint')} decided: {body.get('decision')}",
        "open_case": f"{_CASE.get(str(body.get('what')), '')} opened: {body.get('reason')}",
        "case_step": f"case {body.get('case')}: {str(body.get('what')).replace('_', ' ')}, {body.get('words')}",
        "publish": f"case {body.get('case')}: the public is warned, decided by {body.get('by')}",
        "unpublish": f"case {body.get('case')}: the public is warned no more: {body.get('reason')}",
        "issue_label": f"label issued: {body.get('layout')}",
        "reprint_label": f"label of fact {body.get('label')} printed again: {body.get('reason')}",
        "void_label": f"label of fact {body.get('label')} void: {body.get('reason')}",
    }
    return words.get(kind, kind) + now


_CASE = {"withdrawal": "withdrawal", "recall": "recall", "mock": "MOCK exercise"}


def _now_said(lot: LotState) -> str:
    """What there is of a lot; in cure nothing is called a weight before a weighing."""
    if lot.phase == "in cure" and not lot.is_weighed:
        return f"green {grams_text(lot.green_milligrams)} g + {grams_text(lot.put_on_milligrams)} g"
    return f"{grams_text(lot.milligrams)} g"


def _made_of_json(connection: Connection, units: Sequence[LotRow]) -> list[dict[str, Any]]:
    return [
        {
            "code": one.lot.code,
            "name": one.lot.name,
            "kind": one.lot.kind,
            "supplier": one.lot.supplier,
            "grams": _grams(one),
            "text": f"{_grams(one):>10} g  {one.lot.name}, {one.lot.code}, from {one.lot.supplier}",
        }
        for one in made_of(connection, units)
    ]


def _grams(one: Used) -> str:
    return plain(round_half_up(one.milligrams / 1000, 3))


def _pieces_of(connection: Connection, lot: LotRow, units: Sequence[LotRow]) -> list[LotRow]:
    if lot.state.kind == "piece":
        return [lot]
    if lot.state.kind != "pack":
        return []
    givers = {link.giver for link in flows.links_back(connection, [unit.number for unit in units])}
    return [row for row in read.lots_of(connection, givers) if row.state.kind == "piece"]


def _days(lot: LotState) -> list[Any]:
    return [day for day in (lot.packed_on or lot.cured_on or lot.born,) if day]


def dose_json(dose: Dose) -> dict[str, Any]:
    """Return a piece's dose with its working, so that an inspector can follow it."""
    amounts = dose.ingoing.as_json()
    said = f"{dose.piece.code}: {dose.ingoing.in_words()}"
    said += "".join(f". {finding.message}" for finding in dose.findings if finding.rule == UNCHECKED_CONTENT)
    findings = [finding.as_json() for finding in dose.findings]
    return {"code": dose.piece.code, "text": said, **amounts, "findings": findings, "working": list(dose.working)}


def _label_said(label: dict[str, Any]) -> str:
    state = ", superseded: it would say something else today" if label["superseded"] else ""
    return f"{label['day']}  {label['layout']} for {', '.join(label['lots'][:3])}, fact {label['fact']}{state}"
