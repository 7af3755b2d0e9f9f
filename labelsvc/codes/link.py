"""What the QR says: a link to the batch record.

With a GTIN of the workshop's own it is a GS1 Digital Link (GS1 Digital Link URI Syntax 1.2 and later: key and qualifiers in
the path, 01 -> 10 -> 21). Without one AI 10 may not stand, so the link has the same shape under the workshop's own word.
The base address is a setting of the workshop, never taken from a request.
"""

from __future__ import annotations

import re

from labelsvc.codes.article_number import gtin
from labelsvc.codes.lot_code import LotCode
from labelsvc.errors import CodeError

_BASE = re.compile(r"https?://[a-zA-Z0-9.-]+(:[0-9]{1,5})?(/[A-Za-z0-9._~-]+)*", re.ASCII)


def base_address(text: str, field: str = "base_url") -> str:
    """Return a checked base address without trailing slash.

    Raises:
        CodeError: not http(s), or with a query, fragment, user or a character that a link would have to escape.
    """
    base = text.strip().rstrip("/")
    if not _BASE.fullmatch(base):
        raise CodeError(field, "a web address such as https://labels.example.com", text)
    return base


def batch_link(base: str, code: LotCode, own_gtin: str | None = None) -> str:
    """Return the link to a lot's batch record.

    Args:
        base: a checked base address.
        code: the lot, or one pack of a pack lot.
        own_gtin: the product's GTIN, or None.

    >>> batch_link("https://example.com", LotCode.parse("K261125A5B/3"), "9521234543213")
    'https://example.com/01/09521234543213/10/K261125A5B/21/3'
    """
    head = f"{base}/01/{gtin(own_gtin).rjust(14, '0')}/10/{code.lot}" if own_gtin else f"{base}/lot/{code.lot}"
    if code.unit is None:
        return head
    return f"{head}/21/{code.unit}" if own_gtin else f"{head}/{code.unit}"
