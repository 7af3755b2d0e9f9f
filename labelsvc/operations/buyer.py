"""What a buyer may know of a pack: what its label says, and whether it is recalled. Nothing else of the ledger leaves here."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import cast

from labelsvc import facts
from labelsvc.codes.link import batch_link
from labelsvc.codes.lot_code import LotCode
from labelsvc.declaration.words import allergen_key
from labelsvc.errors import InputError, LabelsvcError, NotFoundError
from labelsvc.labels.content import Run
from labelsvc.ledger import issued, read
from labelsvc.ledger.asof import AsOf
from labelsvc.ledger.database import Connection, Ledger
from labelsvc.ledger.derive.bench import THE_WORKSHOP
from labelsvc.ledger.effective import standing_in
from labelsvc.ledger.read import LotRow
from labelsvc.operations.content import product_of, sale_said


@dataclass(frozen=True)
class Warned:
    """What the responsible person told the public of a pack.

    Args:
        risk: one of the kinds of risk, said in every language.
        allergen: our key of the allergen, where that is the risk.
        words: what else was written, as it was written.
        since: the day of the decision.
    """

    risk: str
    allergen: str | None
    words: str
    since: dt.date


@dataclass(frozen=True)
class Maker:
    """Who made it and how to reach them; empty where nothing is recorded.

    Args:
        name: of the workshop.
        address: its postal address.
        contact: telephone or mail for buyers.
    """

    name: str = ""
    address: str = ""
    contact: str = ""


@dataclass(frozen=True)
class Seen:
    """The buyer's view of a pack, pack lot or piece.

    Args:
        code: as it stands on the label.
        food_name: what it is called.
        lines: the label's lines in its order, by the key of their caption; empty where it is no pack.
        ingredients: the list of ingredients, allergens emphasised.
        allergens: our keys of the allergens in it, so that they can be named in other languages.
        maker: the workshop.
        is_released: whether it may be sold; what may not never left the workshop as far as anyone knows.
        warned: the warnings in force, the newest first.
        language: of the words on the label.
    """

    code: str
    food_name: str
    maker: Maker
    lines: tuple[tuple[str, str], ...] = ()
    ingredients: tuple[Run, ...] = ()
    allergens: tuple[str, ...] = ()
    is_released: bool = False
    warned: tuple[Warned, ...] = field(default=())
    language: str = "en"


_LINES = (
    ("date", "date_line"),
    ("quantity", "net_quantity"),
    ("meat", "quantity_statement"),
    ("keeping", "storage"),
    ("eating", "cooking"),
    ("also", "statements"),
)


def seen_by_buyer(ledger: Ledger, text: str) -> Seen:
    """Return what a buyer may know of a lot.

    Args:
        ledger: where.
        text: the code in the QR; markers, ear tags and suppliers' numbers lead nowhere here.

    Raises:
        CodeError, NotFoundError: no such pack or piece; what is inside the workshop is not told from what never was.
    """
    with ledger.reading() as connection:
        lot = read.find(connection, str(LotCode.parse(text)))
        if lot.state.kind not in ("pack", "piece"):
            raise NotFoundError("code", "the code on a label", text)
        return _seen(connection, lot)


def maker_of(ledger: Ledger) -> Maker:
    """Return who the workshop is, for a page without a lot."""
    with ledger.reading() as connection:
        return _maker(connection)


def pages_of(ledger: Ledger) -> Iterator[tuple[tuple[str, ...], Seen]]:
    """Yield what buyers may know of every pack and pack lot that ever had a sale label, with the paths of its pages.

    The paths are those that follow the base address in the QR: the short one, and with a GTIN the GS1 Digital Link's.
    """
    with ledger.reading() as connection:
        for lot in issued.labelled_packs(connection):
            yield _paths(connection, lot), _seen(connection, lot)


def _paths(connection: Connection, lot: LotRow) -> tuple[str, ...]:
    code, gtin = LotCode.parse(lot.code), product_of(connection, lot.state).gtin
    return tuple(dict.fromkeys((batch_link("", code), batch_link("", code, gtin))))


def _seen(connection: Connection, lot: LotRow) -> Seen:
    maker = _maker(connection)
    if lot.state.kind == "piece":
        return Seen(lot.code, lot.state.name, maker)
    units = read.units_of(connection, lot)
    first = units[0]
    product = product_of(connection, first.state)
    lines, ingredients, allergens = _label_of(connection, first, is_one=len(units) == 1)
    return Seen(
        lot.code,
        product.food_name or product.name,
        maker,
        lines,
        ingredients,
        allergens,
        first.state.released_by is not None,
        _warned(connection, [lot, *units]),
        (first.state.language or "en").lower(),
    )


def _label_of(
    connection: Connection, pack: LotRow, *, is_one: bool
) -> tuple[tuple[tuple[str, str], ...], tuple[Run, ...], tuple[str, ...]]:
    """A pack by what its label says; where no label can be said today, by its date."""
    try:
        said = sale_said(connection, pack, pack.state.packed_on or pack.state.born)
    except LabelsvcError:
        best = pack.state.best_before
        return ((("date", best.isoformat()),) if best else ()), (), ()
    elements = said.content.elements
    lines = ((caption, elements.get(name, "")) for caption, name in _LINES if is_one or name != "net_quantity")
    listed = elements.get("ingredients", ())
    return (
        tuple((caption, text) for caption, text in lines if isinstance(text, str) and text),
        () if isinstance(listed, str) else tuple(listed),
        tuple(key for key in map(_key, said.allergens) if key),
    )


def _key(allergen: str) -> str:
    try:
        return allergen_key(allergen)
    except InputError:
        return ""  # a class of the law without a single substance: the list of ingredients names it


def _warned(connection: Connection, lots: list[LotRow]) -> tuple[Warned, ...]:
    numbers = sorted({one.fact for lot in lots for one in lot.state.published}, reverse=True)
    happenings = [standing_in(connection, number).happening for number in numbers]
    said = [(cast(facts.Publish, one.body), one.day) for one in happenings if one is not None]
    return tuple(
        Warned(body.risk, allergen_key(body.allergen) if body.allergen else None, body.words or "", day) for body, day in said
    )


def _maker(connection: Connection) -> Maker:
    card = AsOf(connection, read.END_OF_TIME).card("workshop", THE_WORKSHOP)
    return Maker(card.name, card.address, card.contact or "") if isinstance(card, facts.Workshop) else Maker()
