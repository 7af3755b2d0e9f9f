"""What the labels that stay in the workshop say: the tag of a held lot, the card of a tub, the label of a container.

They are the workshop's own working papers, in English like the facts they come from; captions are in the layouts.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace

from labelsvc import choices, facts
from labelsvc.codes.lot_code import LotCode
from labelsvc.curing.advice import CAUTION
from labelsvc.curing.mix import MixLine, brings_curing_agent
from labelsvc.declaration.context import figure, labelling_rule
from labelsvc.declaration.words import words_of
from labelsvc.errors import ConflictError
from labelsvc.labels.content import LabelContent, Words
from labelsvc.ledger import read
from labelsvc.ledger.asof import AsOf
from labelsvc.ledger.database import Connection
from labelsvc.ledger.derive.bench import card_key
from labelsvc.ledger.derive.dosing import mix_line
from labelsvc.ledger.read import LotRow
from labelsvc.ledger.state import LotState, PutOn
from labelsvc.operations.content import Said
from labelsvc.operations.cross_contact import allergens_in
from labelsvc.operations.issuing import Printout, of_lot
from labelsvc.operations.making import doses_of, ingredient_of
from labelsvc.rules.load import rules_of
from labelsvc.units import grams_text, plain

_TIED = "\u00a0"  # keeps a number and its unit on one line
_METHODS = {"dry": "dry cure", "dry_excess": "dry cure in excess", "brine": "in brine"}


def tag_printout(said: Said, workshop: facts.Workshop, now: dt.datetime) -> Printout:
    """Return the hanging tag of a piece; in the United States NOT FOR SALE has the height of the law (9 CFR 317.16)."""
    content = said.content
    if workshop.country == "US" and choices.standing(workshop.standing) == "not_for_sale":
        least = figure(labelling_rule(rules_of("us", now.date()), "not_for_sale_height"))
        content = replace(content, smallest_mm={**content.smallest_mm, "not_for_sale": least})
    return Printout(said.lot.code, (said.lot.code,), content, said.lot.market, said.allergens, said.findings)


def hold_printout(connection: Connection, lot: LotRow) -> Printout:
    """Return the tag of a held lot: what it is, why it is held and since when.

    Raises:
        ConflictError: nothing holds it.
    """
    state = lot.state
    if not state.is_held:
        raise ConflictError("code", "a lot that is held", f"{state.code}, which is {state.phase}", "Hold it first.")
    day, serial = LotCode.parse(state.code).spoken
    unit = LotCode.parse(state.code).unit
    last = state.held_for[-1]
    begun = next((row for row in read.history(connection, state.code) if row.fact == last.fact), None)
    elements: dict[str, Words] = {
        "lot_code_day": day,
        "lot_code_serial": serial if unit is None else f"{serial}/{unit}",
        "product_name": state.name,
        "reason": "; ".join(dict.fromkeys(held.reason for held in state.held_for)),
        "held_since": ", ".join(part for part in (begun.day, begun.recorded_by) if part) if begun else "",
        "code128": state.code,
    }
    return of_lot(state, LabelContent(elements))


def tub_printout(connection: Connection, tub: str) -> Printout:
    """Return the card of a tub: when it comes out, what lies in it, and what was put on it.

    Raises:
        ConflictError: nothing is in cure in it.
    """
    rows = [
        row for row in read.here(connection) if row.state.phase == "in cure" and card_key(row.state.tub or "") == card_key(tub)
    ]
    if not rows:
        raise ConflictError("tub", "a tub with something in cure", tub, "Put pieces in it first.")
    pieces = [row.state for row in rows]
    name = pieces[0].tub or tub
    doses = [dose.ingoing.as_json() for dose in doses_of(connection, rows, None, ())]
    is_poisonous = any(
        dose["nitrite"]["ppm_as_sodium_nitrite"] != "0" or dose["nitrate"]["ppm_as_sodium_nitrate"] != "0" for dose in doses
    )
    out = min((piece.planned_out for piece in pieces if piece.planned_out), default=None)
    elements: dict[str, Words] = {
        "tub": name,
        "out_on": _day_and_month(out) if out else "",
        "in_since": min(piece.cured_on or piece.born for piece in pieces).isoformat(),
        "method": ", ".join(
            dict.fromkeys(_METHODS.get(piece.method or "", (piece.method or "").replace("_", " ")) for piece in pieces)
        ),
        "pieces": _pieces_said(pieces),
        "mix": "; ".join(_mix_said(pieces)),
        "allergens": _allergens(connection, rows),
        "caution": CAUTION if is_poisonous else "",
        "code128": name if name.isascii() and name.isprintable() else "",
    }
    return Printout(name, tuple(piece.code for piece in pieces), LabelContent(elements))


def container_printout(connection: Connection, lot: LotRow) -> Printout:
    """Return the label of an ingredient's container: what is in it, how strong it is, where it came from.

    Raises:
        ConflictError: no ingredient.
    """
    state = lot.state
    if state.kind != "ingredient":
        raise ConflictError("code", "the lot of an ingredient", f"{state.code}, of kind {state.kind}")
    card = ingredient_of(AsOf(connection, read.END_OF_TIME), state)
    aliases = [alias for alias in state.aliases if alias]
    elements: dict[str, Words] = {
        "ingredient": state.name,
        "strength": _strength(mix_line(PutOn(state.ingredient or state.name, 1, state.strength), card)),
        "allergens": _allergens(connection, [lot]),
        "source": ", ".join(part for part in (state.supplier or "", f"lot {aliases[0]}" if aliases else "") if part),
        "received_on": state.born.isoformat(),
        "lot_code": " ".join(LotCode.parse(state.code).spoken),
        "code128": state.code,
    }
    return of_lot(state, LabelContent(elements))


def _day_and_month(day: dt.date) -> str:
    """A day as a door of a fridge shows it; the year is known there."""
    return f"{day.day}{_TIED}{day:%B}"


def _pieces_said(pieces: Sequence[LotState]) -> str:
    """Say the pieces product by product, each with its code in two parts and its green weight."""
    by_product: dict[str, list[str]] = defaultdict(list)
    for piece in pieces:
        code = _TIED.join(LotCode.parse(piece.code).spoken)
        by_product[piece.name].append(f"{code}{_TIED}{grams_text(piece.green_milligrams)}{_TIED}g")
    count = sum(piece.count or 1 for piece in pieces)
    said = "; ".join(f"{name} {', '.join(some)}" for name, some in by_product.items())
    return f"{count} piece{'' if count == 1 else 's'}: {said}"


def _mix_said(pieces: Sequence[LotState]) -> list[str]:
    total: dict[str, int] = defaultdict(int)
    for piece in pieces:
        for put in piece.put_on:
            total[put.ingredient] += put.milligrams
    return [f"{name} {grams_text(milligrams)}{_TIED}g" for name, milligrams in total.items()]


def _allergens(connection: Connection, rows: Sequence[LotRow]) -> str:
    """Name the allergens of what went into some lots, or of those lots: stated on a card, or told by a name."""
    keys = allergens_in(connection, [row.number for row in rows], AsOf(connection, read.END_OF_TIME))
    return ", ".join(sorted(str(words_of("en")["allergens"][key]["name"]) for key in keys)) or "none recorded"


def _strength(line: MixLine) -> str:
    """Say how much nitrite or nitrate is in an ingredient, as its container must; empty where it brings none."""
    if not brings_curing_agent(line):
        return ""
    agents = [(part.name, percent) for part, percent in line.contents if part.agent in ("nitrite", "nitrate")]
    said = [f"{plain(percent)}{_TIED}% {name}" for name, percent in agents]
    if line.is_unchecked or not said:
        said.append("nitrite or nitrate, how much is not entered")
    return f"{', '.join(said)}: poisonous, weigh it"
