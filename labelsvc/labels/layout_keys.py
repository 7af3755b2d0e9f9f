"""Reads a table of a layout file, every key known and of its kind; faults are said in the words of one who edits such files."""

from __future__ import annotations

import difflib
import math
import re
import types
import typing
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Literal, TypeVar, Union, get_args, get_origin

import msgspec

from labelsvc.errors import LayoutError, as_json

_T = TypeVar("_T", bound=msgspec.Struct)
_FIELD = re.compile(r"Object (missing required|contains unknown) field `(.+?)`")
_SIZES = "the height it begins with and the least it may shrink to in mm, such as { largest = 2.4, smallest = 1.2 }"
_MODULES = "the width of a module in mm, such as { smallest = 0.264, target = 0.33, largest = 0.66 }"
_WORDS = 'words by language, such as {key}.en = "Allergens"'
_WANTED = {
    "box_mm": "four numbers in mm: from the left, from the top, width, height, such as [2, 12, 30, 8]",
    "centre_mm": "two numbers in mm: from the left, from the top, such as [30, 6.5]",
    "label_mm": "two numbers in mm: width and height of the labels, such as [60, 120]",
    "gap_mm": "the gap in mm, such as 1",
    "edge_margin_mm": "what stays free along the edges in mm: one number, or { top = 2, right = 2, bottom = 6, left = 2 }",
    "x_height_mm": _SIZES,
    "cap_height_mm": _SIZES,
    "module_mm": _MODULES,
    "matrix_module_mm": _MODULES,
    "dots_per_mm": "dots of the printer per mm, such as 8 or 12",
    "divided_at": "a share of the width, such as 0.5",
    "priority": "a whole number: the lower, the earlier it is read",
    "across": "a whole number",
    "down": "a whole number",
    "hole": "a table [hole] with centre_mm, diameter_mm and margin_mm",
    "elements": "tables such as [elements.product_name]",
    "columns": "tables such as [columns.body]",
    "markets": 'a list of markets, such as ["eu", "gb"]',
    "rows": 'a list of rows, # for ink and . for none, such as [".#.", "###"]',
    "leaves_out": 'a list of names of elements, such as ["storage"]',
    "caption": _WORDS,
    "says": _WORDS,
}
_TWO = "two numbers in mm: across and down, such as [2, 0]"
_PLAIN = {float: "a number", int: "a whole number", bool: "true or false", str: "a text in quotes"}
_SET_HERE = "file"  # the one key of a shape that no file gives


def text_in(path: Path) -> str:
    """Return the text of a file of a layout or sheet.

    Raises:
        LayoutError: it cannot be read, or is no UTF-8: names the file.
    """
    try:
        return path.read_text(encoding="utf-8")
    except UnicodeDecodeError as error:
        got = f"byte {error.start + 1} that is none"
        raise LayoutError(path.name, "a text in UTF-8", got, "Save it as UTF-8 in the editor.") from error
    except OSError as error:
        raise LayoutError(path.name, "a file that can be read", error.strerror or "none") from error


def read_table(entry: Any, shape: type[_T], where: str) -> _T:
    """Return a table of a TOML file as the shape it must have.

    Args:
        entry: the table.
        shape: what it must have.
        where: how an error names it: file and element.

    Raises:
        LayoutError: an unknown or missing key, a value of another kind, or a number that is no measure; names the key.
    """
    if not isinstance(entry, dict):
        raise LayoutError(where, "a table with keys, such as box_mm = [2, 12, 30, 8]", as_json(entry))
    for key, value in entry.items():
        if not _holds_tables(shape, key):
            _refuse_no_measure(value, where, key)
    try:
        return msgspec.convert(entry, shape)
    except msgspec.ValidationError as error:
        raise _in_our_words(str(error), entry, shape, where) from None


def _refuse_no_measure(value: Any, where: str, key: str) -> None:
    """Refuse nan, inf and what is below 0, which TOML allows and no length is."""
    if isinstance(value, dict):
        for name, inner in value.items():
            _refuse_no_measure(inner, where, f"{key}.{name}")
    elif isinstance(value, list):
        for place, inner in enumerate(value):
            _refuse_no_measure(inner, where, f"{key}[{place}]")
    elif isinstance(value, int | float) and not (math.isfinite(value) and value >= 0):
        raise LayoutError(f"{where} {key}", "a number of 0 or more", str(value))


def _in_our_words(said: str, entry: Mapping[str, Any], shape: type[msgspec.Struct], where: str) -> LayoutError:
    what, _, place = said.partition(" - at ")
    place = place.strip("`").removeprefix("$").removeprefix(".").removesuffix("[...]")
    key, value = re.split(r"[.\[]", place)[0], _value_at(entry, place)
    field = _FIELD.match(what)
    if field and field[1] == "contains unknown":
        return _unknown(field[2], place, _shape_at(shape, place), where)
    if field:
        inner = field[2] if not place else f"{place}.{field[2]}"
        return LayoutError(f"{where} {inner}", _wanted(shape, key or field[2]), "nothing")
    if ", got " in what and not what.startswith(("Expected", "Invalid")):  # a shape's own rule, such as smallest above largest
        expected, _, got = what.partition(", got ")
        return LayoutError(f"{where} {place}", expected, got)
    got = value if isinstance(value, str) and what.startswith("Invalid enum") else as_json(value)
    return LayoutError(f"{where} {place}", _wanted(shape, key), got)


def _unknown(name: str, place: str, shape: type[msgspec.Struct], where: str) -> LayoutError:
    known = [key for key in shape.__struct_fields__ if key != _SET_HERE]
    near = difflib.get_close_matches(name, known, 1)
    hint = f"Did you mean {near[0]}?" if near else ""
    inside = f"{place}.{name}" if place else name
    return LayoutError(f"{where} {inside}", f"only the keys {', '.join(known)}", f"the key {name}", hint)


def _wanted(shape: type[msgspec.Struct], key: str) -> str:
    if key in _WANTED and not (key == "gap_mm" and get_origin(_kind(shape, key)) is tuple):
        return _WANTED[key].format(key=key) if "{key}" in _WANTED[key] else _WANTED[key]
    kind = _kind(shape, key)
    choices = [str(choice) for option in _options(kind) if get_origin(option) is Literal for choice in get_args(option)]
    if choices:
        return f"one of {', '.join(choices)}"
    if get_origin(kind) is tuple:
        return 'a list of texts, such as ["..##", "####"]' if str in get_args(kind) else _TWO
    plain = next(words for option, words in _PLAIN.items() if option in _options(kind))
    return f"{plain} of mm, such as 2.5" if plain == "a number" and key.endswith("_mm") else plain


def _holds_tables(shape: type[msgspec.Struct], key: str) -> bool:
    """Tell whether a key's tables are read by themselves, each under its own name."""
    return key in shape.__struct_fields__ and any(get_origin(option) is dict for option in _options(_kind(shape, key)))


def _kind(shape: type[msgspec.Struct], key: str) -> Any:
    return typing.get_type_hints(shape)[key]


def _shape_at(shape: type[msgspec.Struct], place: str) -> type[msgspec.Struct]:
    """Return the shape of the table at a place: that of the key it begins with, or the whole one."""
    options = _options(_kind(shape, place)) if place in shape.__struct_fields__ else ()
    return next((option for option in options if isinstance(option, type) and issubclass(option, msgspec.Struct)), shape)


def _options(kind: Any) -> tuple[Any, ...]:
    return get_args(kind) if get_origin(kind) in (Union, types.UnionType) else (kind,)


def _value_at(entry: Any, place: str) -> Any:
    for step in re.findall(r"[^.\[\]]+", place):
        if isinstance(entry, list) and step.isdigit() and int(step) < len(entry):
            entry = entry[int(step)]
        elif isinstance(entry, dict) and step in entry:
            entry = entry[step]
        else:
            return entry
    return entry
