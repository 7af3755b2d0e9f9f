"""Proves a label: rasterises each page at the printer's own dots in one bit and lets an independent reader decode it.

What is compared is the symbology identifier and the bytes, never the reader's text, which is made up for people. Ink in
the hole or in a quiet zone is counted on the raster, because a reader forgives what a scanner in a shop does not.
"""

from __future__ import annotations

import math
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import reduce

import pypdfium2
import pypdfium2.raw as pdfium
import zxingcpp

from labelsvc.errors import LayoutError
from labelsvc.labels.fonts import face
from labelsvc.labels.marks import Placed, Rect, TextMark
from labelsvc.labels.sheet import Page, Sheet, Spot, arrange, extent, taken

_PDFIUM = threading.Lock()  # pdfium may be in one thread at a time, whatever document it reads
_FLAT = frozenset("xvwz")  # letters that end level with the x-height
_UPRIGHT = 270  # degrees clockwise that bring labels on their side upright
_OUTLINE = 0.005  # mm; an outline is told in thousandths of the em
_SHY = 1e-3  # dots: pdfium rounds a page up, and 560.0000001 dots would become 561 and move one bar in a hundred


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


@dataclass(frozen=True)
class Proof:
    """What was measured on every page of a document, at so many dots a mm."""

    dots_per_mm: float
    pages: tuple[PageProof, ...]


@dataclass(frozen=True)
class Raster:
    """One page in the printer's dots, a byte a dot: 0 is ink, 255 is paper.

    Args:
        width: in dots.
        height: in dots.
        dots: row by row from the top.
    """

    width: int
    height: int
    dots: bytes

    def ink(self, rect: Rect) -> int:
        """Return how many dots of a rectangle have ink."""
        x, y, width, height = rect
        return sum(self.dots[row * self.width + x : row * self.width + x + width].count(0) for row in range(y, y + height))

    def turned(self) -> Raster:
        """Return it turned by a quarter, clockwise."""
        columns = [self.dots[column :: self.width][::-1] for column in range(self.width)]
        return Raster(self.height, self.width, b"".join(columns))

    def cut(self, spot: Spot, label: Placed) -> Raster:
        """Return one label of a sheet, upright."""
        x, y, across, down = taken(spot, label)
        width, height = extent(label)
        if not spot.turned:
            starts = [row * self.width + x for row in range(y, y + down)]
            return Raster(width, height, b"".join(self.dots[start : start + across] for start in starts))
        end = (y + down) * self.width
        columns = [x + across - 1 - row for row in range(height)]
        return Raster(width, height, b"".join(self.dots[y * self.width + column : end : self.width] for column in columns))


def rasters(pdf: bytes, dots_per_mm: float) -> list[Raster]:
    """Return each page as the printer would print it, one bit a dot, without smoothing.

    Args:
        pdf: the document.
        dots_per_mm: of the printer.

    Raises:
        LayoutError: not a PDF, or grey ink.
    """
    with _PDFIUM, _opened(pdf) as document:
        return [_raster(_upright(document, number), dots_per_mm) for number in range(len(document))]


def page_mm(pdf: bytes) -> tuple[float, float]:
    """Return width and height of the first page as it goes through the printer, in mm.

    Raises:
        LayoutError: not a PDF.
    """
    with _PDFIUM, _opened(pdf) as document:
        width, height = document.get_page_size(0)
        return width / 72 * 25.4, height / 72 * 25.4


def printed(pdf: bytes, dots_per_mm: float) -> list[Raster]:
    """Return each page as ``rasters`` does, but turned as it goes through the printer."""
    with _PDFIUM, _opened(pdf) as document:
        turns = [document[number].get_rotation() // 90 for number in range(len(document))]
    return [
        reduce(lambda turned, _: turned.turned(), range(turn), page)
        for page, turn in zip(rasters(pdf, dots_per_mm), turns, strict=True)
    ]


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
        LayoutError: a symbol that does not decode to exactly its content, one too many, ink in the hole or in a quiet
            zone, words that are missing, grey, or a wrong number of pages.
    """
    if not expected:
        raise LayoutError("expected", "at least one label", "none")
    scale = dots_per_mm or expected[0].grid.dots_per_mm
    wanted = list(arrange(expected, sheet, start))
    with _PDFIUM, _opened(pdf) as document:
        if len(document) != len(wanted):
            raise LayoutError("pages", f"{len(wanted)} pages", f"{len(document)}")
        pages = [_prove_page(_upright(document, number), page, scale, f"page {number + 1}") for number, page in enumerate(wanted)]
    return Proof(scale, tuple(label for page in pages for label in page))


@contextmanager
def _opened(pdf: bytes) -> Iterator[pypdfium2.PdfDocument]:
    try:
        document = pypdfium2.PdfDocument(pdf)
    except pypdfium2.PdfiumError as error:
        raise LayoutError("pdf", "a PDF document", str(error)) from error
    try:
        yield document
    finally:
        document.close()


def _upright(document: pypdfium2.PdfDocument, number: int) -> pypdfium2.PdfPage:
    """Return a page as it was drawn, however it is turned for the printer."""
    page = document[number]
    if page.get_rotation():
        page.set_rotation(0)
        page.close()
        page = document[number]  # a page keeps the size it was opened with
    return page


def _raster(page: pypdfium2.PdfPage, dots_per_mm: float) -> Raster:
    """Rasterise a page from its top left corner; a last dot that the page only half fills is made whole.

    pdfium stretches a page to whole dots: at 300 dots per inch 60 mm are 708.66, and bars would leave their grid.
    """
    width, height = page.get_size()
    scale = dots_per_mm * 25.4 / 72
    dots = [math.ceil(points * scale - 0.01) for points in (width, height)]
    page.set_mediabox(0, height - dots[1] / scale, dots[0] / scale, height)
    fitted = scale * (1 - _SHY / min(dots))
    bitmap = page.render(scale=fitted, grayscale=True, no_smoothpath=True, no_smoothtext=True, no_smoothimage=True)
    packed = bytes(bitmap.buffer)
    rows = [packed[row * bitmap.stride : row * bitmap.stride + bitmap.width] for row in range(bitmap.height)]
    raster = Raster(bitmap.width, bitmap.height, b"".join(rows))
    bitmap.close()
    if raster.dots.translate(None, b"\x00\xff"):
        raise LayoutError("pdf", "black ink only, because a printer of one bit scatters grey into dots", "grey ink")
    return raster


def _prove_page(page: pypdfium2.PdfPage, wanted: Page, dots_per_mm: float, field: str) -> list[PageProof]:
    raster = _raster(page, dots_per_mm)
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
    found = _decoded(raster)
    wanted = sorted((mark.pattern.symbology, mark.pattern.reads) for mark in label.symbols)
    if found != wanted:
        raise LayoutError(f"{field} symbols", f"{wanted} read back", f"{found}")
    quiet = sum(raster.ink(_zoomed(rect, zoom)) for mark in label.symbols for rect in mark.clear)
    if quiet:
        raise LayoutError(f"{field} quiet zones", "no ink in them", f"{quiet} dots of ink")
    hole = _ink_in_hole(raster, label, zoom)
    if hole:
        raise LayoutError(f"{field} hole", "no ink around it", f"{hole} dots of ink")
    mm = label.grid.mm
    return PageProof(
        tuple(found),
        {mark.element: mm(mark.module) for mark in label.symbols},
        {mark.element: mm(min(mark.bars[2:])) for mark in label.symbols},
        hole,
        quiet,
        smallest_x,
        _printed_x_mm(raster, label, field) if zoom == 1 else None,
        words,
        label.notes,
    )


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


def _decoded(raster: Raster) -> list[tuple[str, bytes]]:
    image = memoryview(raster.dots).cast("B", (raster.height, raster.width))
    # As printed: shrunk to a third, modules of four dots become 1.3 and now and then a wrong number has a right check digit.
    symbols = zxingcpp.read_barcodes(image, try_downscale=False, try_invert=False)
    return sorted((symbol.symbology_identifier, symbol.bytes) for symbol in symbols)


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
