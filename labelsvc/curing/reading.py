"""Reads the fields of one JSON object: unknown fields, floats and volumes are refused, every error names its field."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

from labelsvc.errors import InputError
from labelsvc.units import Mass, decimal

LIGHTEST = Decimal("0.000001")  # g; far less than any scale of a workshop shows: catches a slip of the unit
_VOLUME = re.compile(
    r"(?:^|[\s\d/.,¼½¾])(?:tsp|tbsp|teaspoons?|tablespoons?|spoons?|cups?|pinch(?:es)?|dash(?:es)?|drops?|handfuls?"
    r"|ml|cl|dl|l|fl oz|liters?|litres?|gal|gallons?|pints?|quarts?|el|tl|esslöffel|teelöffel|prise)\b"
)
_WHY_NO_VOLUME = "Two spoons of one size can differ by a quarter, and salt by shape more than twofold: put it on a scale"


def read_object(value: object, required: Sequence[str], optional: Sequence[str] = (), field: str = "") -> Mapping[str, Any]:
    """Return a JSON object that has every required field and no field beside those named; null counts as absent.

    Args:
        value: what came in.
        required: names that must be there.
        optional: names that may be there.
        field: where the object stands (``mix[0]``), empty for the outermost.

    Raises:
        InputError: not an object, a field is missing, or a field is unknown.
    """
    if not isinstance(value, Mapping):
        raise InputError(field or "input", "an object", value)
    fields = {name: content for name, content in value.items() if content is not None}
    for name in value:
        if name not in required and name not in optional:
            raise InputError(_in(field, str(name)), f"no field beside {', '.join([*required, *optional])}", "this field")
    for name in required:
        if name not in fields:
            raise InputError(_in(field, name), "a value", "none")
    return fields


def read_list(value: object, field: str, *, least: int = 0) -> Sequence[Any]:
    """Return a JSON list with at least so many items."""
    if not isinstance(value, Sequence) or isinstance(value, str | bytes) or len(value) < least:
        raise InputError(field, f"a list with at least {least} item(s)", value)
    return value


def read_text(value: object, field: str) -> str:
    """Return a text that is not empty."""
    if not isinstance(value, str) or not value.strip():
        raise InputError(field, "a text that is not empty", value)
    return value


def read_choice(value: object, field: str, choices: Sequence[str]) -> str:
    """Return a text that is one of the choices."""
    if not isinstance(value, str) or value not in choices:
        raise InputError(field, f"one of {', '.join(choices)}", value)
    return value


def read_flag(value: object, field: str) -> bool:
    """Return a yes or no."""
    if not isinstance(value, bool):
        raise InputError(field, "true or false", value)
    return value


def read_day(value: object, field: str) -> dt.date:
    """Return a day written as ``2025-10-09``."""
    if isinstance(value, str) and re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", value, re.ASCII):
        try:
            return dt.date.fromisoformat(value)
        except ValueError:
            pass
    raise InputError(field, "a day such as 2025-10-09", value)


def read_weight(value: object, field: str, *, more_than_nothing: bool = False) -> Mass:
    """Return a weight; a volume is refused with the reason.

    Args:
        value: text with a unit, such as ``"638 g"``.
        field: how an error names it.
        more_than_nothing: refuse 0 g.

    Raises:
        InputError: a volume, no weight, nothing where something is needed, or less than any scale shows.
    """
    if isinstance(value, str) and _VOLUME.search(value.casefold()):
        raise InputError(field, "a weight from a scale, never a volume", value, _WHY_NO_VOLUME)
    weight = Mass.parse(value, field)
    if more_than_nothing and weight.grams == 0:
        raise InputError(field, "a weight of more than 0 g", str(value))
    if 0 < weight.grams < LIGHTEST:
        raise InputError(field, "a weight of at least 0.001 mg", str(value))
    return weight


def read_percent(value: object, field: str, *, more_than_nothing: bool = False) -> Decimal:
    """Return a percentage from 0 to 100."""
    percent = decimal(value, field, maximum=100)
    if more_than_nothing and percent == 0:
        raise InputError(field, "a percentage of more than 0", str(value))
    return percent


def _in(outer: str, name: str) -> str:
    return f"{outer}.{name}" if outer else name
