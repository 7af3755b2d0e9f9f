"""What a label says, computed from the ledger; nothing printed is typed by hand."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

import msgspec

from labelsvc import choices, facts
from labelsvc.codes.article_number import ean13
from labelsvc.codes.link import base_address, batch_link
from labelsvc.codes.lot_code import LotCode
from labelsvc.curing.trichinella import check_trichinella
from labelsvc.declaration.dates import date_line
from labelsvc.declaration.declare import Declaration, declare
from labelsvc.declaration.ingredient_use import IngredientUse
from labelsvc.declaration.particulars import (
    eating_line,
    figure_height_mm,
    lot_line,
    net_quantity,
    operator_lines,
    storage_line,
)
from labelsvc.declaration.words import words_of
from labelsvc.errors import ConflictError, InputError
from labelsvc.labels.content import LabelContent, Run, Words
from labelsvc.ledger import read
from labelsvc.ledger.asof import AsOf
from labelsvc.ledger.database import Connection
from labelsvc.ledger.derive.bench import THE_WORKSHOP
from labelsvc.ledger.derive.hanging import base_milligrams
from labelsvc.ledger.read import LotRow
from labelsvc.ledger.state import LotState
from labelsvc.operations.making import Used, doses_of, made_of
from labelsvc.rules.finding import Finding
from labelsvc.units import Mass, grams_text, plain, round_half_up

_TIED = "\u00a0"  # keeps a number and its unit on one line

_SOURCE_LENGTH = 45  # characters that fit beside the hole of a tag whatever they are
_SOURCE_FORMS: tuple[Callable[[LotState], str], ...] = (
    lambda lot: f"{lot.name}, {lot.supplier}",
    lambda lot: f"{lot.code}, {lot.supplier}",
    lambda lot: lot.code,
)


@dataclass(frozen=True)
class Said:
    """What one label says and what that rests on.

    Args:
        lot: the piece or pack.
        content: the words and symbols.
        allergens: the law's names of those declared.
        findings: of the declaration and of the doses; one that stops forbids the label.
    """

    lot: LotState
    content: LabelContent
    allergens: tuple[str, ...]
    findings: tuple[Finding, ...]

    @property
    def stops(self) -> list[Finding]:
        """The findings that forbid the label."""
        return [finding for finding in self.findings if finding.severity == "stop" and finding.exceeded]


def workshop_of(connection: Connection) -> facts.Workshop:
    """Return the workshop.

    Raises:
        ConflictError: none is recorded yet.
    """
    card = AsOf(connection, read.END_OF_TIME).card("workshop", THE_WORKSHOP)
    if not isinstance(card, facts.Workshop):
        raise ConflictError(
            "workshop", "a recorded workshop, its name and address stand on every label", "none", "Record it first."
        )
    return card


def product_of(connection: Connection, lot: LotState) -> facts.Product:
    """Return the product of a piece or pack as it stands."""
    card = AsOf(connection, read.END_OF_TIME).card("product", lot.product or "")
    if not isinstance(card, facts.Product):
        raise InputError("product", "the name of a recorded product", str(lot.product))
    return card


def tag_said(connection: Connection, piece: LotRow, language: str) -> Said:
    """Return what the hanging tag of a piece says.

    Args:
        connection: where.
        piece: a piece that is strung.
        language: of the words and dates.

    Raises:
        ConflictError: the piece is not strung.
    """
    state = piece.state
    if state.kind != "piece" or state.strung_on is None:
        raise ConflictError("code", "a piece that is strung", f"{state.code}, which is {state.phase}", "String it first.")
    workshop, product = workshop_of(connection), product_of(connection, state)
    used = made_of(connection, [piece])
    declaration = _declared(used, product, workshop, state, Mass.from_milligrams(state.milligrams or state.hang_milligrams))
    day, serial = LotCode.parse(state.code).spoken
    elements: dict[str, Words] = {
        "lot_code_day": day,
        "lot_code_serial": serial,
        "status": _status(workshop, state),
        "product_name": product.name,
        "stop_at": _stop_at(state, product),
        "stop_at_basis": _basis(state, product),
        "not_before": _not_before(state, product, language),
        "allergens": ", ".join(declaration.allergens) if declaration and declaration.allergens else "none recorded",
        "code128": state.code,
        "qr": batch_link(base_address(workshop.base_url), LotCode.parse(state.code), product.gtin) if workshop.base_url else "",
        "source": _source(used),
        "cured_on": state.cured_on.isoformat() if state.cured_on else "",
        "strung_on": state.strung_on.isoformat(),
        "tare": f"{grams_text(state.tare_milligrams)}{_TIED}g",
    }
    allergens = declaration.allergens if declaration else ()
    return Said(state, LabelContent(elements), allergens, declaration.findings if declaration else ())


def sale_said(connection: Connection, unit: LotRow, today: dt.date) -> Said:
    """Return what the sale label of a pack says.

    Args:
        connection: where.
        unit: one pack.
        today: the law of today and of the packing day must hold.

    Raises:
        ConflictError: not a pack.
        InputError: a market or language we have no words for.
    """
    state = unit.state
    if state.kind != "pack" or state.packed_on is None or state.best_before is None or state.market is None:
        raise ConflictError("code", "a pack", f"{state.code}, of kind {state.kind}")
    market, language = state.market.lower(), (state.language or "en").lower()
    workshop, product = workshop_of(connection), product_of(connection, state)
    weight = Mass.from_milligrams(state.made_milligrams)
    uses = [_use(one) for one in made_of(connection, [unit])]
    declaration = declare(
        uses, market=market, language=language, on=state.packed_on, finished_weight=weight, food_name=_food_name(product)
    )
    elements: dict[str, Words] = {
        "food_name": _food_name(product),
        "net_quantity": net_quantity(weight, language, market).replace(" ", _TIED),
        "date_line": _tied_date(date_line(product.date_kind, state.packed_on, state.best_before, language, market).text),
        "ingredients": tuple(Run(text, emphasised) for text, emphasised in declaration.runs),
        "quantity_statement": "" if declaration.quantities_in_list else declaration.quantity_statement,
        "storage": storage_line(product.storage, language),
        "cooking": product.cooking if product.eaten == "cooked" and product.cooking else eating_line(product.eaten, language),
        "statements": ". ".join([*declaration.statements, *([declaration.contains or ""] if market == "us" else [])]).strip(". "),
        "operator": ", ".join(operator_lines(workshop.name, workshop.address)),
        "lot_line": lot_line(LotCode.parse(state.code).lot),
        "ean13": ean13(product.gtin, _item_number(connection, product)),
        "qr": batch_link(base_address(workshop.base_url), LotCode.parse(state.code), product.gtin) if workshop.base_url else "",
    }
    # The US sets type sizes by the area of the display panel, which nobody has told us: the layout's own size stands.
    smallest = {} if market == "us" else {"net_quantity": figure_height_mm(weight, market, state.packed_on)}
    content = LabelContent(elements, smallest_mm=smallest)
    doses = _dose_findings(connection, unit, market, (state.packed_on, today))
    trichinella = check_trichinella(product.species, state.trichinella, product.eaten, market, state.packed_on)
    findings = (*declaration.findings, *doses, *trichinella)
    return Said(state, content, declaration.allergens, findings)


def _food_name(product: facts.Product) -> str:
    return product.food_name or product.name


def _item_number(connection: Connection, product: facts.Product) -> int:
    """The workshop's own number of a product: the fact that first described it."""
    return read.first_fact(connection, "product", product.name)


def _declared(
    used: Sequence[Used], product: facts.Product, workshop: facts.Workshop, state: LotState, finished: Mass
) -> Declaration | None:
    if not used:
        return None
    market = product.markets[0].lower() if product.markets else "eu"
    on = state.strung_on or state.born
    return declare(
        [_use(one) for one in used], market=market, language="en", on=on, finished_weight=finished, food_name=_food_name(product)
    )


def _use(one: Used) -> IngredientUse:
    """One lot as the declaration takes it: meat by its species, an ingredient by its card."""
    weight = f"{plain(one.weight.grams)} g"
    if one.card is None:
        species = one.lot.species or one.lot.name
        return IngredientUse.from_json({"name": species, "weight": weight, "category": "meat", "species": species}, one.lot.code)
    card: dict[str, Any] = msgspec.to_builtins(one.card, enc_hook=str)
    card.pop("per_100g", None)
    return IngredientUse.from_json({**card, "weight": weight}, one.lot.code)


def _dose_findings(connection: Connection, unit: LotRow, market: str, days: Sequence[dt.date]) -> list[Finding]:
    givers = {link.giver for link in read.links_back(connection, [unit.number])}
    pieces = [row for row in read.lots_of(connection, givers) if row.state.kind == "piece"]
    return [finding for dose in doses_of(connection, pieces, market, days, unit.state.measured) for finding in dose.findings]


def _status(workshop: facts.Workshop, state: LotState) -> str:
    if state.is_held:
        return "HELD"
    return "NOT FOR SALE" if choices.standing(workshop.standing) == "not_for_sale" else ""


def _stop_at(state: LotState, product: facts.Product) -> str:
    """Target on the scale to the nearest gram, string included."""
    if product.target_loss_percent is None:
        return ""
    net = Decimal(base_milligrams(state, product)) * (100 - product.target_loss_percent) / 100
    return f"{round_half_up((net + state.tare_milligrams) / 1000)}{_TIED}g"


def _basis(state: LotState, product: facts.Product) -> str:
    if product.target_loss_percent is None:
        return ""
    base = grams_text(base_milligrams(state, product))
    percent = plain(product.target_loss_percent)
    return f"on the scale, string included: {percent}{_TIED}% off the {product.loss_base} weight of {base}{_TIED}g"


def _not_before(state: LotState, product: facts.Product, language: str) -> str:
    if product.minimum_days is None or state.strung_on is None:
        return ""
    return _day_said(state.strung_on + dt.timedelta(days=product.minimum_days), language)


def _source(used: Sequence[Used]) -> str:
    """Where the meat comes from, as much of it as a few small lines hold: the code at least."""
    meat = [one.lot for one in used if one.card is None]
    said = ("; ".join(dict.fromkeys(form(lot) for lot in meat)) for form in _SOURCE_FORMS)
    return next((text for text in said if len(text) <= _SOURCE_LENGTH), "".join(lot.code for lot in meat[:1]))


def _tied_date(text: str) -> str:
    """Keep day, month and year on one line."""
    first = next((place for place, character in enumerate(text) if character.isdigit()), len(text))
    return text[:first] + text[first:].replace(" ", _TIED)


def _day_said(day: dt.date, language: str) -> str:
    """A day with its month in letters: 05/06 means two different days."""
    words = words_of(language)["dates"]
    return str(words["day"].format(day=day.day, month=words["months"][day.month - 1], year=day.year)).replace(" ", _TIED)
