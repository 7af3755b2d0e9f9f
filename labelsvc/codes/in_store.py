"""EAN-13 numbers for one's own till with the weight or the price inside, by the layout of the country (``in_store.toml``).

Source: GS1 General Specifications 2.1.12 (restricted circulation within a region) and 7.9.2 to 7.9.4 (check digit of the value).
They identify nothing outside the shop and are no GTIN.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import ROUND_DOWN, ROUND_HALF_UP, Decimal
from functools import cache
from importlib import resources
from typing import Literal

from labelsvc.codes.article_number import check_digit
from labelsvc.errors import CodeError

# What a digit counts for in the check digit of a value, by its weighting: 2-, 3, 5+ and 5- (7.9.2).
_TWO_MINUS = (0, 2, 4, 6, 8, 9, 1, 3, 5, 7)
_THREE = (0, 3, 6, 9, 2, 5, 8, 1, 4, 7)
_FIVE_PLUS = (0, 5, 1, 6, 2, 7, 3, 8, 4, 9)
_FIVE_MINUS = (0, 5, 9, 4, 8, 3, 7, 2, 6, 1)
_WEIGHTINGS = {4: (_TWO_MINUS, _TWO_MINUS, _THREE, _FIVE_MINUS), 5: (_FIVE_PLUS, _TWO_MINUS, _FIVE_MINUS, _FIVE_PLUS, _TWO_MINUS)}


@dataclass(frozen=True)
class InStore:
    """One country's layout of a number with a value inside.

    Args:
        title: what it is called.
        digits: P item with prefix, C check digit of the value, V value.
        prefix: the first digits of the item.
        holds: whether the value is a price or a weight.
        decimals: of the price, or of the weight in kilograms.
    """

    title: str
    digits: str
    prefix: str
    holds: Literal["price", "weight"]
    decimals: int


@cache
def in_store_layouts() -> Mapping[str, InStore]:
    """Return the layouts by name."""
    raw = tomllib.loads((resources.files("labelsvc.codes") / "in_store.toml").read_text(encoding="utf-8"))
    return {name: InStore(**entry) for name, entry in raw.items()}


def in_store_layout(name: str) -> InStore:
    """Return the layout of a name.

    Raises:
        CodeError: no such layout.
    """
    if name not in in_store_layouts():
        raise CodeError("in_store", f"one of {', '.join(in_store_layouts())}", name)
    return in_store_layouts()[name]


def in_store_number(layout: str, item: int, *, kilograms: Decimal, price: Decimal | None = None) -> str:
    """Return the 13 digits of an EAN-13 with the weight or the price inside.

    Args:
        layout: its name, such as ``de_weight``.
        item: the shop's own number of the product.
        kilograms: what is in the pack; a weight is rounded down, never more than there is.
        price: of the pack, for a layout that holds it; rounded half up.

    Raises:
        CodeError: no such layout, no price, or an item or value with too many digits.

    >>> in_store_number("gb_price", 12345, kilograms=Decimal("0.5"), price=Decimal("12.50"))
    '2012345312500'
    """
    form = in_store_layout(layout)
    room = form.digits.count("P") - len(form.prefix)
    if not 0 <= item < 10**room:
        raise CodeError("in_store_item", f"an item number of at most {room} digits for {form.title}", str(item))
    value = _value(form, kilograms, price)
    check = value_check_digit(value) if "C" in form.digits else ""
    body = f"{form.prefix}{item:0{room}d}{check}{value}"
    return body + check_digit(body)


def _value(form: InStore, kilograms: Decimal, price: Decimal | None) -> str:
    held, rounding = (price, ROUND_HALF_UP) if form.holds == "price" else (kilograms, ROUND_DOWN)
    if held is None:
        raise CodeError("price_per_kg", f"a price, which the number for {form.title} holds", "none")
    places = form.digits.count("V")
    value = int(held.scaleb(form.decimals).to_integral_value(rounding))
    if not 0 < value < 10**places:
        raise CodeError(form.holds, f"a {form.holds} that fits {places} digits for {form.title}", f"{held}")
    return f"{value:0{places}d}"


def value_check_digit(value: str) -> str:
    """Return the check digit of a price or weight of four or five digits.

    >>> value_check_digit("2875"), value_check_digit("14685")
    ('9', '6')
    """
    total = sum(weighted[int(digit)] for weighted, digit in zip(_WEIGHTINGS[len(value)], value, strict=True))
    if len(value) == 4:
        return str(3 * total % 10)
    return str(_FIVE_MINUS.index(-total % 10))
