"""What will be printed of a pack, or of a piece if it were packed now, and what is missing before it may be."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any

from labelsvc import facts
from labelsvc.declaration.packing import Packing
from labelsvc.declaration.saying import Particular
from labelsvc.errors import ConflictError, InputError
from labelsvc.ledger import around, read
from labelsvc.ledger.database import Connection, Ledger
from labelsvc.ledger.read import LotRow
from labelsvc.operations.content import all_sale_said, product_of, workshop_of
from labelsvc.operations.particulars import label_of_piece, labels_of
from labelsvc.operations.recording import zone_of
from labelsvc.rules.finding import Finding
from labelsvc.shape import Text, Weighed
from labelsvc.units import Mass


@dataclass(frozen=True)
class Declared:
    """What a label says and rests on, for the page and the command.

    Args:
        code: of the pack lot, pack or piece.
        product: its name.
        market: where it is sold.
        language: of the label.
        is_packed: whether these are packs, or a piece that would be packed now.
        pieces: how many pieces quantities and nutrition are the average of.
        particulars: what is printed, each with its rule and working.
        findings: what was found; one that stops and is exceeded forbids the label.
        packing: number of the fact of the packing, or None for a piece.
    """

    code: str
    product: str
    market: str
    language: str
    is_packed: bool
    pieces: int
    particulars: tuple[Particular, ...]
    findings: tuple[Finding, ...]
    packing: int | None

    @property
    def stops(self) -> list[Finding]:
        """The findings that forbid the label."""
        return [one for one in self.findings if one.severity == "stop" and one.exceeded]

    @property
    def open(self) -> list[Finding]:
        """The findings that somebody should look at, the gravest first: what was exceeded, then what is unchecked."""
        found = [one for one in self.findings if one not in self.stops and one.severity != "note"]
        return [*self.stops, *sorted(found, key=lambda one: not one.exceeded)]

    @property
    def notes(self) -> list[Finding]:
        """The findings that only tell how it came about."""
        return [one for one in self.findings if one.severity == "note"]

    def as_json(self) -> dict[str, Any]:
        """Return it as JSON values."""
        return {
            "code": self.code,
            "product": self.product,
            "market": self.market,
            "language": self.language,
            "is_packed": self.is_packed,
            "average_of_pieces": self.pieces,
            "particulars": [one.as_json() for one in self.particulars],
            "findings": [one.as_json() for one in self.findings],
        }


def declared(ledger: Ledger, text: str, *, now: dt.datetime, market: str = "", language: str = "") -> Declared:
    """Return what the label of a pack, a pack lot or a piece says.

    Args:
        ledger: where.
        text: a code or marker.
        now: the present; the law of today must hold too.
        market: for a piece, the market it would be packed for; its product's first if left out.
        language: for a piece, that of the label; its product's first if left out.

    Raises:
        CodeError, NotFoundError: no such lot; ConflictError: a lot of another kind, or a piece that is used up.
        InputError: a market or language we have no words for.
    """
    with ledger.reading() as connection:
        lot = read.find(connection, text)
        today = now.astimezone(zone_of(connection)).date()
        if lot.state.kind == "pack":
            return _of_packs(connection, lot, today)
        if lot.state.kind != "piece" or not lot.state.milligrams:
            state = f"{lot.state.code}, of kind {lot.state.kind}, {lot.state.phase}"
            raise ConflictError("code", "packs, or a piece of which something is left", state)
        return _of_piece(connection, lot, today, market, language)


def last_packed(ledger: Ledger, product: str) -> str:
    """Return the code of the pack lot that a product was last packed into.

    Raises:
        ConflictError: it was never packed.
    """
    with ledger.reading() as connection:
        code = around.last_pack_lot(connection, product)
    if code is None:
        raise ConflictError(
            "product", "a product that was packed", product, "A label says what went into its packs: pack one first."
        )
    return code


def _of_packs(connection: Connection, lot: LotRow, today: dt.date) -> Declared:
    first = read.units_of(connection, lot)[0]
    product, workshop = product_of(connection, first.state), workshop_of(connection)
    one = labels_of(connection, [first], product, workshop)[0]
    findings = all_sale_said(connection, [first], today)[0].findings
    _, packing = around.packing_of(connection, first.code)
    state = first.state
    return Declared(
        lot.code, product.name, (state.market or "").lower(), (state.language or "en").lower(), True, one.average.pieces,
        one.label.said, findings, packing,
    )  # fmt: skip


def _of_piece(connection: Connection, piece: LotRow, today: dt.date, market: str, language: str) -> Declared:
    product, workshop = product_of(connection, piece.state), workshop_of(connection)
    packing = _as_if_packed(product, piece, today, market, language)
    one = label_of_piece(connection, piece, product, workshop, packing)
    return Declared(
        piece.code, product.name, packing.market, packing.language, False, one.average.pieces, one.label.said,
        tuple(dict.fromkeys(one.label.findings)), None,
    )  # fmt: skip


def _as_if_packed(product: facts.Product, piece: LotRow, today: dt.date, market: str, language: str) -> Packing:
    if not product.markets or not product.languages:
        raise InputError("product", "a product with a market and a language", product.name, "Enter them on its card.")
    return Packing(
        market=Text((market or product.markets[0]).lower()),
        language=Text((language or product.languages[0]).lower()),
        on=today,
        weight=Weighed(Mass.from_milligrams(piece.state.milligrams).grams),
        best_before=today + dt.timedelta(days=product.shelf_life_days),
        lot="(its own)",
    )
