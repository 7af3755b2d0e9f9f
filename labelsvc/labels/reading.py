"""What an independent reader finds on a raster and where, and what of it the label must answer for.

A reader tries every row of dots and any kind of symbol, so now and then a row through the stems of letters is a number with
a right check digit to it. Such a find is one or two dots high across a whole line of words: a line half a degree off level,
as any scanner holds it, crosses other dots. What still reads on the label turned by a degree could be scanned, and counts.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import zxingcpp

from labelsvc.labels.marks import Rect
from labelsvc.labels.raster import Raster

_TILTS = (-1.0, 1.0)  # degrees; nobody holds a scanner or a pack more level than that


@dataclass(frozen=True)
class Reading:
    """One symbol as the reader gave it.

    Args:
        symbology: its identifier (ISO/IEC 15424).
        data: its bytes.
        box: the rectangle around it, in dots.
    """

    symbology: str
    data: bytes
    box: Rect

    @property
    def said(self) -> tuple[str, bytes]:
        """Identifier and bytes."""
        return self.symbology, self.data

    def meets(self, rect: Rect) -> bool:
        """Tell whether it lies over any of a rectangle."""
        (x, y, wide, tall), (left, top, across, down) = self.box, rect
        return left < x + wide and x < left + across and top < y + tall and y < top + down


def readings(raster: Raster) -> list[Reading]:
    """Return every symbol found on a raster as it is printed, of any kind and in any direction."""
    return _found(memoryview(raster.dots).cast("B", (raster.height, raster.width)))


def scannable(strays: Sequence[Reading], raster: Raster) -> list[Reading]:
    """Return those of some finds that still read on the raster turned by a degree, one way or the other."""
    from PIL import Image  # hardly a label in a thousand comes here, and every command would wait for it

    image = Image.frombytes("L", (raster.width, raster.height), raster.dots)
    turned = [image.rotate(tilt, Image.Resampling.BICUBIC, expand=True, fillcolor=255) for tilt in _TILTS]
    still = {found.said for one in turned for found in _found(one)}
    return [stray for stray in strays if stray.said in still]


def _found(image: object) -> list[Reading]:
    # As printed: shrunk to a third, modules of four dots become 1.3 and now and then a wrong number has a right check digit.
    symbols = zxingcpp.read_barcodes(image, try_downscale=False, try_invert=False)
    return [Reading(symbol.symbology_identifier, symbol.bytes, _box(symbol.position)) for symbol in symbols]


def _box(position: zxingcpp.Position) -> Rect:
    corners = (position.top_left, position.top_right, position.bottom_left, position.bottom_right)
    left, top = min(corner.x for corner in corners), min(corner.y for corner in corners)
    return left, top, max(corner.x for corner in corners) + 1 - left, max(corner.y for corner in corners) + 1 - top
