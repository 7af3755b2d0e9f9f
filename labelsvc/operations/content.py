"""What a label says, computed from the ledger; nothing printed is typed by hand."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from labelsvc import choices, facts
from labelsvc.codes.article_number import ean13
from labelsvc.codes.in_store import in_store_number
from labelsvc.codes.link import base_address, batch_link
from labelsvc.codes.lot_code import LotCode
from labelsvc.curing.trichinella import check_trichinella
from labelsvc.declaration.dates import day_said
from labelsvc.declaration.declare import Declaration, declare
from labelsvc.declaration.naming import food_name
from labelsvc.declaration.words import number_text, words_of
from labelsvc.errors import ConflictError, InputError
from labelsvc.labels.content import LabelContent, Run, Words
from labelsvc.ledger import flows, read
from labelsvc.ledger.asof import AsOf
from labelsvc.ledger.database import Connection
from labelsvc.ledger.derive.bench import THE_WORKSHOP
from labelsvc.ledger.derive.hanging import base_milligrams
from labelsvc.ledger.read import LotRow
from labelsvc.ledger.state import LotState
from labelsvc.operations.making import Used, doses_of, made_of, use_of
from labelsvc.operations.particulars import Labelled, labels_of
from labelsvc.rules.finding import Finding
from labelsvc.units import Mass, grams_text, plain, round_half_up

RAIL = ", rail "  # between the room and the rail of a counted lot that hangs over several
_TIED = "\u00a0"  # keeps a number and its unit on one line
_AMOUNT = re.compile(r"(?<=[0-9]) (?=g\b|kJ\b|kcal\b|°[CF]\b|%)")
_WITH_AMOUNTS = ("nutrition", "quantity_statement", "storage", "cooking")

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


def tag_said(connection: Connection, piece: LotRow, language: str | None = None) -> Said:
    """Return what the hanging tag of a piece says.

    Args:
        connection: where.
        piece: a piece that is strung.
        language: of its words and dates; that of the product's labels if left out.

    Raises:
        ConflictError: the piece is not strung.
    """
    state = piece.state
    if state.kind != "piece" or state.strung_on is None:
        raise ConflictError("code", "a piece that is strung", f"{state.code}, which is {state.phase}", "String it first.")
    workshop, product = workshop_of(connection), product_of(connection, state)
    language = language or tag_language(product, workshop)
    words, used = words_of(language)["tag"], made_of(connection, [piece])
    declaration = _declared(used, product, state, language, Mass.from_milligrams(state.milligrams or state.hang_milligrams))
    day, serial = LotCode.parse(state.code).spoken
    elements: dict[str, Words] = {
        "lot_code_day": day,
        "lot_code_serial": serial,
        "status": _status(workshop, state, words),
        "product_name": _hangs_as(product.name, state, words),
        "stop_at": _stop_at(state, product),
        "stop_at_basis": _basis(state, product, language),
        "not_before": _not_before(state, product, language),
        "allergens": ", ".join(declaration.allergens) if declaration and declaration.allergens else words["no_allergens"],
        "code128": state.code,
        "qr": batch_link(base_address(workshop.base_url), LotCode.parse(state.code), product.gtin) if workshop.base_url else "",
        "source": _source(used),
        "cured_on": state.cured_on.isoformat() if state.cured_on else "",
        "strung_on": state.strung_on.isoformat(),
        "tare": f"{grams_text(state.tare_milligrams)}{_TIED}g",
    }
    allergens = declaration.allergens if declaration else ()
    return Said(state, LabelContent(elements), allergens, declaration.findings if declaration else ())


def tag_language(product: facts.Product, workshop: facts.Workshop) -> str:
    """Return the language of a product's tags: the first of its labels.

    In the United States it is English, because NOT FOR SALE must stand there in these words (9 CFR 317.16).
    """
    if workshop.country == "US":
        return "en"
    return product.languages[0].lower() if product.languages else "en"


def _hangs_as(name: str, state: LotState, words: Mapping[str, str]) -> str:
    """Name what hangs here: of a counted lot how many, and on which of its rails."""
    rail = state.place.rpartition(RAIL)[2] if state.place and RAIL in state.place else ""
    several = words["pieces"].format(count=state.count) if state.count else ""
    return ", ".join(part for part in (name, several, words["rail"].format(rail=rail) if rail else "") if part)


def sale_said(connection: Connection, unit: LotRow, today: dt.date) -> Said:
    """Return what the sale label of a pack says; arguments and errors as of ``all_sale_said``."""
    return all_sale_said(connection, [unit], today)[0]


def all_sale_said(connection: Connection, units: Sequence[LotRow], today: dt.date) -> list[Said]:
    """Return what the sale labels of packs of one packing say.

    Args:
        connection: where.
        units: packs of one pack lot.
        today: the law of today and of the packing day must hold.

    Raises:
        ConflictError: not a pack.
        InputError: a market or language we have no words for.
    """
    workshop, product = workshop_of(connection), product_of(connection, units[0].state)
    doses = _dose_findings(connection, units[0], today)
    labelled = labels_of(connection, units, product, workshop)
    item = _item_number(connection, product)
    return [_sale(one, unit.state, product, workshop, item, doses) for one, unit in zip(labelled, units, strict=True)]


def _sale(
    one: Labelled, state: LotState, product: facts.Product, workshop: facts.Workshop, item: int, doses: Sequence[Finding]
) -> Said:
    label, declaration, market = one.label, one.declaration, (state.market or "").lower()
    elements: dict[str, Words] = {said.element: label.text(said.element) for said in label.said}
    runs = tuple(Run(text, emphasised) for text, emphasised in declaration.runs)
    contains = str(elements.pop("allergens", ""))  # right behind the list in the US; elsewhere the list itself tells them
    elements["ingredients"] = (*runs, Run(f". {contains}")) if contains and market == "us" else runs
    elements["net_quantity"] = label.text("net_quantity").replace(" ", _TIED)
    elements |= {name: _AMOUNT.sub(_TIED, label.text(name)) for name in _WITH_AMOUNTS if name in elements}
    if "date_line" in elements:
        elements["date_line"] = _tied_date(label.text("date_line"))
    if "origin" in elements:  # in the name: so it is in the same field of vision and never smaller (2018/775 Art 3)
        elements["food_name"] = f"{label.text('food_name')} ({elements.pop('origin')})"
    code = LotCode.parse(state.code)
    elements["ean13"] = _till_number(product, item, state)
    elements["qr"] = batch_link(base_address(workshop.base_url), code, product.gtin) if workshop.base_url else ""
    content = LabelContent(_gathered(elements), smallest_mm=label.smallest_mm, minimum_x_height_mm=label.x_height_mm)
    trichinella = check_trichinella(product.species, state.trichinella, product.eaten, market, state.packed_on or state.born)
    findings = tuple(dict.fromkeys([*label.findings, *doses, *trichinella]))
    return Said(state, content, declaration.allergens, findings)


def _till_number(product: facts.Product, item: int, state: LotState) -> str:
    """The number for the till: with weight or price inside where the product says so, else of the product alone."""
    if product.in_store is None:
        return ean13(product.gtin, item)
    kilograms = Decimal(state.made_milligrams) / 1_000_000
    price = None if product.price_per_kg is None else product.price_per_kg * kilograms
    return in_store_number(product.in_store, product.in_store_item or item, kilograms=kilograms, price=price)


def _gathered(elements: dict[str, Words]) -> dict[str, Words]:
    """Put short sentences that need no place of their own behind the statements, so that every layout bears them."""
    sentences = [elements.get("statements", ""), *(elements.pop(name, "") for name in _SENTENCES)]
    text = ". ".join(str(one).rstrip(".") for one in sentences if one)
    return {**elements, "statements": text} if text else elements


# Particulars that are one sentence each: labels print them together.
_SENTENCES = ("may_contain",)


def _item_number(connection: Connection, product: facts.Product) -> int:
    """The workshop's own number of a product: the fact that first described it."""
    return read.first_fact(connection, "product", product.name)


def _declared(used: Sequence[Used], product: facts.Product, state: LotState, language: str, finished: Mass) -> Declaration | None:
    if not used:
        return None
    # The longest list of allergens we know, whatever the market: a tag warns the people of the workshop.
    return declare(
        [use_of(one, product) for one in used],
        market="eu",
        language=language,
        on=state.strung_on or state.born,
        finished_weight=finished,
        food_name=food_name(product, language),
    )


def _dose_findings(connection: Connection, unit: LotRow, today: dt.date) -> list[Finding]:
    state = unit.state
    days = [day for day in (state.packed_on, today) if day]
    market = (state.market or "").lower()
    givers = {link.giver for link in flows.links_back(connection, [unit.number])}
    pieces = [row for row in read.lots_of(connection, givers) if row.state.kind == "piece"]
    return [finding for dose in doses_of(connection, pieces, market, days, unit.state.measured) for finding in dose.findings]


def _status(workshop: facts.Workshop, state: LotState, words: Mapping[str, str]) -> str:
    if state.is_held:
        return words["held"]
    return words["not_for_sale"] if choices.standing(workshop.standing) == "not_for_sale" else ""


def _stop_at(state: LotState, product: facts.Product) -> str:
    """Target on the scale to the nearest gram, string included."""
    if product.target_loss_percent is None:
        return ""
    net = Decimal(base_milligrams(state, product)) * (100 - product.target_loss_percent) / 100
    return f"{round_half_up((net + state.tare_milligrams) / 1000)}{_TIED}g"


def _basis(state: LotState, product: facts.Product, language: str) -> str:
    if product.target_loss_percent is None:
        return ""
    words = words_of(language)
    said: str = words["tag"]["basis"].format(
        percent=number_text(plain(product.target_loss_percent), words),
        base=words["tag"][product.loss_base],
        weight=f"{number_text(grams_text(base_milligrams(state, product)), words)} g",
    )
    return re.sub(r"(?<=[0-9]) (?=[%g])", _TIED, said)


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
    """A day on one line."""
    return day_said(day, language).replace(" ", _TIED)
