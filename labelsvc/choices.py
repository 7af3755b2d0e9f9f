"""One of a few: the words that people write for a choice, read without regard to case, spaces and hyphens."""

from __future__ import annotations

import re
from collections.abc import Mapping

from labelsvc.errors import InputError

_STANDINGS = {
    "approved with a mark": "approved",
    "registered retail only": "registered",
    "registered retail": "registered",
    "us inspected": "us_inspected",
    "us retail exempt": "us_retail_exempt",
    "not for sale": "not_for_sale",
}
_FORMS = {
    "packed for direct sale": "direct",
    "prepacked for direct sale": "direct",
    "ppds": "direct",
    "prepacked": "prepacked",
    "loose": "loose",
    "bulk to trade": "bulk",
}
_ROLES = {
    "bench hand": "bench_hand",
    "packer": "packer",
    "responsible person": "responsible",
    "reader": "reader",
    "inspector": "reader",
}
_TRICHINELLA = {"tested": "tested", "controlled housing": "controlled_housing", "frozen": "frozen", "not known": "unknown"}


def standing(text: str) -> str:
    """Return the workshop's standing, which decides what may be printed and sold to whom.

    Returns:
        approved, registered, us_inspected, us_retail_exempt or not_for_sale.

    Raises:
        InputError: none of these.
    """
    return _one_of("standing", text, _STANDINGS)


def form_of_sale(text: str) -> str:
    """Return the form of sale of a packing: direct, prepacked, loose or bulk.

    Raises:
        InputError: none of these.
    """
    return _one_of("form", text, _FORMS)


def trichinella(text: str) -> str:
    """Return what is known of Trichinella: tested, controlled_housing, frozen or unknown.

    Raises:
        InputError: none of these.
    """
    return _one_of("trichinella", text, _TRICHINELLA)


def role(text: str) -> str:
    """Return what someone does in the workshop: bench_hand, packer, responsible or reader.

    Raises:
        InputError: none of these.
    """
    return _one_of("role", text, _ROLES)


def _one_of(field: str, text: str, words: Mapping[str, str]) -> str:
    said = re.sub(r"[^a-z0-9]+", " ", text.lower()).strip()
    meant = {**{value.replace("_", " "): value for value in words.values()}, **words}
    if said not in meant:
        raise InputError(field, f"one of {', '.join(dict.fromkeys(words.values()))}", text)
    return meant[said]
