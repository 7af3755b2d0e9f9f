"""What the label of a shipping case says: what is in it, for whom, and its GS1-128 where the workshop has a number for the case.

A case with several pack lots gets one label a lot, because a symbol names one lot. Without a GTIN for the case AI 10 may not
stand, so the lot goes into a plain Code 128.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from itertools import groupby

from labelsvc import facts
from labelsvc.codes.article_number import case_gtin
from labelsvc.codes.gs1_syntax import Element, check_elements
from labelsvc.codes.lot_code import LotCode
from labelsvc.declaration.particulars import lot_line, net_quantity
from labelsvc.labels.case_symbols import CODE, case_words
from labelsvc.labels.content import LabelContent, Words
from labelsvc.labels.layout import Layout
from labelsvc.ledger.database import Connection
from labelsvc.ledger.state import LotState
from labelsvc.operations.content import Said, product_of, workshop_of
from labelsvc.operations.issuing import Printout
from labelsvc.rules.finding import Finding, Severity
from labelsvc.units import Mass, grams_text

_TIED = "\u00a0"
_VARIABLE = "9"  # first digit of the GTIN of a grouping whose weight varies (GS1 General Specifications 2.1.10)
_CITATION = "GS1 General Specifications 5.4.4.3"


def case_printouts(connection: Connection, said: Sequence[Said], layout: Layout, dots_per_mm: float) -> list[Printout]:
    """Return one label for each pack lot among some packs.

    Args:
        connection: where.
        said: what the sale labels of the packs say.
        layout: where it goes; its symbols have a room.
        dots_per_mm: of the printer.

    Raises:
        CodeError: the product's GTIN of a case is none.
    """
    ordered = sorted(said, key=lambda one: one.lot.parent or one.lot.code)
    lots = groupby(ordered, key=lambda one: one.lot.parent or one.lot.code)
    return [_printout(connection, list(packs), layout, dots_per_mm) for _, packs in lots]


def _printout(connection: Connection, packs: list[Said], layout: Layout, dots_per_mm: float) -> Printout:
    first = packs[0].lot
    product, lot = product_of(connection, first), LotCode.parse(first.code).lot
    said = packs[0].content.elements
    elements: dict[str, Words] = {
        "food_name": said["food_name"],
        "net_quantity": net_quantity(_weight(packs), (first.language or "en").lower()).replace(" ", _TIED),
        "packs": _packs_said(packs),
        "operator": said["operator"],
        "to": _receiver(packs),
        "storage": said.get("storage", ""),
        "date_line": said["date_line"],
        "lot_line": lot_line(lot),
        "approval": workshop_of(connection).approval_number or "",
    }
    codes, findings = _codes(product, packs, lot, layout, dots_per_mm)
    codes_of_packs = tuple(dict.fromkeys((lot, *(one.lot.code for one in packs))))
    return Printout(lot, codes_of_packs, LabelContent({**elements, **codes}), first.market, packs[0].allergens, findings)


def _codes(
    product: facts.Product, packs: list[Said], lot: str, layout: Layout, dots_per_mm: float
) -> tuple[dict[str, Words], tuple[Finding, ...]]:
    if product.case_gtin is None:
        note = f"No GS1-128: {product.name} has no GTIN of a case, so the lot stands in a plain Code 128"
        return {CODE: lot, f"{CODE}_read": lot}, (_note(note),)
    words, why = case_words(_elements(product, packs, lot), layout, dots_per_mm)
    if not words:
        return {CODE: lot, f"{CODE}_read": lot}, (_note(f"No GS1-128, the lot stands in a plain Code 128: {why}", "warn"),)
    return {**words}, (_note(why),) if why else ()


def _elements(product: facts.Product, packs: list[Said], lot: str) -> list[Element]:
    """Return number, weight where it varies, date and lot, those of predefined length first."""
    number = case_gtin(product.case_gtin or "")
    elements = [Element("01", number)]
    if number[0] == _VARIABLE:
        elements.append(Element("3103", f"{int(_weight(packs).grams):06d}"))
    date = min(one.lot.best_before for one in packs if one.lot.best_before)
    elements.append(Element("17" if product.date_kind == "use_by" else "15", _six_digits(date)))
    elements.append(Element("10", lot))
    check_elements(elements, "case_gtin")
    return elements


def _six_digits(day: dt.date) -> str:
    return f"{day:%y%m%d}"


def _weight(packs: Sequence[Said]) -> Mass:
    return Mass.from_milligrams(sum(one.lot.made_milligrams for one in packs))


def _packs_said(packs: Sequence[Said]) -> str:
    """Say how many packs, and of how much where all weigh the same."""
    weights = {one.lot.made_milligrams for one in packs}
    each = f" of {grams_text(weights.pop())}{_TIED}g" if len(weights) == 1 else ""
    return f"{len(packs)}{_TIED}pack{'' if len(packs) == 1 else 's'}{each}"


def _receiver(packs: Sequence[Said]) -> str:
    holders = {_holder(one.lot) for one in packs}
    return holders.pop() if len(holders) == 1 else ""


def _holder(lot: LotState) -> str:
    return lot.holder or ""


def _note(message: str, severity: Severity = "note") -> Finding:
    return Finding("labels.case_code", severity, False, None, None, None, None, None, "quoted", _CITATION, message)
