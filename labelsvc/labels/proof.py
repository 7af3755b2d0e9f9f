"""Proves a label: rasterises each page at the printer's own dots in one bit and lets an independent reader decode it.

What is compared is the symbology identifier and the bytes, never the reader's text, which is made up for people, and each
symbol must read at its own place. Whatever else reads must be letters that no scanner could take for bars. Ink in the hole
or in a quiet zone is counted on the raster, because a reader forgives what a scanner in a shop does not.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import pypdfium2
import pypdfium2.raw as pdfium

from labelsvc.errors import LayoutError
from labelsvc.labels.fonts import face
from labelsvc.labels.marks import Placed, Rect, TextMark
from labelsvc.labels.raster import Raster, opened, raster_of, upright
from labelsvc.labels.reading import Reading, readings, scannable
from labelsvc.labels.sheet import Page, Sheet, Spot, arrange

_FLAT = frozenset("xvwz")  # letters that end level with the x-height
_UPRIGHT = 270  # degrees clockwise that bring labels on their side upright
_OUTLINE = 0.005  # mm; an outline is told in thousandths of the em
_STRAY = "Letters that read as bars: change a word, or choose another layout."


@dataclass(frozen=True)
class PageProof:
    """What was measured on one page.

    Args:
        symbols: symbology identifier and bytes of each symbol, as the independent reader gave them.
        module_mm: width of a module by element.
        bar_height_mm: height of the bars or of the matrix by element.
        ink_in_hole: dots of ink in the keep-out of the hole; 0, or the proof fails.
        ink_in_quiet_zones: dots of ink in quiet zones; 0, or the proof fails.
        smallest_x_mm: height of the lowest x, v, w or z drawn, as the reader of the PDF measures its outline; None without any.
        printed_x_mm: the same measured in rows of dots on the raster; None without any, or at other dots than it was made for.
        words: stretches of text found again in the PDF.
        notes: what is allowed but less than wanted.
        left_aside: identifier and bytes of what the reader found in rows of letters, and not again a degree off level.
    """

    symbols: tuple[tuple[str, bytes], ...]
    module_mm: dict[str, float]
    bar_height_mm: dict[str, float]
    ink_in_hole: int
    ink_in_quiet_zones: int
    smallest_x_mm: float | None
    printed_x_mm: float | None
    words: int
    notes: tuple[str, ...]
    left_aside: tuple[tuple[str, bytes], ...] = ()


@dataclass(frozen=True)
class Proof:
    """What was measured on every page of a document, at so many dots a mm."""

    dots_per_mm: float
    pages: tuple[PageProof, ...]


def prove(
    pdf: bytes, expected: Sequence[Placed], dots_per_mm: float | None = None, *, sheet: Sheet | None = None, start: int = 1
) -> Proof:
    """Read every label back and compare it with what was placed.

    Args:
        pdf: the document.
        expected: the placed labels in order (``draw.lay_out``).
        dots_per_mm: of the printer; that of the placed labels if None.
        sheet: the sheet they stand on, or None for one a page.
        start: the first position on the first sheet.

    Returns:
        The figures that were measured.

    Raises:
        LayoutError: a symbol that does not decode to exactly its content, another that a scanner could read, ink in the hole
            or in a quiet zone, words that are missing, grey, or a wrong number of pages.
    """
    if not expected:
        raise LayoutError("expected", "at least one label", "none")
    scale = dots_per_mm or expected[0].grid.dots_per_mm
    wanted = list(arrange(expected, sheet, start))
    with opened(pdf) as document:
        if len(document) != len(wanted):
            raise LayoutError("pages", f"{len(wanted)} pages", f"{len(document)}")
        pages = [_prove_page(upright(document, number), page, scale, f"page {number + 1}") for number, page in enumerate(wanted)]
    return Proof(scale, tuple(label for page in pages for label in page))


def _prove_page(page: pypdfium2.PdfPage, wanted: Page, dots_per_mm: float, field: str) -> list[PageProof]:
    raster = raster_of(page, dots_per_mm)
    if any(spot.turned for spot, _ in wanted.labels):
        page.set_rotation(_UPRIGHT)  # so that words are read along their lines
    proofs = []
    for position, (spot, label) in enumerate(wanted.labels, 1):
        where = field if len(wanted.labels) == 1 else f"{field} label {position}"
        mine = raster if spot == Spot() and len(wanted.labels) == 1 else raster.cut(spot, label)
        words, smallest_x = _text_found(page, label, where)
        proofs.append(_prove_label(mine, label, dots_per_mm, where, words, smallest_x))
    return proofs


def _prove_label(
    raster: Raster, label: Placed, dots_per_mm: float, field: str, words: int, smallest_x: float | None
) -> PageProof:
    zoom = dots_per_mm / label.grid.dots_per_mm
    aside = _refuse_misread(raster, label, zoom, field)
    quiet = sum(raster.ink(_zoomed(rect, zoom)) for mark in label.symbols for rect in mark.clear)
    if quiet:
        raise LayoutError(f"{field} quiet zones", "no ink in them", f"{quiet} dots of ink")
    hole = _ink_in_hole(raster, label, zoom)
    if hole:
        raise LayoutError(f"{field} hole", "no ink around it", f"{hole} dots of ink")
    mm = label.grid.mm
    return PageProof(
        tuple(sorted((mark.pattern.symbology, mark.pattern.reads) for mark in label.symbols)),
        {mark.element: mm(mark.module) for mark in label.symbols},
        {mark.element: mm(min(mark.bars[2:])) for mark in label.symbols},
        hole,
        quiet,
        smallest_x,
        _printed_x_mm(raster, label, field) if zoom == 1 else None,
        words,
        label.notes,
        tuple(stray.said for stray in aside),
    )


def _refuse_misread(raster: Raster, label: Placed, zoom: float, field: str) -> list[Reading]:
    """Refuse a placed symbol that does not read exactly, and any other that a scanner could read; return the finds left aside."""
    strays = readings(raster)
    for mark in label.symbols:
        ink = _zoomed(mark.ink, zoom)
        here = [one for one in strays if one.meets(ink)]
        if {one.said for one in here} != {(mark.pattern.symbology, mark.pattern.reads)}:
            wanted = _said(mark.pattern.symbology, mark.pattern.reads)
            got = " and ".join(_said(*one.said) for one in here) or "nothing that reads there"
            raise LayoutError(f"{field} {mark.element}", f"{wanted} read back", got)
        strays = [one for one in strays if one not in here]
    if strays:
        _refuse_scannable(strays, raster, label.grid.dots_per_mm * zoom, field)
    return strays


def _refuse_scannable(strays: Sequence[Reading], raster: Raster, dots_per_mm: float, field: str) -> None:
    for stray in scannable(strays, raster):
        x, y, wide, tall = (dots / dots_per_mm for dots in stray.box)
        where = f"{x:.0f} to {x + wide:.0f} mm from the left, {y:.0f} to {y + tall:.0f} mm from the top"
        raise LayoutError(f"{field} symbols", "none but those of the layout", f"{_said(*stray.said)} at {where}", _STRAY)


def _said(symbology: str, data: bytes) -> str:
    return f"{data.decode('latin-1')} ({symbology})"


def _printed_x_mm(raster: Raster, label: Placed, field: str) -> float | None:
    """Measure the lowest x, v, w or z on the raster itself: rows of ink above its baseline, one letter of each size of type."""
    letters: dict[tuple[str, float], tuple[TextMark, int]] = {}
    for mark in label.texts:
        at = next((place for place, letter in enumerate(mark.text) if letter in _FLAT), None)
        if at is not None:
            letters.setdefault((mark.face, mark.em), (mark, at))
    if not letters:
        return None
    lowest = label.grid.mm(min(_rows_of_ink(raster, mark, at) for mark, at in letters.values()))
    if lowest < label.least_x_mm - _OUTLINE:
        raise LayoutError(f"{field} words", f"letters printed with an x of {label.least_x_mm:g} mm or more", f"{lowest:.3f} mm")
    return lowest


def _rows_of_ink(raster: Raster, mark: TextMark, at: int) -> int:
    """Return how many rows of dots one letter of a text covers, from the top of its ink down to the baseline."""
    font = face(mark.face)
    left = math.ceil(mark.x + font.width(mark.text[:at]) * mark.em)
    wide = math.floor(font.width(mark.text[at]) * mark.em)
    tall = math.ceil(font.x_height * mark.em) + 1
    rows = [raster.ink((left, mark.baseline - up, wide, 1)) > 0 for up in range(1, tall + 1)]
    return rows.index(False) if False in rows else len(rows)


def _zoomed(rect: Rect, zoom: float) -> Rect:
    """Return a rectangle on a raster of another pitch, drawn in by what rounding may move."""
    x, y, width, height = rect
    left, top = math.ceil(x * zoom - 1e-6), math.ceil(y * zoom - 1e-6)
    return left, top, math.floor((x + width) * zoom + 1e-6) - left, math.floor((y + height) * zoom + 1e-6) - top


def _ink_in_hole(raster: Raster, label: Placed, zoom: float) -> int:
    if label.hole is None:
        return 0
    x, y, radius = (length * zoom for length in label.hole)
    ink = 0
    for row in range(max(0, math.floor(y - radius)), min(raster.height, math.ceil(y + radius))):
        half = math.sqrt(max(0.0, radius**2 - (row + 0.5 - y) ** 2))
        left, right = math.ceil(x - half), math.floor(x + half)
        ink += raster.ink((left, row, right - left, 1)) if right > left else 0
    return ink


def _text_found(page: pypdfium2.PdfPage, label: Placed, field: str) -> tuple[int, float | None]:
    """Return how many stretches of text are in the PDF, and the height of its lowest x in mm."""
    text = page.get_textpage()
    try:
        smallest = _smallest_x_mm(text)
        if smallest is not None and smallest < label.least_x_mm - _OUTLINE:
            raise LayoutError(f"{field} words", f"letters whose x is {label.least_x_mm:g} mm or more", f"{smallest:.3f} mm")
        return _words_found(text, label, field), smallest
    finally:
        text.close()


def _smallest_x_mm(text: pypdfium2.PdfTextPage) -> float | None:
    heights = []
    for place in range(text.count_chars()):
        if chr(pdfium.FPDFText_GetUnicode(text, place)) in _FLAT:
            _, low, _, high = text.get_charbox(place)
            heights.append((high - low) * 25.4 / 72)
    return min(heights, default=None)


def _words_found(text: pypdfium2.PdfTextPage, label: Placed, field: str) -> int:
    """Look for every stretch of text, figures under bars too; spaces are left out, because a reader of PDF guesses them."""
    said = _closed_up(text.get_text_range())
    wanted = [(mark.element, mark.text) for mark in label.texts]
    wanted += [(mark.element, mark.pattern.data) for mark in label.symbols if mark.pattern.kind == "ean13"]
    for element, words in wanted:
        if _closed_up(words) not in said:
            raise LayoutError(f"{field} {element}", f"the words {words!r}", "a PDF without them")
    return len(wanted)


def _closed_up(text: str) -> str:
    return "".join(text.split())
