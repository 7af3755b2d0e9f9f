"""Words and figures as a page shows them: codes in the two parts of a tag, grams with their unit, steps by their names."""

from __future__ import annotations

from decimal import Decimal, InvalidOperation
from typing import Any

from flask import Flask, url_for
from markupsafe import Markup

from labelsvc.codes.lot_code import LotCode
from labelsvc.errors import CodeError
from labelsvc.operations.looking import Standing
from labelsvc.units import plain, round_half_up
from labelsvc.web.guard import may_open
from labelsvc.web.station import units

# What is done next with a lot: the page, the name of its field, and the words on the button.
STEPS: dict[str, tuple[str, str, str]] = {
    "cut": ("cutting.cut", "from", "Cut it into pieces"),
    "cure": ("curing.weigh_out", "pieces", "Put it in the cure"),
    "string": ("hanging.string", "piece", "String it and print the tag"),
    "weigh": ("hanging.weigh", "piece", "Weigh it"),
    "release": ("hanging.release", "lot", "Decide: may it be sold?"),
    "pack": ("packing.start", "from", "Pack it"),
    "sell": ("selling.sell", "packs", "Sell it"),
}
MENU = (
    ("today.today", "Today"),
    ("goods_in.receive", "Goods in"),
    ("cutting.cut", "Cut"),
    ("curing.weigh_out", "Cure"),
    ("hanging.string", "String"),
    ("hanging.weigh", "Weigh"),
    ("packing.start", "Pack"),
    ("selling.sell", "Sell"),
    ("complaints.complaint", "Complaint"),
    ("recalls.recall", "Recall"),
    ("cards.overview", "Cards"),
    ("actions.more", "More"),
)


def install(app: Flask) -> None:
    """Give the templates these words."""
    app.template_filter("code")(code)
    app.template_filter("grams")(grams)
    app.template_filter("pieces_of_code")(spoken)
    app.context_processor(lambda: {"menu": MENU, "step_of": step_of, "plural": plural, "units": units})


def code(text: str) -> Markup:
    """Return a code with its serial set apart, as the tag shows it."""
    head, tail, unit = spoken(text)
    return Markup('<span class="code">{}<b>{}</b>{}</span>').format(head, tail, unit)


def spoken(text: str) -> tuple[str, str, str]:
    """Return kind and date, serial, and the number of the pack."""
    try:
        parsed = LotCode.parse(text)
    except CodeError:
        return text, "", ""
    return (*parsed.spoken, f"/{parsed.unit}" if parsed.unit else "")


def grams(text: Any) -> str:
    """Return grams with their unit, tied: whole grams from 100 g, tenths below, thousands set apart.

    >>> grams("1204.5").split()
    ['1205', 'g']
    """
    try:
        exact = Decimal(str(text))
    except InvalidOperation:
        return str(text)
    shown = plain(round_half_up(exact, 0 if abs(exact) >= 100 else 1))
    whole, dot, part = shown.partition(".")
    grouped = f"{int(whole):,}".replace(",", "\u202f") if abs(exact) >= 10000 else whole
    return f"{grouped}{dot}{part}\u00a0g"


def plural(count: int, noun: str) -> str:
    """Return a count with its noun.

    >>> plural(1, "pack"), plural(3, "pack")
    ('1 pack', '3 packs')
    """
    return f"{count} {noun}{'' if count == 1 else 's'}"


def step_of(standing: Standing) -> dict[str, str] | None:
    """Return address and words of a lot's next natural step, or None where there is none that who asks may do."""
    if standing.next_step not in STEPS or not may_open(STEPS[standing.next_step][0]):
        return None
    page, field, words = STEPS[standing.next_step]
    asked: dict[str, Any] = {field: standing.lot.code}
    return {"href": url_for(page, **asked), "words": words}
