"""Pages in the printer's own dots, one bit a dot: what the proof measures, the preview shows and some printers are sent."""

from __future__ import annotations

import math
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import reduce

import pypdfium2

from labelsvc.errors import LayoutError
from labelsvc.labels.marks import Placed, Rect
from labelsvc.labels.sheet import Spot, extent, taken

_PDFIUM = threading.Lock()  # pdfium may be in one thread at a time, whatever document it reads
_SHY = 1e-3  # dots: pdfium rounds a page up, and 560.0000001 dots would become 561 and move one bar in a hundred


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
    with opened(pdf) as document:
        return [raster_of(upright(document, number), dots_per_mm) for number in range(len(document))]


def page_mm(pdf: bytes) -> tuple[float, float]:
    """Return width and height of the first page as it goes through the printer, in mm.

    Raises:
        LayoutError: not a PDF.
    """
    with opened(pdf) as document:
        width, height = document.get_page_size(0)
        return width / 72 * 25.4, height / 72 * 25.4


def printed(pdf: bytes, dots_per_mm: float) -> list[Raster]:
    """Return each page as ``rasters`` does, but turned as it goes through the printer."""
    with opened(pdf) as document:
        turns = [document[number].get_rotation() // 90 for number in range(len(document))]
    return [
        reduce(lambda turned, _: turned.turned(), range(turn), page)
        for page, turn in zip(rasters(pdf, dots_per_mm), turns, strict=True)
    ]


@contextmanager
def opened(pdf: bytes) -> Iterator[pypdfium2.PdfDocument]:
    """Lend a document, to one thread at a time.

    Raises:
        LayoutError: not a PDF.
    """
    with _PDFIUM:
        try:
            document = pypdfium2.PdfDocument(pdf)
        except pypdfium2.PdfiumError as error:
            raise LayoutError("pdf", "a PDF document", str(error)) from error
        try:
            yield document
        finally:
            document.close()


def upright(document: pypdfium2.PdfDocument, number: int) -> pypdfium2.PdfPage:
    """Return a page as it was drawn, however it is turned for the printer."""
    page = document[number]
    if page.get_rotation():
        page.set_rotation(0)
        page.close()
        page = document[number]  # a page keeps the size it was opened with
    return page


def raster_of(page: pypdfium2.PdfPage, dots_per_mm: float) -> Raster:
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
