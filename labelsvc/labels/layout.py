"""A label layout: one TOML file per label size, in millimetres from the top left corner, checked before anything is placed.

An element stands in a box of its own, or is stacked with others in a column by priority; the texts of a column shrink
together and an empty one takes no room. Keys are explained at the fields below; a key that is not there is an error.
"""

from __future__ import annotations

import hashlib
import math
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Any, Literal, TypeVar

import msgspec

from labelsvc.errors import LayoutError
from labelsvc.labels.marks import SymbolKind

Box = tuple[float, float, float, float]
"""x, y, width and height in mm."""
FaceName = Literal["regular", "bold"]  # their condensed siblings are the last step before a text does not fit
Align = Literal["left", "centre", "right"]
_T = TypeVar("_T")
_TOUCH = 1e-6  # mm; boxes that share a side do not overlap


class Sizes(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """The height a text begins with and the least it may shrink to, in mm."""

    largest: float
    smallest: float

    def __post_init__(self) -> None:
        if not 0 < self.smallest <= self.largest:
            raise ValueError(f"smallest above 0 and not above largest, got {self.smallest} and {self.largest}")


class Modules(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """The width of a symbol's module in mm: the least allowed, the one wanted, the most allowed."""

    smallest: float
    target: float
    largest: float

    def __post_init__(self) -> None:
        if not 0 < self.smallest <= self.target <= self.largest:
            raise ValueError(f"smallest, target and largest in rising order, got {self.smallest}, {self.target}, {self.largest}")


class Hole(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A punched hole: nothing is printed within its radius and margin."""

    centre_mm: tuple[float, float]
    diameter_mm: float
    margin_mm: float

    @property
    def radius_mm(self) -> float:
        """Radius of the keep-out, margin included."""
        return self.diameter_mm / 2 + self.margin_mm


class Column(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A box in which elements are stacked by priority; its texts shrink together.

    Exactly one of ``x_height_mm`` and ``cap_height_mm`` says how tall they are.
    """

    box_mm: Box
    gap_mm: float
    x_height_mm: Sizes | None = None
    cap_height_mm: Sizes | None = None


class Text(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """Words: ``text`` is one plain text, ``runs`` has emphasised stretches.

    ``caption`` is by language; it stands above the words in its own size (``caption_cap_mm``) or, without that, before them.
    ``one_line`` forbids breaking it; ``frame_mm`` draws a frame of that thickness.
    """

    kind: Literal["text", "runs"]
    priority: int
    box_mm: Box | None = None
    column: str | None = None
    face: FaceName = "regular"
    x_height_mm: Sizes | None = None
    cap_height_mm: Sizes | None = None
    align: Align = "left"
    vertical: Literal["top", "middle", "bottom"] = "top"
    one_line: bool = False
    caption: dict[str, str] = {}
    caption_cap_mm: float | None = None
    frame_mm: float = 0
    empty: Literal["skip", "error"] = "error"


class Symbol(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A code to scan; its box holds the quiet zones too.

    ``turned`` lets the bars lie across a tall box like the rungs of a ladder. ``bar_height_mm`` is the least height of the
    bars, ``wanted_bar_height_mm`` the one below which a note is kept.
    """

    kind: Literal["symbol"]
    priority: int
    symbol: SymbolKind
    box_mm: Box
    module_mm: Modules
    turned: bool = False
    bar_height_mm: float = 0
    wanted_bar_height_mm: float = 0
    align: Align = "centre"
    empty: Literal["skip", "error"] = "error"


class Boxes(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """Empty boxes for the pencil; ``divided_at`` is where a thin rule parts each one, as a share of its width.

    A caption stands over each box; one with a bar in it (``DATE|g``) is set over the two parts.
    """

    kind: Literal["boxes"]
    priority: int
    box_mm: Box
    across: int
    down: int
    rule_mm: float
    divided_at: float = 0
    caption: dict[str, str] = {}
    caption_cap_mm: float = 1.6


class Rule(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A black rule that fills its box."""

    kind: Literal["rule"]
    priority: int
    box_mm: Box


Element = Text | Symbol | Boxes | Rule
_KINDS: Mapping[str, type[Element]] = {"text": Text, "runs": Text, "symbol": Symbol, "boxes": Boxes, "rule": Rule}


class _File(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    title: str
    width_mm: float
    height_mm: float
    edge_margin_mm: float
    dots_per_mm: float
    minimum_x_height_mm: float
    elements: dict[str, dict[str, Any]]
    columns: dict[str, dict[str, Any]] = {}
    hole: Hole | None = None


@dataclass(frozen=True)
class Layout:
    """A checked label layout.

    Args:
        file: its name, for errors.
        digest: SHA-256 of the file's text, hexadecimal: an issued label keeps it.
        title: what the label is called.
        width_mm: of the stock.
        height_mm: of the stock.
        edge_margin_mm: nothing is printed nearer to an edge.
        dots_per_mm: of the printer the layout was made for; another may be given when it is drawn.
        minimum_x_height_mm: no words on it are smaller, unless the content asks for another minimum.
        hole: the punched hole, or None.
        columns: boxes in which elements are stacked.
        elements: by name, in order of priority.
    """

    file: str
    digest: str
    title: str
    width_mm: float
    height_mm: float
    edge_margin_mm: float
    dots_per_mm: float
    minimum_x_height_mm: float
    hole: Hole | None
    columns: Mapping[str, Column]
    elements: Mapping[str, Element]

    def symbols(self) -> Iterator[tuple[str, Symbol]]:
        """Yield name and element of each code to scan."""
        for name, element in self.elements.items():
            if isinstance(element, Symbol):
                yield name, element

    def in_column(self, column: str) -> dict[str, Text]:
        """Return the elements stacked in a column, in order of priority."""
        return {name: part for name, part in self.elements.items() if isinstance(part, Text) and part.column == column}


def read_layout(path: Path) -> Layout:
    """Read a layout file.

    Raises:
        LayoutError: names file, element and key.
    """
    return parse_layout(path.read_text(encoding="utf-8"), path.name)


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
    head = _read(raw, _File, file)
    columns = {name: _read(entry, Column, f"{file} columns.{name}") for name, entry in head.columns.items()}
    elements = {name: _element(entry, f"{file} {name}") for name, entry in head.elements.items()}
    ordered = dict(sorted(elements.items(), key=lambda item: item[1].priority))
    layout = Layout(
        file,
        hashlib.sha256(text.encode("utf-8")).hexdigest(),
        head.title,
        head.width_mm,
        head.height_mm,
        head.edge_margin_mm,
        head.dots_per_mm,
        head.minimum_x_height_mm,
        head.hole,
        MappingProxyType(columns),
        MappingProxyType(ordered),
    )
    _check(layout)
    return layout


def _element(entry: Mapping[str, Any], where: str) -> Element:
    kind = _KINDS.get(str(entry.get("kind")))
    if kind is None:
        raise LayoutError(f"{where} kind", f"one of {', '.join(_KINDS)}", str(entry.get("kind")))
    return _read(entry, kind, where)


def _read(entry: Any, shape: type[_T], where: str) -> _T:
    try:
        return msgspec.convert(entry, shape)
    except msgspec.ValidationError as error:
        said, _, place = str(error).partition(" - at ")
        key = place.strip("`").removeprefix("$").removeprefix(".")
        raise LayoutError(f"{where} {key}".strip(), f"the keys of a {shape.__name__.strip('_').lower()}", said) from error


def _check(layout: Layout) -> None:
    for name, element in layout.elements.items():
        where = f"{layout.file} {name}"
        if isinstance(element, Text):
            _check_text(element, layout, where)
        if isinstance(element, Boxes):
            _check_pencil_boxes(element, where)
    for name, column in layout.columns.items():
        where = f"{layout.file} columns.{name}"
        _check_sizes(column, where)
        if not layout.in_column(name):
            raise LayoutError(where, "a column with at least one element", "none")
    _check_boxes(layout)


def _check_pencil_boxes(element: Boxes, where: str) -> None:
    if min(element.across, element.down) < 1:
        raise LayoutError(f"{where} across", "at least one box across and down", f"{element.across} x {element.down}")
    for language, caption in element.caption.items():
        if caption.count("|") > (1 if element.divided_at else 0):
            raise LayoutError(f"{where} caption.{language}", "a head for each part of a box", caption)


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
    return f"{layout.width_mm:g} x {layout.height_mm:g} mm with a margin of {layout.edge_margin_mm:g} mm"


def _is_inside(box: Box, layout: Layout) -> bool:
    x, y, width, height = box
    margin = layout.edge_margin_mm - _TOUCH
    right, bottom = layout.width_mm - margin, layout.height_mm - margin
    return min(width, height) > 0 and x >= margin and y >= margin and x + width <= right and y + height <= bottom


def _overlap(one: Box, other: Box) -> bool:
    return all(one[i] + _TOUCH < other[i] + other[i + 2] and other[i] + _TOUCH < one[i] + one[i + 2] for i in (0, 1))


def _reaches(box: Box, hole: Hole) -> bool:
    """Tell whether any point of a box is nearer to the middle of the hole than its radius with its margin."""
    away = (max(box[i] - hole.centre_mm[i], 0.0, hole.centre_mm[i] - box[i] - box[i + 2]) for i in (0, 1))
    return math.hypot(*away) < hole.radius_mm - _TOUCH
