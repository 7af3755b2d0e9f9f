"""The picture of a chain on one page: from what was received, on the left, to who has it, on the right."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from reportlab.graphics.shapes import Drawing, Line, Rect, String
from reportlab.lib.colors import HexColor
from reportlab.pdfbase.pdfmetrics import stringWidth

_INK, _SOFT, _PAPER, _OWN = HexColor("#17120f"), HexColor("#574b42"), HexColor("#f1eadd"), HexColor("#ffe9a8")
_GAP, _PAD, _BETWEEN = 22.0, 3.0, 5.0  # points: between columns, within a box, between boxes
_MOST = 14  # boxes of a column; the rest is a number


@dataclass(frozen=True)
class Box:
    """One lot, printed lot or holder.

    Args:
        key: by which lines find it.
        title: in bold.
        lines: under it.
        column: 0 is the lot asked about, negative is before it.
    """

    key: str
    title: str
    lines: tuple[str, ...]
    column: int


@dataclass(frozen=True)
class Chain:
    """Boxes, and which goes into which."""

    boxes: Sequence[Box]
    lines: Sequence[tuple[str, str]]


def picture(chain: Chain, width: float, regular: str, bold: str) -> Drawing:
    """Return the drawing of a chain, as high as its fullest column.

    Args:
        chain: what is on it.
        width: in points.
        regular: the name of the typeface, as reportlab has it.
        bold: that of titles.
    """
    columns: dict[int, list[Box]] = defaultdict(list)
    for box in chain.boxes:
        columns[box.column].append(box)
    shown = {column: _cut(boxes, column) for column, boxes in columns.items()}
    each = (width - _GAP * (len(shown) - 1)) / max(len(shown), 1)
    size = max(5.5, min(8.0, each / 13))
    height = max(sum(_height(box, size) + _BETWEEN for box in boxes) for boxes in shown.values())
    drawing = Drawing(width, height)
    pen = _Pen(drawing, each, size, (bold, regular))
    places: dict[str, tuple[float, float, float]] = {}
    for place, column in enumerate(sorted(shown)):
        places |= pen.column(shown[column], place * (each + _GAP), height)
    for giver, receiver in dict.fromkeys(chain.lines):
        if giver in places and receiver in places:
            (left, _, y), (x, _, other) = places[giver], places[receiver]
            drawing.insert(0, Line(left + each, y, x, other, strokeColor=_SOFT, strokeWidth=0.6))
    return drawing


def _cut(boxes: Sequence[Box], column: int) -> list[Box]:
    rest = len(boxes) - _MOST
    return list(boxes) if rest <= 0 else [*boxes[:_MOST], Box(f"more {column}", f"and {rest} more", (), column)]


def _height(box: Box, size: float) -> float:
    return (1 + len(box.lines)) * size * 1.25 + 2 * _PAD


@dataclass(frozen=True)
class _Pen:
    """Draws boxes of one width and size; the first typeface is that of titles."""

    drawing: Drawing
    width: float
    size: float
    faces: tuple[str, str]

    def column(self, boxes: Sequence[Box], x: float, height: float) -> dict[str, tuple[float, float, float]]:
        """Draw one column in the middle of the height; return left, right and middle of each box by its key."""
        places = {}
        top = height - (height - sum(_height(box, self.size) + _BETWEEN for box in boxes)) / 2
        for box in boxes:
            self._box(box, x, top)
            tall = _height(box, self.size)
            places[box.key] = (x, x + self.width, top - tall / 2)
            top -= tall + _BETWEEN
        return places

    def _box(self, box: Box, x: float, top: float) -> None:
        tall, fill = _height(box, self.size), _OWN if box.column == 0 else _PAPER
        self.drawing.add(Rect(x, top - tall, self.width, tall, fillColor=fill, strokeColor=_INK, strokeWidth=0.6))
        for row, text in enumerate((box.title, *box.lines)):
            face = self.faces[1] if row else self.faces[0]
            y = top - _PAD - self.size - row * self.size * 1.25
            words = _fitting(text, face, self.size, self.width - 2 * _PAD)
            self.drawing.add(String(x + _PAD, y, words, fontName=face, fontSize=self.size, fillColor=_INK))


def _fitting(text: str, face: str, size: float, width: float) -> str:
    """A line of a box: what does not fit is cut with a sign that it is; the whole stands in the table below."""
    if stringWidth(text, face, size) <= width:
        return text
    while text and stringWidth(f"{text}…", face, size) > width:
        text = text[:-1]
    return f"{text}…"
