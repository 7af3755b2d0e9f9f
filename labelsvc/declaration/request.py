"""Reads a JSON request field by field: every error names the field, unknown fields are refused and so are floats."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Mapping
from decimal import Decimal
from typing import Any

from labelsvc.errors import InputError
from labelsvc.units import Mass, decimal


def check_fields(obj: object, field: str, required: Collection[str], optional: Collection[str] = ()) -> Mapping[str, Any]:
    """Return the object once it has every required field and no unknown one.

    Args:
        obj: what should be a JSON object.
        field: where it stands, empty for the whole request.
        required: names that must be there.
        optional: further names that may be there.

    Raises:
        InputError: not an object, or the name of the first field that is missing or unknown.
    """
    if not isinstance(obj, Mapping):
        raise InputError(field or "request", "a JSON object", type(obj).__name__)
    for name in required:
        if obj.get(name) is None:
            raise InputError(place(field, name), "a value", "nothing")
    for name in obj:
        if name not in required and name not in optional:
            raise InputError(place(field, str(name)), f"only the fields {', '.join([*required, *optional])}", "an unknown field")
    return obj


def place(field: str, name: str) -> str:
    """Return the full name of a field inside another (``ingredients[0].weight``)."""
    return f"{field}.{name}" if field else name


def text_of(obj: Mapping[str, Any], name: str, field: str = "") -> str:
    """Return a text that is not empty."""
    value = obj[name]
    if not isinstance(value, str) or not value.strip():
        raise InputError(place(field, name), "a text that is not empty", repr(value))
    return " ".join(value.split())


def optional_text(obj: Mapping[str, Any], name: str, field: str = "") -> str | None:
    """Return a text that is not empty, or None where it was not given."""
    return None if obj.get(name) is None else text_of(obj, name, field)


def list_of(obj: Mapping[str, Any], name: str, field: str = "") -> list[Any]:
    """Return a list, empty where it was not given."""
    value = obj.get(name)
    if value is None:
        return []
    if not isinstance(value, list | tuple):
        raise InputError(place(field, name), "a list", type(value).__name__)
    return list(value)


def percent_of(obj: Mapping[str, Any], name: str, field: str = "", maximum: int | None = 100) -> Decimal | None:
    """Return an exact number from 0 to the maximum, or None where it was not given."""
    value = obj.get(name)
    return None if value is None else decimal(value, place(field, name), maximum=maximum)


def flag_of(obj: Mapping[str, Any], name: str, field: str = "") -> bool | None:
    """Return true or false, or None where it was not given."""
    value = obj.get(name)
    if value is not None and not isinstance(value, bool):
        raise InputError(place(field, name), "true or false", repr(value))
    return value


def day_of(obj: Mapping[str, Any], name: str) -> dt.date:
    """Return an ISO 8601 day."""
    value = obj[name]
    try:
        return dt.date.fromisoformat(value)
    except (TypeError, ValueError):
        raise InputError(name, "a day such as 2026-03-31", repr(value)) from None


def positive_weight(obj: Mapping[str, Any], name: str) -> Mass:
    """Return a weight of more than 0 g."""
    weight = Mass.parse(obj[name], name)
    if not weight.grams:
        raise InputError(name, "a weight of more than 0 g", str(obj[name]))
    return weight
