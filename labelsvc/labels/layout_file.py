"""Reads layout files: TOML, every key known, every box inside the stock, clear of the hole and of each other.

Every fault names file, element and key; ``line_of`` finds the line, so that a person who edits a file sees where.
"""

from __future__ import annotations

import hashlib
import math
import re
import tomllib
from collections.abc import Mapping
from pathlib import Path
from types import MappingProxyType
from typing import Any, Literal

import msgspec

from labelsvc.errors import LayoutError
from labelsvc.labels.layout import (
    Box,
    Boxes,
    Column,
    Edges,
    Element,
    Hole,
    Layout,
    Picture,
    Purpose,
    Rule,
    Symbol,
    Text,
)
from labelsvc.labels.layout_keys import read_table, text_in
from labelsvc.labels.marks import COARSEST, FINEST

_TOUCH = 1e-6  # mm; boxes that share a side do not overlap
_MAY_BE_A_MATRIX = "code128_or_gs1_128"
_AT_LINE = re.compile(r"at line ([0-9]+)")
_KINDS: Mapping[str, type[Element]] = {
    "text": Text,
    "runs": Text,
    "symbol": Symbol,
    "boxes": Boxes,
    "rule": Rule,
    "picture": Picture,
}


class _File(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    title: str
    purpose: Purpose
    width_mm: float
    height_mm: float
    edge_margin_mm: float | Edges
    dots_per_mm: float
    minimum_x_height_mm: float
    elements: dict[str, Any]
    columns: dict[str, Any] = {}
    hole: dict[str, Any] | None = None
    markets: tuple[str, ...] = ()
    leaves_out: tuple[str, ...] = ()
    print_rotation: Literal[0, 90, 180, 270] = 0


def read_layout(path: Path) -> Layout:
    """Read a layout file.

    Raises:
        LayoutError: names file, element and key.
    """
    return parse_layout(text_in(path), path.name)


def parse_layout(text: str, file: str) -> Layout:
    """Return the layout of a TOML text.

    Args:
        text: the whole file.
        file: its name, for errors.

    Raises:
        LayoutError: not TOML, an unknown or missing key, boxes that overlap, leave the stock or reach the hole.
    """
    try:
        raw = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise LayoutError(file, "a TOML file", str(error)) from error
    head = read_table(raw, _File, file)
    columns = {name: read_table(entry, Column, f"{file} columns.{name}") for name, entry in head.columns.items()}
    elements = {name: _element(entry, f"{file} {name}") for name, entry in head.elements.items()}
    ordered = dict(sorted(elements.items(), key=lambda item: item[1].priority))
    layout = Layout(
        file,
        hashlib.sha256(text.encode("utf-8")).hexdigest(),
        head.title,
        head.purpose,
        head.width_mm,
        head.height_mm,
        _edges(head.edge_margin_mm),
        head.dots_per_mm,
        head.minimum_x_height_mm,
        None if head.hole is None else read_table(head.hole, Hole, f"{file} hole"),
        MappingProxyType(columns),
        MappingProxyType(ordered),
        head.markets,
        head.leaves_out,
        head.print_rotation,
    )
    _check(layout)
    return layout


def _edges(margin: float | Edges) -> Edges:
    return margin if isinstance(margin, Edges) else Edges(margin, margin, margin, margin)


def _element(entry: Any, where: str) -> Element:
    said = entry.get("kind", "nothing") if isinstance(entry, dict) else "text"
    kind = _KINDS.get(str(said))
    if kind is None:
        raise LayoutError(f"{where} kind", f"one of {', '.join(_KINDS)}", said)
    return read_table(entry, kind, where)


def _check(layout: Layout) -> None:
    _check_stock(layout)
    for name, element in layout.elements.items():
        where = f"{layout.file} {name}"
        if isinstance(element, Text):
            _check_text(element, layout, where)
        if isinstance(element, Boxes):
            _check_pencil_boxes(element, where)
        if isinstance(element, Picture):
            _check_picture(element, where)
        if isinstance(element, Symbol) and element.matrix_module_mm and element.symbol != _MAY_BE_A_MATRIX:
            raise LayoutError(f"{where} matrix_module_mm", f"it beside symbol = {_MAY_BE_A_MATRIX} only", element.symbol)
    for name, column in layout.columns.items():
        where = f"{layout.file} columns.{name}"
        _check_sizes(column, where)
        if not layout.in_column(name):
            raise LayoutError(where, "a column with at least one element", "none")
    _check_left_out(layout)
    _check_boxes(layout)


def _check_stock(layout: Layout) -> None:
    for key, side in (("width_mm", layout.width_mm), ("height_mm", layout.height_mm)):
        if side <= 0:
            raise LayoutError(f"{layout.file} {key}", "a number of mm above 0", f"{side:g}")
    if not COARSEST <= layout.dots_per_mm <= FINEST:
        expected = f"the printer's dots per mm, {COARSEST} to {FINEST}"
        raise LayoutError(f"{layout.file} dots_per_mm", expected, f"{layout.dots_per_mm:g}", "203 dots per inch are 8 per mm.")


def _check_left_out(layout: Layout) -> None:
    for name in layout.leaves_out:
        if name in layout.elements:
            raise LayoutError(f"{layout.file} leaves_out", "elements that the layout has not", name)
    takers = [name for name, column in layout.columns.items() if column.takes_others]
    if len(takers) > 1:
        raise LayoutError(
            f"{layout.file} columns.{takers[1]} takes_others", "one column that takes the others", " and ".join(takers)
        )


def _check_pencil_boxes(element: Boxes, where: str) -> None:
    if min(element.across, element.down) < 1:
        raise LayoutError(f"{where} across", "at least one box across and down", f"{element.across} x {element.down}")
    for language, caption in element.caption.items():
        if caption.count("|") > (1 if element.divided_at else 0):
            raise LayoutError(f"{where} caption.{language}", "a head for each part of a box", caption)


def _check_picture(element: Picture, where: str) -> None:
    """A row of another length, or another character, would draw something nobody meant."""
    longest = len(max(element.rows, key=len, default=""))
    if not longest:
        raise LayoutError(f"{where} rows", "rows of # and ., one text each", "none")
    for number, row in enumerate(element.rows, 1):
        if len(row) != longest or set(row) - {"#", "."}:
            raise LayoutError(f"{where} rows", f"rows of {longest} characters, each # or .", f"row {number}, {row!r}")


def _check_text(element: Text, layout: Layout, where: str) -> None:
    if (element.box_mm is None) == (element.column is None):
        raise LayoutError(f"{where} box_mm", "either box_mm or column", "both" if element.column else "neither")
    if element.column is None:
        _check_sizes(element, where)
        return
    if element.column not in layout.columns:
        raise LayoutError(f"{where} column", f"one of {', '.join(layout.columns) or 'no columns'}", element.column)
    own = {"x_height_mm": element.x_height_mm, "cap_height_mm": element.cap_height_mm, "caption_cap_mm": element.caption_cap_mm}
    for key, value in own.items():
        if value is not None:
            raise LayoutError(f"{where} {key}", "the column's own height, so that its texts shrink together", str(value))


def _check_sizes(part: Text | Column, where: str) -> None:
    if (part.x_height_mm is None) == (part.cap_height_mm is None):
        got = "both" if part.x_height_mm else "neither"
        raise LayoutError(f"{where} x_height_mm", "either x_height_mm or cap_height_mm", got)


def _check_boxes(layout: Layout) -> None:
    boxes = {name: element.box_mm for name, element in layout.elements.items() if element.box_mm is not None}
    boxes |= {f"columns.{name}": column.box_mm for name, column in layout.columns.items()}
    placed: dict[str, Box] = {}
    for name, box in boxes.items():
        where = f"{layout.file} {name} box_mm"
        if not _is_inside(box, layout):
            raise LayoutError(where, f"a box on the stock of {_inner(layout)}", str(list(box)))
        if layout.hole is not None and _reaches(box, layout.hole):
            raise LayoutError(where, f"a box {layout.hole.radius_mm:g} mm or more from the middle of the hole", str(list(box)))
        for other, taken in placed.items():
            if _overlap(box, taken):
                raise LayoutError(where, f"a box that does not overlap {other} {list(taken)}", str(list(box)))
        placed[name] = box


def _inner(layout: Layout) -> str:
    edges = layout.edges
    sides = (edges.top, edges.right, edges.bottom, edges.left)
    margin = (
        f"{edges.top:g} mm" if len(set(sides)) == 1 else "{:g}, {:g}, {:g} and {:g} mm (top, right, bottom, left)".format(*sides)
    )
    return f"{layout.width_mm:g} x {layout.height_mm:g} mm with a margin of {margin}"


def _is_inside(box: Box, layout: Layout) -> bool:
    x, y, width, height = box
    edges = layout.edges
    right, bottom = layout.width_mm - edges.right + _TOUCH, layout.height_mm - edges.bottom + _TOUCH
    is_within = x >= edges.left - _TOUCH and y >= edges.top - _TOUCH and x + width <= right and y + height <= bottom
    return min(width, height) > 0 and is_within


def _overlap(one: Box, other: Box) -> bool:
    return all(one[i] + _TOUCH < other[i] + other[i + 2] and other[i] + _TOUCH < one[i] + one[i + 2] for i in (0, 1))


def _reaches(box: Box, hole: Hole) -> bool:
    """Tell whether any point of a box is nearer to the middle of the hole than its radius with its margin."""
    away = (max(box[i] - hole.centre_mm[i], 0.0, hole.centre_mm[i] - box[i] - box[i + 2]) for i in (0, 1))
    return math.hypot(*away) < hole.radius_mm - _TOUCH


def line_of(text: str, error: LayoutError) -> int | None:
    """Return the line of a layout's text that an error is about, counted from 1, or None where it names none.

    Args:
        text: the whole file.
        error: of ``parse_layout`` or of placing a content in it: its field is file, element and key.
    """
    said = _AT_LINE.search(error.got)
    if said:
        return int(said.group(1))
    _, _, place = error.field.partition(" ")
    part, _, key = place.partition(" ")
    lines = text.splitlines()
    heads = {f"[elements.{part}]", f"[{part}]"}
    begin = next((number for number, line in enumerate(lines) if line.split("#")[0].strip() in heads), None)
    if begin is None:
        key, begin, end = part, -1, len(lines)
    else:
        end = next((at for at in range(begin + 1, len(lines)) if lines[at].startswith("[")), len(lines))
    named = re.split(r"[.\[]", key)[0]
    wanted = re.compile(rf"\s*{re.escape(named)}\b") if named else None
    inside = range(begin + 1, end)
    found = next((at for at in inside if wanted is not None and wanted.match(lines[at])), begin)
    return found + 1 if found >= 0 else None
