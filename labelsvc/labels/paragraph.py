"""Finds the largest size at which paragraphs fit a box, and sets them there line by line.

Sizes are heights of x or of capitals in whole dots: at a height of 9.6 dots a printer that can only print 9 would fall
below the legal minimum, and with baselines on whole dots as well a whole height prints as it was meant.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache, lru_cache
from typing import Literal

from labelsvc.errors import DoesNotFitError
from labelsvc.labels.marks import Grid, TextMark
from labelsvc.labels.wrap import Faces, Word, breaks, in_lines, measured

Vertical = Literal["top", "middle", "bottom"]
_PITCH = 1.2  # ems from baseline to baseline: the typeface's own ascent and descent (hhea 935 + 265 of 1000)
_BODY_DESCENT = 0.22  # ems kept free under a paragraph of small text, for g and p, so that gaps between paragraphs look even


@cache
def steps() -> tuple[Faces, Faces]:
    """Return the faces in the order in which they are tried."""
    return Faces.named("regular", "bold"), Faces.named("condensed", "condensed_bold")


@dataclass(frozen=True)
class Scale:
    """The sizes allowed, in dots.

    Args:
        of: whether ``largest`` and ``smallest`` are heights of x or of capitals.
        largest: tried first.
        smallest: of the layout.
        least_x: no x may be lower.
        least_figure: no capital or figure may be lower.
    """

    of: Literal["x", "cap"]
    largest: int
    smallest: int
    least_x: int
    least_figure: int = 0

    def ratio(self, faces: Faces) -> float:
        """Return the height that is stepped through, in ems."""
        return faces.x_height if self.of == "x" else faces.cap_height

    def heights(self, faces: Faces) -> tuple[int, int]:
        """Return the smallest and the largest height allowed in these faces, in dots."""
        em = max(
            self.smallest / self.ratio(faces),
            self.least_x / faces.x_height,
            self.least_figure / min(faces.cap_height, faces.figure_height),
        )
        low = math.ceil(em * self.ratio(faces) - 1e-9)
        return low, max(low, self.largest)


@dataclass(frozen=True)
class Paragraph:
    """The words of one element.

    Args:
        element: its name.
        words: in order; one unbreakable word where it must stay on one line.
        align: left, centre or right.
    """

    element: str
    words: tuple[Word, ...]
    align: Literal["left", "centre", "right"] = "left"


@dataclass(frozen=True)
class Block:
    """A paragraph at a size: everything vertical in whole dots; ``begins`` are the numbers of the words that begin a line."""

    paragraph: Paragraph
    faces: Faces
    em: float
    begins: tuple[int, ...]
    ascent: int
    pitch: int
    descent: int

    @property
    def height(self) -> int:
        """Dots from the top of its first to the bottom of its last line."""
        return self.ascent + (len(self.begins) - 1) * self.pitch + self.descent

    def marks(self, x: int, y: int, width: int) -> Iterator[TextMark]:
        """Yield its text with the top left corner of its box at x, y."""
        slack = {"left": 0.0, "centre": 0.5, "right": 1.0}[self.paragraph.align]
        text = measured(self.paragraph.words, self.faces)
        for number, line in enumerate(in_lines(text, self.begins)):
            left, right = self.faces.overhang(line)
            free = width - (left + self.faces.width(line) + right) * self.em
            at = x + left * self.em + slack * free
            for run in line:
                face = self.faces.of(run)
                yield TextMark(self.paragraph.element, run.text, face.name, self.em, at, y + self.ascent + number * self.pitch)
                at += face.width(run.text) * self.em


def set_block(paragraph: Paragraph, faces: Faces, height: int, scale: Scale, width: int) -> Block | None:
    """Return a paragraph at a height in dots, or None where a word is wider than the box."""
    em = height / scale.ratio(faces)
    text = measured(paragraph.words, faces)
    begins = breaks(text, width / em - text.overhang)
    if begins is None:
        return None
    end = begins[1] if len(begins) > 1 else len(text.words)
    above = max(text.reach(0, end)[1], faces.cap_height)
    below = max(text.reach(begins[-1], len(text.words))[0], _BODY_DESCENT if scale.of == "x" else 0.0)
    pitch = math.ceil(em * _PITCH)
    return Block(paragraph, faces, em, tuple(begins), math.ceil(above * em - 1e-9), pitch, math.ceil(below * em - 1e-9))


@dataclass(frozen=True)
class Room:
    """The box that paragraphs are stacked in, in dots; ``field`` is how an error names the layout file."""

    width: int
    height: int
    gap: int
    grid: Grid
    field: str


@lru_cache(maxsize=128)  # the next label of a product says most things again
def stacked(
    paragraphs: tuple[Paragraph, ...], scale: Scale, room: Room, corner: tuple[int, int], vertical: Vertical = "top"
) -> tuple[TextMark, ...]:
    """Return paragraphs set one above the other at the largest common size.

    Args:
        paragraphs: in order.
        scale: the sizes allowed.
        room: their box.
        corner: its left and top in dots.
        vertical: where they stand in it when they take less than its height.

    Raises:
        DoesNotFitError: as of ``fit``.
    """
    blocks = fit(paragraphs, scale, room)
    used = sum(block.height + room.gap for block in blocks) - room.gap
    x, y = corner
    y += round({"top": 0.0, "middle": 0.5, "bottom": 1.0}[vertical] * (room.height - used))
    marks: list[TextMark] = []
    for block in blocks:
        marks += block.marks(x, y, room.width)
        y += block.height + room.gap
    return tuple(marks)


def fit(paragraphs: tuple[Paragraph, ...], scale: Scale, room: Room) -> list[Block]:
    """Return the paragraphs at the largest common size at which they fit, one above the other.

    Raises:
        DoesNotFitError: they do not fit at the smallest size in the condensed face; names the element and the mm missing.
    """
    for faces in steps():
        low, high = scale.heights(faces)
        best = _stacked(paragraphs, faces, low, scale, room)
        if best is None:
            continue
        while low < high:
            middle = (low + high + 1) // 2
            larger = _stacked(paragraphs, faces, middle, scale, room)
            if larger is None:
                high = middle - 1
            else:
                low, best = middle, larger
        return best
    raise _overflow(paragraphs, scale, room)


def _stacked(paragraphs: Sequence[Paragraph], faces: Faces, height: int, scale: Scale, room: Room) -> list[Block] | None:
    blocks = []
    used = -room.gap
    for paragraph in paragraphs:
        block = set_block(paragraph, faces, height, scale, room.width)
        if block is None:
            return None
        used += room.gap + block.height
        blocks.append(block)
    return blocks if used <= room.height else None


def _overflow(paragraphs: Sequence[Paragraph], scale: Scale, room: Room) -> DoesNotFitError:
    """Say which element does not fit at the smallest size: a word too wide, or the first one over the lower edge."""
    faces = steps()[-1]
    smallest = scale.heights(faces)[0]
    at = f"at the smallest height of {_of(scale)}, {room.grid.mm(smallest):.2f} mm"
    em = smallest / scale.ratio(faces)
    used, culprit = -room.gap, ""
    for paragraph in paragraphs:
        text = measured(paragraph.words, faces)
        widest = math.ceil((max(text.widths) + text.overhang) * em)
        if widest > room.width:
            over = room.grid.mm(widest - room.width)
            return _does_not_fit(paragraph.element, room, at, f"{room.grid.mm(widest):.1f} mm wide, {over:.1f} mm too wide")
        block = set_block(paragraph, faces, smallest, scale, room.width)
        used += room.gap + (block.height if block else 0)
        if used > room.height and not culprit:
            culprit = paragraph.element
    over = room.grid.mm(used - room.height)
    return _does_not_fit(culprit, room, at, f"{room.grid.mm(used):.1f} mm high, {over:.1f} mm too high")


def _of(scale: Scale) -> str:
    return "a small x" if scale.of == "x" else "capitals"


def _does_not_fit(element: str, room: Room, at: str, needs: str) -> DoesNotFitError:
    box = f"{room.grid.mm(room.width):.1f} x {room.grid.mm(room.height):.1f} mm"
    return DoesNotFitError(f"{room.field} {element}", f"text that fits {box} {at}", needs)
