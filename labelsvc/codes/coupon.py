"""Whether digits are the fields of a North American coupon, as AI 8110 and 8112 carry it.

Source: the reference tests ``couponcode`` and ``couponposoffer`` of the GS1 Barcode Syntax Dictionary. Most fields say their own
length: a digit, to which six is added for a company prefix or a serial number.
"""

from __future__ import annotations

import datetime as dt
import re


def _field(first: int, last: int, more: int) -> str:
    """A digit that says how many digits follow it."""
    return "(?:" + "|".join(f"{size}[0-9]{{{size + more}}}" for size in range(first, last + 1)) + ")"


_PREFIX, _SERIAL = _field(0, 6, 6), _field(0, 9, 6)
_PURCHASE = _field(1, 5, 0) + "[0-49][0-9]{3}"  # requirement, its code, family code
_COUPON = re.compile(
    f"{_PREFIX}[0-9]{{6}}{_field(1, 5, 0)}{_PURCHASE}"
    f"(?:1[0-3]{_PURCHASE}(?:{_PREFIX}|9))?(?:2{_PURCHASE}(?:{_PREFIX}|9))?"
    f"(?:3(?P<ends>[0-9]{{6}}))?(?:4(?P<begins>[0-9]{{6}}))?"
    f"(?:5{_SERIAL})?(?:6{_field(1, 7, 6)})?(?:9[01256][0-2][0-9][01])?"
)
_OFFER = re.compile(f"[01]{_PREFIX}[0-9]{{6}}{_SERIAL}")


def is_coupon(text: str) -> bool:
    """Tell whether a text is a coupon with its conditions, whose dates exist and do not end before they begin.

    >>> is_coupon("012345612345611110123")
    True
    """
    match = _COUPON.fullmatch(text)
    if match is None:
        return False
    begins, ends = match["begins"], match["ends"]
    return all(_exists(day) for day in (begins, ends) if day) and not (begins and ends and begins > ends)


def is_offer_coupon(text: str) -> bool:
    """Tell whether a text is a coupon whose conditions the shop looks up.

    >>> is_offer_coupon("001234561234560123456"), is_offer_coupon("201234561234560123456")
    (True, False)
    """
    return _OFFER.fullmatch(text) is not None


def _exists(day: str) -> bool:
    try:
        dt.date(2000 + int(day[:2]), int(day[2:4]), int(day[4:]))
    except ValueError:
        return False
    return True
