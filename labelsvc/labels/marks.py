"""What comes of placing a label: text, filled rectangles and symbols, each at whole dots of the printer's grid.

x grows to the right and y downwards, both from the top left corner of the label. Modules of a symbol and rules are whole
dots, because a bar of 2.4 dots prints as 2 here and 3 there and no longer reads.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from labelsvc.errors import LayoutError

COARSEST, FINEST = 5, 100  # dots per mm: 150 dots per inch are 5.9, 2400 are 94.5; outside it is a slip of the unit
SymbolKind = Literal["qr", "gs1_qr", "code128", "gs1_128", "code128_or_gs1_128", "ean13"]
Rect = tuple[int, int, int, int]
"""x, y, width and height in dots."""


@dataclass(frozen=True)
class Grid:
    """The printer's dots.

    Args:
        dots_per_mm: thermal heads have exactly 8, 12 or 24; 300 and 600 dots per inch are 11.811 and 23.622.
    """

    dots_per_mm: float

    def __post_init__(self) -> None:
        if not COARSEST <= self.dots_per_mm <= FINEST:
            raise LayoutError("dots_per_mm", f"a printer of {COARSEST} to {FINEST} dots per mm", f"{self.dots_per_mm}")

    def dots(self, mm: float) -> int:
        """Return the whole number of dots nearest to a length in mm."""
        return round(mm * self.dots_per_mm)

    def at_least(self, mm: float) -> int:
        """Return the fewest whole dots that are not shorter than a length in mm."""
        return math.ceil(mm * self.dots_per_mm - 1e-9)

    def at_most(self, mm: float) -> int:
        """Return the most whole dots that are not longer than a length in mm."""
        return math.floor(mm * self.dots_per_mm + 1e-9)

    def mm(self, dots: float) -> float:
        """Return dots as mm."""
        return dots / self.dots_per_mm

    def box(self, box_mm: tuple[float, float, float, float]) -> Rect:
        """Return a box in mm (x, y, width, height) with its four sides on the grid, at least one dot wide and high."""
        x, y, width, height = box_mm
        left, top = self.dots(x), self.dots(y)
        return left, top, max(1, self.dots(x + width) - left), max(1, self.dots(y + height) - top)


@dataclass(frozen=True)
class Pattern:
    """The modules of one symbol, before it has a size.

    Args:
        kind: qr, gs1_qr, code128, gs1_128 or ean13.
        data: what was encoded, as the content gave it.
        rows: one text of ``1`` (dark) and ``0`` a row; a bar code has one row.
        quiet: modules that must stay free to the left and right; a matrix needs as many above and below.
        symbology: the identifier an independent reader must report (ISO/IEC 15424).
        reads: the bytes an independent reader must report.
    """

    kind: SymbolKind
    data: str
    rows: tuple[str, ...]
    quiet: tuple[int, int]
    symbology: str
    reads: bytes


@dataclass(frozen=True)
class TextMark:
    """A stretch of text in one face.

    Args:
        element: the layout's name of it.
        text: what is drawn.
        face: name of the typeface.
        em: type size in dots.
        x: left end in dots.
        baseline: in whole dots from the top.
    """

    element: str
    text: str
    face: str
    em: float
    x: float
    baseline: int


@dataclass(frozen=True)
class RectMark:
    """Filled rectangles: rules, frames, boxes for the pencil."""

    element: str
    rects: tuple[Rect, ...]


@dataclass(frozen=True)
class SymbolMark:
    """A symbol in whole dots.

    Args:
        element: the layout's name of it.
        pattern: what it says.
        module: dots per module.
        rects: its dark runs.
        bars: the rectangle around them, without the readable line of an ean13.
        ink: the rectangle around them all, guard bars of an ean13 included.
        clear: rectangles beside it that must stay without ink.
    """

    element: str
    pattern: Pattern
    module: int
    rects: tuple[Rect, ...]
    bars: Rect
    ink: Rect
    clear: tuple[Rect, ...]


@dataclass(frozen=True)
class Placed:
    """One label, ready to be drawn.

    Args:
        width_mm: of the stock.
        height_mm: of the stock.
        grid: the printer's dots everything stands on.
        texts: in reading order.
        rects: rules, frames and boxes.
        symbols: in reading order.
        hole: centre x, centre y and radius in dots that stay without ink, or None.
        notes: what is allowed but less than wanted, as sentences.
        least_x_mm: no lower-case x among its words is lower.
        rotation: degrees by which its page is turned clockwise for the printer.
    """

    width_mm: float
    height_mm: float
    grid: Grid
    texts: tuple[TextMark, ...]
    rects: tuple[RectMark, ...]
    symbols: tuple[SymbolMark, ...]
    hole: tuple[float, float, float] | None
    notes: tuple[str, ...]
    least_x_mm: float
    rotation: int = 0
