"""JSON shapes: objects whose fields and types are known, read strictly, with errors that name the field.

msgspec does the checking; this module gives it our quantities and turns its errors into ours.
"""

from __future__ import annotations

import re
import types
import typing
from collections.abc import Iterator
from decimal import Decimal
from typing import Any, Literal, TypeVar, Union, get_args, get_origin

import msgspec

from labelsvc.errors import InputError
from labelsvc.units import Mass, decimal


class Percent(Decimal):
    """A share of 0 to 100 percent, exact; as JSON a bare decimal in quotes or a whole number."""


class Exact(Decimal):
    """Any exact number: degrees, ppm, grams per 100 g."""


class Weighed(Mass):
    """A weight above 0 g: something was on the scale."""


class Shape(msgspec.Struct, frozen=True, forbid_unknown_fields=True, omit_defaults=True):
    """A JSON object whose fields are known; an unknown field is an error."""


AtLeastOne = msgspec.Meta(min_length=1)  # a list that may not be empty
ShapeType = TypeVar("ShapeType", bound=Shape)


def read_shape(kind: type[ShapeType], given: object, name: str) -> ShapeType:
    """Return a checked object.

    Args:
        kind: the shape.
        given: the JSON object as Python values.
        name: how an error names the whole.

    Raises:
        InputError: an unknown field, a missing field, a float, or a value that cannot be; names the field.
    """
    if not isinstance(given, dict):
        raise InputError(name, "one JSON object", repr(given))
    refuse_floats(given, "")
    try:
        return msgspec.convert(given, kind, strict=False, dec_hook=_read_value)
    except msgspec.ValidationError as error:
        raise _as_input_error(error, kind, given, name) from None


def refuse_floats(value: object, field: str) -> None:
    """Raise an InputError that names the first float in a JSON value: a float is not exact."""
    if isinstance(value, float):
        raise InputError(field, 'an exact number in quotes, such as "2.5"', f"the float {value!r}")
    if isinstance(value, dict):
        for key, inner in value.items():
            refuse_floats(inner, f"{field}.{key}" if field else str(key))
    elif isinstance(value, list):
        for place, inner in enumerate(value):
            refuse_floats(inner, f"{field}[{place}]")


def _read_value(kind: type, value: Any) -> Any:
    if kind is Mass:
        return Mass.parse(value, "")
    if kind is Weighed:
        weight = Mass.parse(value, "")
        if weight.milligrams == 0:
            raise InputError("", "a weight above 0 g", str(value))
        return Weighed(weight.grams)
    if kind is Percent:
        return Percent(decimal(value, "", minimum=0, maximum=100))
    if kind is Exact:
        return Exact(decimal(value, "", minimum=None))
    raise NotImplementedError(f"no reader for {kind}")


_PLACE = re.compile(r" - at `\$\.?(.*)`$")
_MISSING = re.compile(r"Object missing required field `(.+?)`")
_EMPTY = re.compile(r"of length >= 1$")
_UNKNOWN = re.compile(r"Object contains unknown field `(.+?)`")


def _as_input_error(error: msgspec.ValidationError, kind: type[Shape], given: object, name: str) -> InputError:
    text = str(error)
    match = _PLACE.search(text)
    place, what = (match.group(1), text[: match.start()]) if match else ("", text)
    missing, unknown = _MISSING.match(what), _UNKNOWN.match(what)
    if missing:
        return InputError(_join(place, missing.group(1)), "a value", "nothing")
    if unknown:
        return InputError(
            _join(place, unknown.group(1)), f"only the fields {', '.join(_field_names(kind, place))}", "a field of that name"
        )
    if isinstance(error.__cause__, InputError):
        cause = error.__cause__
        return type(cause)(_join(place, cause.field) or name, cause.expected, cause.got, cause.hint)
    choices = [str(choice) for option in _types_at(kind, place) if get_origin(option) is Literal for choice in get_args(option)]
    expected = (
        f"one of {', '.join(choices)}" if choices else what.partition(", got ")[0].removeprefix("Expected ").replace("`", "")
    )
    value = _value_at(given, place)
    if _EMPTY.search(what):
        return InputError(place or name, "at least one", "none")
    return InputError(place or name, expected, value if isinstance(value, str) else repr(value))


def _join(place: str, field: str) -> str:
    return ".".join(part for part in (place, field) if part)


def _steps(place: str) -> list[str]:
    return re.findall(r"[^.\[\]]+", place)


def _value_at(given: Any, place: str) -> Any:
    for step in _steps(place):
        try:
            given = given[int(step)] if step.isdigit() else given[step]
        except (KeyError, IndexError, TypeError):
            return None
    return given


def _types_at(kind: Any, place: str) -> list[Any]:
    """Return the types that may stand at a place of a shape."""
    found = [kind]
    for step in _steps(place):
        found = [inner for option in found for inner in _inside(option, step)]
    return [option for outer in found for option in _options(outer)]


def _inside(kind: Any, step: str) -> Iterator[Any]:
    for option in _options(kind):
        if get_origin(option) in (tuple, list):
            yield get_args(option)[0]
        elif isinstance(option, type) and issubclass(option, Shape):
            hints = typing.get_type_hints(option)
            yield from (hints[field.name] for field in msgspec.structs.fields(option) if field.encode_name == step)


def _options(kind: Any) -> tuple[Any, ...]:
    return get_args(kind) if get_origin(kind) in (Union, types.UnionType) else (kind,)


def _field_names(kind: type[Shape], place: str) -> list[str]:
    shapes = [option for option in _types_at(kind, place) if isinstance(option, type) and issubclass(option, Shape)]
    return [field.encode_name for shape in shapes for field in msgspec.structs.fields(shape)]
