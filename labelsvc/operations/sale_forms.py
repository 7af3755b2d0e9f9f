"""The forms a sale label takes: in two languages, reduced for a tiny pack, as a card on the counter; and the sizes of its type.

What it says comes from ``content``; here it is fitted to the kind of layout. Source: Regulation (EU) 1169/2011, Articles
13(2)-(3) and 16(2); Directive 76/211/EEC, Annex I 3.1; 9 CFR 317.2(h)(3).
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Mapping
from dataclasses import replace
from decimal import Decimal

import msgspec

from labelsvc import facts
from labelsvc.declaration.context import labelling_rule
from labelsvc.declaration.particulars import display_panel_cm2, is_list_needed, panel_figure_height_mm, x_height_mm
from labelsvc.declaration.words import words_of
from labelsvc.errors import LayoutError
from labelsvc.labels.content import Words
from labelsvc.labels.layout import Layout
from labelsvc.ledger import read
from labelsvc.ledger.database import Connection
from labelsvc.operations.content import Said, product_of, sale_said
from labelsvc.operations.issuing import SECOND, Printout
from labelsvc.rules.finding import Finding
from labelsvc.rules.load import rules_of
from labelsvc.units import plain

BLOCK = "safe_handling_heading"  # a layout that has this element bears the whole block of the law
_SAID_ONCE = frozenset(("net_quantity", "operator", "lot_line", "ean13", "qr"))  # needs no second language
_MAY_GO = frozenset(("ean13", "qr"))  # no particular of the law: a layout may do without
_ON_TINY = frozenset(("food_name", "allergens", "net_quantity", "date_line"))  # Art 16(2): (a), (c), (e), (f)
_LARGE = Decimal(1000)  # cm2: a pack nobody measured counts as large, which asks for the larger type


def sale_printout(connection: Connection, said: Said, layout: Layout, today: dt.date, *, is_card: bool = False) -> Printout:
    """Return the sale label of a pack as a layout asks for it.

    Args:
        connection: where.
        said: what the label of the pack says.
        layout: where it goes.
        today: the present day.
        is_card: whether it is a card on the counter, which is for the whole pack lot and no label of a pack.

    Raises:
        LayoutError: the layout leaves out what the law asks for on this pack.
    """
    product = product_of(connection, said.lot)
    market = (said.lot.market or "eu").lower()
    _refuse_needless_block(layout, said)
    if not is_card:
        _refuse_silence(layout, said, product, market)
    wanted = {name for name in layout.elements if name in ("allergens", BLOCK) or name.endswith(SECOND)}
    fitted = as_layout_asks(connection, said, wanted, today)
    least_x, figures, notes = _sizes(said, product, layout, market)
    content = replace(
        fitted.content,
        minimum_x_height_mm=fitted.content.minimum_x_height_mm or least_x,
        smallest_mm={**figures, **fitted.content.smallest_mm},
    )
    key = said.lot.code.partition("/")[0] if is_card else said.lot.code
    return Printout(key, (key,), content, said.lot.market, said.allergens, (*fitted.findings, *notes))


def as_layout_asks(connection: Connection, said: Said, wanted: Collection[str], today: dt.date) -> Said:
    """Return what a label says with what only some layouts have: ``allergens``, a second language, the safe handling block.

    Args:
        connection: where.
        said: what the label of the pack says in its first language.
        wanted: names of elements; others than these are of no account.
        today: the present day.

    Raises:
        LayoutError: a second language is wanted and the product has none.
    """
    more: dict[str, Words] = {}
    findings = said.findings
    language = (said.lot.language or "en").lower()
    if "allergens" in wanted and said.allergens and "allergens" not in said.content.elements:
        more["allergens"] = _contains(said.allergens, language)
    if any(name.endswith(SECOND) for name in wanted):
        other = _in_second_language(connection, said, language, today)
        more |= {f"{name}{SECOND}": words for name, words in other.content.elements.items() if name not in _SAID_ONCE}
        findings = tuple(dict.fromkeys((*findings, *other.findings)))
    elements: dict[str, Words] = {**said.content.elements, **more}
    if BLOCK in wanted and elements.pop("safe_handling", ""):  # the layout says the rest, with border and pictures
        elements[BLOCK] = str(words_of("en")["us"]["safe_handling_heading"])
        findings = tuple(one for one in findings if not one.rule.endswith(".safe_handling"))
    return replace(said, content=replace(said.content, elements=elements), findings=findings)


def _in_second_language(connection: Connection, said: Said, first: str, today: dt.date) -> Said:
    languages = [one.lower() for one in product_of(connection, said.lot).languages]
    second = next((one for one in languages if one != first), None)
    if second is None:
        only = f"{said.lot.product}, which has only {first}"
        raise LayoutError("layout", "a product with labels in two languages", only, "Add the language to the product.")
    unit = read.find(connection, said.lot.code)
    return sale_said(connection, unit._replace(state=msgspec.structs.replace(unit.state, language=second)), today)


def _contains(allergens: Collection[str], language: str) -> str:
    """The form of Regulation (EU) 1169/2011, Art 21(1), where there is no list: the word contains, followed by the names."""
    return f"{str(words_of(language)['contains']).capitalize()} {', '.join(allergens)}"


def _refuse_needless_block(layout: Layout, said: Said) -> None:
    if BLOCK in layout.elements and "safe_handling" not in said.content.elements:
        expected = "a label without safe handling instructions, for food that is eaten as it is or whose stock bears them"
        raise LayoutError("layout", expected, layout.name)


def _refuse_silence(layout: Layout, said: Said, product: facts.Product, market: str) -> None:
    """Refuse a layout that leaves out a particular, except the list and what goes with it on a tiny pack."""
    silent = [name for name in layout.leaves_out if said.content.runs(name) and name not in _MAY_GO]
    if not silent:
        return
    face = product.face_cm2
    if market != "us" and face is not None and not is_list_needed(face, market, _day(said)) and not _ON_TINY & set(silent):
        return
    got = "a pack whose largest face is not recorded" if face is None else f"a pack whose largest face is {plain(face)} cm2"
    raise LayoutError("layout", f"a label with {', '.join(silent)}, which only a tiny pack may do without", got)


def _sizes(
    said: Said, product: facts.Product, layout: Layout, market: str
) -> tuple[Decimal | None, Mapping[str, Decimal], list[Finding]]:
    """Return the least x-height, the least heights by element, and what could not be checked."""
    if market != "us":
        face = product.face_cm2 if product.face_cm2 is not None else _LARGE
        return x_height_mm(face, market, _day(said)), {}, []
    day = _day(said)
    if product.display_panel is not None:
        panel = display_panel_cm2(product.display_panel, market, day)
    else:
        panel = product.face_cm2 or Decimal(str(layout.area_cm2))
    notes = []
    if product.display_panel is None and product.face_cm2 is None:
        rule = labelling_rule(rules_of(market, day), "panel_figure_height")
        message = "Unchecked: the area of the display panel is not recorded, so the label's own area was taken"
        notes.append(rule.found(None, message, exceeded=False, severity="warn"))
    return None, {"net_quantity": panel_figure_height_mm(panel, market, day)}, notes


def _day(said: Said) -> dt.date:
    return said.lot.packed_on or said.lot.born
