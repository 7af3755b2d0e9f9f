"""The lot code in what a scanner sent or a person typed: a link of ours, GS1 elements with a batch number, or the code itself."""

from __future__ import annotations

import re

from labelsvc.codes.gs1 import compute_gs1
from labelsvc.codes.lot_code import LotCode
from labelsvc.errors import InputError

_LINK = re.compile(r"/(?:lot|01/[0-9]{14}/10)/([A-Za-z0-9-]+)(?:/(?:21/)?([0-9]+))?/?(?:[?#].*)?$", re.ASCII)
_PLAIN = ("]C1", "]Q3", "]Q1", "]d1", "]d2", "]C0", "]e0")  # symbology identifiers, where what follows is no GS1 data
_BATCH, _SERIAL = "10", "21"


def lot_code_in(text: str) -> str:
    """Return the lot code, with the pack's number where there is one; a text that is neither is given back as it is.

    A lot that is copied with the L that the law puts before it (Directive 2011/91/EU, Article 4) is taken without it.

    >>> lot_code_in("https://labels.example.com/01/09521234543213/10/K261125A5B/21/3")
    'K261125A5B/3'
    >>> lot_code_in("(01)09521234543213(10)K261125A5B(21)3")
    'K261125A5B/3'
    >>> lot_code_in("L K2611250H3")
    'K2611250H3'
    """
    text = text.strip()
    elements = _elements(text)
    if _BATCH in elements:
        unit = elements.get(_SERIAL, "")
        return f"{elements[_BATCH]}/{unit}" if unit.isdigit() else elements[_BATCH]
    bare = next((text[len(mark) :] for mark in _PLAIN if text.startswith(mark)), text)
    match = _LINK.search(bare)
    if match is None:
        return bare[1:].strip() if bare[:1] in ("L", "l") and _is_lot_code(bare[1:]) else bare
    lot, number = match.groups()
    return f"{lot}/{number}" if number else lot


def _is_lot_code(text: str) -> bool:
    try:
        LotCode.parse(text)
    except InputError:
        return False
    return True


def _elements(text: str) -> dict[str, str]:
    """The GS1 elements in a text by their identifiers; none where it is no GS1 data."""
    form = "human_readable" if text.startswith("(") else "scan" if text.startswith("]") else ""
    if not form:
        return {}
    try:
        return {one["ai"]: one["value"] for one in compute_gs1({form: text})["elements"]}
    except InputError:
        return {}
