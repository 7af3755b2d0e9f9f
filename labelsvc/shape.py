"""JSON shapes: objects whose fields and types are known, read strictly, with errors that name the field.

msgspec does the checking; this module gives it our quantities and turns its errors into ours. A class of values with a class
method ``read`` (one JSON value in, an InputError without a field where it cannot be) may stand in any shape.
"""

from __future__ import annotations

import datetime as dt
import re
import types
import typing
from collections.abc import Iterator
from decimal import Decimal
from typing import Any, ClassVar, Literal, Self, TypeVar, Union, get_args, get_origin

import msgspec

from labelsvc.errors import InputError, as_json
from labelsvc.units import Mass, decimal


class Exact(Decimal):
    """Any exact number, such as degrees; as JSON a bare decimal in quotes or a whole number."""

    least: ClassVar[int | None] = None
    most: ClassVar[int | None] = None

    @classmethod
    def read(cls, value: object) -> Self:
        """Return the number of a JSON value."""
        return cls(decimal(value, "", minimum=cls.least, maximum=cls.most))


class Percent(Exact):
    """A share of 0 to 100 percent."""

    least, most = 0, 100


class Ppm(Exact):
    """A share of 0 to 1 000 000 mg per kg."""

    least, most = 0, 1_000_000


class Weighed(Mass):
    """A weight above 0 g: something was on the scale."""

    @classmethod
    def read(cls, value: object) -> Self:
        """Return the weight of a JSON value."""
        weight = _read_mass(value)
        if weight.milligrams == 0:
            raise InputError("", "a weight above 0 g", str(value))
        return cls(weight.grams)


class Text(str):
    """A text that is not empty, its spaces made single."""

    @classmethod
    def read(cls, value: object) -> Self:
        """Return the text of a JSON value."""
        if not isinstance(value, str) or not value.strip():
            raise InputError("", "a text that is not empty", as_json(value))
        return cls(" ".join(value.split()))


class Sha256(Text):
    """A SHA-256 in lower-case hexadecimal: by it a fact names a photo that is kept beside the ledger."""

    @classmethod
    def read(cls, value: object) -> Self:
        """Return the hash of a JSON value."""
        text = super().read(value)
        if not re.fullmatch(r"[0-9a-f]{64}", text):
            raise InputError("", "the SHA-256 of a photo that was kept, 64 hexadecimal digits", text)
        return cls(text)


class Shape(msgspec.Struct, frozen=True, forbid_unknown_fields=True, omit_defaults=True):
    """A JSON object whose fields are known; an unknown field is an error."""


AtLeastOne = msgspec.Meta(min_length=1)  # a list that may not be empty
ShapeType = TypeVar("ShapeType", bound=Shape)


def read_shape(kind: type[ShapeType], given: object, name: str, *, strict: bool = False) -> ShapeType:
    """Return a checked object.

    Args:
        kind: the shape.
        given: the JSON object as Python values.
        name: how an error names the whole.
        strict: refuse true, null and whole numbers in quotes; a fact takes them, because a command line gives only text.

    Raises:
        InputError: an unknown field, a missing field, a float, or a value that cannot be; names the field.
    """
    if not isinstance(given, dict):
        raise InputError(name, "one JSON object", as_json(given))
    refuse_unfit(given, "")
    try:
        return msgspec.convert(given, kind, strict=strict, dec_hook=_read_value)
    except msgspec.ValidationError as error:
        raise _as_input_error(error, kind, given, name) from None


def as_read(given: Any, checked: Any) -> Any:
    """Return a JSON value as it was given, but true, false and whole numbers that came as words as what they were read as.

    Args:
        given: the value, such as ``{"thing": "slicer", "allergen_clean": "false"}``.
        checked: what ``read_shape`` made of it.
    """
    if isinstance(checked, msgspec.Struct) and isinstance(given, dict):
        names = zip(checked.__struct_encode_fields__, checked.__struct_fields__, strict=True)
        fields = {name: getattr(checked, own) for name, own in names}
        return {name: as_read(value, fields[name]) if name in fields else value for name, value in given.items()}
    if isinstance(checked, tuple) and isinstance(given, list):
        return [as_read(*pair) for pair in zip(given, checked, strict=True)]
    return checked if isinstance(checked, bool | int | None) else given


def refuse_unfit(value: object, field: str) -> None:
    """Raise an InputError that names the first float (not exact) or text that cannot be printed in a JSON value."""
    if isinstance(value, float):
        raise InputError(field, 'an exact number in quotes, such as "2.5"', f"the float {value!r}")
    if isinstance(value, str) and _UNPRINTABLE.search(value):
        raise InputError(field, "text without control characters", ascii(value))
    if isinstance(value, dict):
        for key, inner in value.items():
            refuse_unfit(inner, f"{field}.{key}" if field else str(key))
    elif isinstance(value, list):
        for place, inner in enumerate(value):
            refuse_unfit(inner, f"{field}[{place}]")


def printable(text: str) -> str:
    """Return a text with a space for each character that cannot be printed: what a buyer pasted is taken, not refused."""
    return _UNPRINTABLE.sub(" ", text)


_UNPRINTABLE = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\ud800-\udfff]")
_VOLUME = re.compile(
    r"(?:^|[\s\d/.,¼½¾])(?:tsp|tbsp|teaspoons?|tablespoons?|spoons?|cups?|pinch(?:es)?|dash(?:es)?|drops?|handfuls?"
    r"|ml|cl|dl|l|fl oz|liters?|litres?|gal|gallons?|pints?|quarts?|el|tl|esslöffel|teelöffel|prise)\b"
)
_WHY_NO_VOLUME = "Two spoons of one size can differ by a quarter, and salt by shape more than twofold: put it on a scale"


def _read_mass(value: object) -> Mass:
    if isinstance(value, str) and _VOLUME.search(value.casefold()):
        raise InputError("", "a weight from a scale, never a volume", value, _WHY_NO_VOLUME)
    return Mass.parse(value, "")


def _read_value(kind: Any, value: object) -> object:
    return _read_mass(value) if kind is Mass else kind.read(value)


_FIELD = re.compile(r"Object (missing required|contains unknown) field `(.+?)`")
_PLAIN_WORDS = {"bool": "true or false", "int": "a whole number", "str": "a text", "array": "a list", "object": "one JSON object"}

_NO_TEXTS = {words for words in _PLAIN_WORDS.values() if words != "a text"}  # where a text is wrong even if it reads right


def _as_input_error(error: msgspec.ValidationError, kind: type[Shape], given: object, name: str) -> InputError:
    what, _, place = str(error).partition(" - at `$")
    place = place.strip(".`")
    field, value = _FIELD.match(what), _value_at(given, place)
    if field and field[1] == "contains unknown":
        known = ", ".join(_field_names(kind, place))
        return InputError(_join(place, field[2]), f"only the fields {known}", "a field of that name")
    if field or value is None:
        return InputError(_join(place, field[2] if field else ""), "a value", "nothing")
    if isinstance(error.__cause__, InputError):
        cause = error.__cause__
        return type(cause)(_join(place, cause.field) or name, cause.expected, cause.got, cause.hint)
    if what.endswith("of length >= 1"):
        return InputError(place, "at least one", "none")
    expected = _expected(what, _types_at(kind, place))
    return InputError(place or name, expected, as_json(value) if expected in _NO_TEXTS else value)


def _expected(what: str, kinds: list[Any]) -> str:
    choices = [str(choice) for option in kinds if get_origin(option) is Literal for choice in get_args(option)]
    if choices:
        return f"one of {', '.join(choices)}"
    if dt.date in kinds:
        return "a day such as 2026-03-02"
    told = what.partition(", got ")[0].removeprefix("Expected ").replace("`", "").removesuffix(" | null")
    return _PLAIN_WORDS.get(told, told)


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
