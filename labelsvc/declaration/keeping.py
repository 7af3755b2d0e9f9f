"""How long and how it keeps: the kind of date, the storage, what a pack without air needs, and the words of a gas.

Regulation (EU) No 1169/2011, Articles 24 and 25, Annexes III and X. A finding here is never a release: what nobody measured is
called unchecked.
"""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from labelsvc.declaration.context import Context
from labelsvc.declaration.dates import date_elsewhere, date_line
from labelsvc.declaration.packing import Measured, Packing
from labelsvc.declaration.particulars import eating_line, storage_line
from labelsvc.declaration.saying import Particular, Said, particular
from labelsvc.facts import Product
from labelsvc.rules.finding import Finding
from labelsvc.rules.load import Rule
from labelsvc.units import plain

# What a measurement is called to a person, and the field of a control or of what was measured that holds it.
_WORDS = {"ph": "pH", "water_phase_salt": "salt in the water phase, %", "water_activity": "water activity"}


def date_said(product: Product, packing: Packing, context: Context) -> Said:
    """Return the date as printed, and whether its kind fits the food."""
    if packing.best_before is None:
        return [], _date_kind_found(product, packing, context)
    text = date_line(product.date_kind, packing.on, packing.best_before, context.language, context.market).text
    if product.date_place is not None:
        text = date_elsewhere(product.date_kind, product.date_place, context.language)
    days = (packing.best_before - packing.on).days
    working = f"packed on {packing.on.isoformat()} and {days} days"
    said = [particular("date_line", text, context.rule("date_kind"), working)]
    return said, [*_date_kind_found(product, packing, context), *_pack_life_found(product, packing, days, context)]


def storage_said(product: Product, context: Context) -> list[Particular]:
    """Return how it is kept, and whether it must be cooked first."""
    said = [particular("storage", storage_line(product.storage, context.language), context.rule("storage"))]
    must_cook = product.eaten == "cooked"
    text = product.cooking if must_cook and product.cooking else eating_line(product.eaten, context.language)
    if must_cook and context.market == "us" and "cook" not in text.casefold():
        text = f"{context.words['us']['cook']}. {text}"
    return [*said, particular("cooking", text, context.rule("instructions"), f"the product's card: eaten {_eaten(product)}")]


def atmosphere_said(product: Product, context: Context) -> list[Particular]:
    """Return the words of a protective atmosphere; vacuum asks for none, and the US has no such words."""
    if product.packed_in != "gas" or context.market == "us":
        return []
    return [particular("statements", context.words["statements"]["protective_atmosphere"], context.rule("protective_atmosphere"))]


def handling_found(product: Product, context: Context) -> list[Finding]:
    """Return what a US label lacks of the handling statement of goods kept cold."""
    if context.market != "us" or product.kept == "ambient":
        return []
    said = storage_line(product.storage, context.language).casefold()
    if any(words in said for words in ("keep refrigerated", "keep frozen", "keep under refrigeration")):
        return []
    message = "A product kept cold says Keep Refrigerated or Keep Frozen on its front: write it into the product's storage."
    return [context.rule("storage").found(product.storage, message, exceeded=True)]


def _eaten(product: Product) -> str:
    return "as it is" if product.eaten == "as_is" else "cooked"


def _date_kind_found(product: Product, packing: Packing, context: Context) -> list[Finding]:
    if context.market == "us" or product.date_kind == "use_by" or product.kept in ("ambient", "frozen"):
        return []
    rule = context.rule("date_kind")
    if product.perishable:
        message = (
            "The product's card says that it soon becomes dangerous: its date is a use by date. Change the kind of date on the"
            " product's card."
        )
        return [rule.found("best before", message, exceeded=True)]
    shown = _cannot_grow(packing.measured, context.rule("listeria_cannot_grow"))
    if shown:
        message = f"Best before rests on what was measured: {shown}."
        return [context.rule("listeria_cannot_grow").found(shown, message, exceeded=False)]
    if product.perishable is False:
        message = (
            "Best before rests on the product's card, which says that it does not soon become dangerous; nothing is measured."
        )
        return [rule.found(None, message, exceeded=False, severity="note")]
    message = (
        "Unchecked: best before is for food that does not soon become dangerous. Answer that on the product's card, or record"
        " its water activity or pH; where it does, the date is a use by date."
    )
    return [rule.found(None, message, exceeded=False, severity="warn")]


def _cannot_grow(measured: Measured, rule: Rule) -> str:
    """Return the measurements by which Listeria is taken not to grow, or nothing."""
    for row in rule.table:
        found = {what: getattr(measured, what) for what in row}
        if all(value is not None and value <= Decimal(row[what]) for what, value in found.items()):
            return " and ".join(f"{_WORDS[what]} {plain(value)} (at most {row[what]})" for what, value in found.items())
    return ""


def _pack_life_found(product: Product, packing: Packing, days: int, context: Context) -> list[Finding]:
    """Check a chilled pack without air that is to keep long: something recorded must hold botulism back."""
    rule = context.rule("chilled_pack_life")
    if product.kept in ("ambient", "frozen") or product.packed_in == "air":
        return []
    if days <= context.figure("chilled_pack_life"):
        return []
    if product.packed_in is None:
        message = (
            f"Unchecked: how it is packed is not on the product's card; in vacuum or gas, {days} days chilled need a recorded"
            " control."
        )
        return [rule.found(str(days), message, exceeded=False, severity="warn")]
    row, said = _control(product, packing.measured, rule)
    if row is None:
        ways = "; ".join(row["words"] for row in rule.table)
        message = (
            f"{days} days chilled in {product.packed_in} are over {rule.value} days, and {said}: shorten the life, or record the"
            f" control on the product's card. Accepted: {ways}."
        )
        return [rule.found(str(days), message, exceeded=True)]
    level = "warn" if row["known"] == "unconfirmed" else "note"
    doubt = " That figure is from memory: have the authority confirm it." if level == "warn" else ""
    message = f"{days} days chilled in {product.packed_in} rest on {said}.{doubt}"
    return [rule.found(str(days), message, exceeded=False, severity="warn" if level == "warn" else "note")]


def _control(product: Product, measured: Measured, rule: Rule) -> tuple[Mapping[str, Any] | None, str]:
    """Return the row by which the pack is safe and what it rests on, or None and what is wrong."""
    rows = {row["what"]: row for row in rule.table}
    control = product.control
    if control is not None:
        row = rows[control.what]
        found = getattr(measured, control.what, None)
        if found is not None and not _holds(row, found):  # what was measured of this lot goes before what its card promises
            return None, f"{plain(found)} was measured, where the card says {row['words']}"
        shown = f"{row['words']}, {control.record}" + (f": {plain(control.value)}" if control.value is not None else "")
        if _holds(row, control.value):
            return row, shown
        return None, f"the recorded control is not met ({shown})"
    for what, row in rows.items():
        value = getattr(measured, what, None)
        if value is not None and _holds(row, value):
            return row, f"{row['words']}: {plain(value)} was measured"
    return None, "no control is recorded"


def _holds(row: Mapping[str, Any], value: Decimal | None) -> bool:
    if "at_most" in row:
        return value is not None and value <= Decimal(row["at_most"])
    if "at_least" in row:
        return value is not None and value >= Decimal(row["at_least"])
    return True
