"""Article numbers for EAN-13: the workshop's own GTIN, or a number for its own shop where it has none.

Source: GS1 General Specifications, clause 7.9.1 (check digit, weights 3 and 1 from the right) and 2.1.11 (restricted
circulation numbers within one company: RCN-13 beginning 04); read through the collected rules in python-stdnum and biip.
A restricted number is no GTIN: it identifies nothing outside the shop and never goes into AI 01.
"""

from __future__ import annotations

import re

from labelsvc.errors import CodeError

_DIGITS = re.compile(r"[0-9]+", re.ASCII)


def check_digit(body: str) -> str:
    """Return the GS1 check digit of a number without it.

    Args:
        body: 7, 11, 12 or 13 digits (or any other length of a GS1 key).

    >>> check_digit("629104150021")
    '3'
    """
    total = sum(int(digit) * (3 if place % 2 == 0 else 1) for place, digit in enumerate(reversed(body)))
    return str(-total % 10)


def gtin(text: str, field: str = "gtin") -> str:
    """Return a checked GTIN of 8, 12, 13 or 14 digits.

    Raises:
        CodeError: not digits, another length, or the check digit does not fit.
    """
    digits = text.strip()
    if not _DIGITS.fullmatch(digits) or len(digits) not in (8, 12, 13, 14):
        raise CodeError(field, "a GTIN of 8, 12, 13 or 14 digits", text)
    if check_digit(digits[:-1]) != digits[-1]:
        raise CodeError(field, f"a GTIN whose last digit is {check_digit(digits[:-1])}", text)
    return digits


def case_gtin(text: str, field: str = "case_gtin") -> str:
    """Return a checked GTIN-14 of a case: its first digit says how it is packed, 9 where its weight varies.

    Raises:
        CodeError: no GTIN, or that of a pack.
    """
    number = gtin(text, field)
    if len(number) != 14 or number[0] == "0":
        raise CodeError(field, "a GTIN of 14 digits that begins 1 to 9: that of a case, not of a pack", number)
    return number


def ean13(own_gtin: str | None, item: int) -> str:
    """Return the 13 digits of a product's EAN-13 symbol.

    Args:
        own_gtin: the product's GTIN-8, -12 or -13 where the workshop has one.
        item: the workshop's own number of the product, used where it has none: RCN-13 ``04`` + ten digits + check digit.

    Raises:
        CodeError: a GTIN-14 (a grouping of packs: not for the till), or an item number outside ten digits.
    """
    if own_gtin is not None:
        digits = gtin(own_gtin)
        if len(digits) == 14 and digits[0] != "0":
            raise CodeError("gtin", "the GTIN of the single pack (13 digits or fewer)", own_gtin)
        return digits[-13:].rjust(13, "0")
    if not 1 <= item < 10**10:
        raise CodeError("item", "an item number of at most ten digits", str(item))
    body = f"04{item:010d}"
    return body + check_digit(body)
