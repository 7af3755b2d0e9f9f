"""Pages as PWG Raster, for printers that take no PDF (PWG 5102.4-2012): one bit a dot, black on white, rows packed.

A document is the word ``RaS2`` and for each page a header of 1796 bytes and its rows. A row is one byte for how often it is
repeated, then runs: 0 to 127 repeats the next byte one more time than it says, 129 to 255 takes 257 minus it bytes as they are.
"""

from __future__ import annotations

import struct
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

SYNC = b"RaS2"
HEADER = 1796  # bytes, PWG 5102.4 table 1
BLACK = 3  # colour space: 0 white, 1 black
_AS_TEXT = bytes([49] + [48] * 255)  # ink, 0, is a one


@dataclass(frozen=True)
class Dots:
    """One page in the printer's dots, a byte a dot: 0 is ink.

    Args:
        width: in dots.
        height: in dots.
        dots: row by row from the top.
    """

    width: int
    height: int
    dots: bytes


def pwg_raster(pages: Sequence[Dots], resolution: int, size: tuple[int, int]) -> bytes:
    """Return a document of pages.

    Args:
        pages: in order.
        resolution: dots per inch, the same both ways.
        size: width and height in hundredths of a millimetre.
    """
    return SYNC + b"".join(_page(page, resolution, size, len(pages)) for page in pages)


def _page(page: Dots, resolution: int, size: tuple[int, int], count: int) -> bytes:
    wide = -(-page.width // 8)
    points = [round(one * 72 / 2540) for one in size]
    numbers = {
        276: resolution, 280: resolution, 340: 1, 352: points[0], 356: points[1], 372: page.width, 376: page.height,
        384: 1, 388: 1, 392: wide, 400: BLACK, 420: 1, 452: count, 456: 1, 460: 1,
    }  # fmt: skip
    head = bytearray(HEADER)
    head[0:9] = b"PwgRaster"
    for place, number in numbers.items():
        struct.pack_into(">I", head, place, number)
    return bytes(head) + _rows(page, wide)


def _rows(page: Dots, wide: int) -> bytes:
    """Return the rows of a page, equal neighbours written once."""
    rows = (_packed(page.dots[start : start + page.width], wide) for start in range(0, page.width * page.height, page.width))
    written = []
    for row, same in groupby(rows):
        times, runs = sum(1 for _ in same), _runs(row)
        written += [bytes([min(times - done, 256) - 1]) + runs for done in range(0, times, 256)]
    return b"".join(written)


def _packed(dots: bytes, wide: int) -> bytes:
    return int(dots.translate(_AS_TEXT).ljust(wide * 8, b"0"), 2).to_bytes(wide, "big")


def _runs(row: bytes) -> bytes:
    """Return a row as runs of equal bytes."""
    written = bytearray()
    for byte, same in groupby(row):
        times = sum(1 for _ in same)
        for done in range(0, times, 128):
            written += bytes([min(times - done, 128) - 1, byte])
    return bytes(written)
