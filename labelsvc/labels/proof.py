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

import pypdfium2
import pypdfium2.raw as pdfium
import zxingcpp

from labelsvc.errors import LayoutError
from labelsvc.labels.marks import Placed, Rect

_PDFIUM = threading.Lock()  # pdfium may be in one thread at a time, whatever document it reads
_FLAT = frozenset("xvwz")  # letters that end level with the x-height
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
        words: stretches of text found again in the PDF.
        notes: what is allowed but less than wanted.
    """

    symbols: tuple[tuple[str, bytes], ...]
    module_mm: dict[str, float]
    bar_height_mm: dict[str, float]
    ink_in_hole: int
    ink_in_quiet_zones: int
    smallest_x_mm: float | None
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


def rasters(pdf: bytes, dots_per_mm: float) -> list[Raster]:
    """Return each page as the printer would print it, one bit a dot, without smoothing.

    Args:
        pdf: the document.
        dots_per_mm: of the printer.

    Raises:
        LayoutError: not a PDF, or grey ink.
    """
    with _PDFIUM, _opened(pdf) as document:
        return [_raster(page, dots_per_mm) for page in document]


def prove(pdf: bytes, expected: Sequence[Placed], dots_per_mm: float | None = None) -> Proof:
    """Read every page back and compare it with what was placed.

    Args:
        pdf: the document.
        expected: the placed labels, one a page (``draw.lay_out``).
        dots_per_mm: of the printer; that of the placed labels if None.

    Returns:
        The figures that were measured.

    Raises:
        LayoutError: a symbol that does not decode to exactly its content, one too many, ink in the hole or in a quiet
            zone, words that are missing, grey, or a wrong number of pages.
    """
    if not expected:
        raise LayoutError("expected", "at least one label", "none")
    scale = dots_per_mm or expected[0].grid.dots_per_mm
    with _PDFIUM, _opened(pdf) as document:
        if len(document) != len(expected):
            raise LayoutError("pages", f"{len(expected)} pages", f"{len(document)}")
        pages = tuple(_prove_page(document[number], label, scale, f"page {number + 1}") for number, label in enumerate(expected))
    return Proof(scale, pages)


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


def _prove_page(page: pypdfium2.PdfPage, label: Placed, dots_per_mm: float, field: str) -> PageProof:
    raster = _raster(page, dots_per_mm)
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
    words, smallest_x = _text_found(page, label, field)
    mm = label.grid.mm
    return PageProof(
        tuple(found),
        {mark.element: mm(mark.module) for mark in label.symbols},
        {mark.element: mm(min(mark.bars[2:])) for mark in label.symbols},
        hole,
        quiet,
        smallest_x,
        words,
        label.notes,
    )


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
