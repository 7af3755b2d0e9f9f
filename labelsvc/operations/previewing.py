"""Looking at layouts: the list of what is at hand, and one file drawn with a sample content before anything is printed."""

from __future__ import annotations

import re
import struct
import zlib
from dataclasses import dataclass
from typing import Any

from labelsvc.errors import InputError, LayoutError, NotFoundError
from labelsvc.labels.draw import draw, lay_out
from labelsvc.labels.layout_file import line_of, parse_layout
from labelsvc.labels.layout_keys import text_in
from labelsvc.labels.proof import prove
from labelsvc.labels.raster import Raster, rasters
from labelsvc.labels.samples import Which, sample_content
from labelsvc.labels.shelf import Shelf

_NAME = re.compile(r"[a-z0-9_]{1,60}", re.ASCII)


@dataclass(frozen=True)
class Preview:
    """A layout as it looks, or what is wrong with it.

    Args:
        png: the picture; empty where there is a fault.
        fault: what is wrong, or None.
        line: of the file, counted from 1, or None.
        notes: what is allowed but less than wanted.
        smallest_x_mm: height of the lowest x on it, or None without one.
    """

    png: bytes
    fault: LayoutError | None
    line: int | None
    notes: tuple[str, ...]
    smallest_x_mm: float | None


def shelf_said(shelf: Shelf) -> dict[str, list[dict[str, Any]]]:
    """Return the layouts and sheets at hand as JSON: name, title, size, whether it is a person's own, what is wrong with it."""
    return {
        "layouts": [_layout_said(shelf, name) for name in shelf.names()],
        "sheets": [_sheet_said(shelf, name) for name in shelf.sheets()],
    }


def _sheet_said(shelf: Shelf, name: str) -> dict[str, Any]:
    try:
        sheet = shelf.sheet(name)
    except LayoutError as error:
        return {"name": name, "title": name, "positions": 0, "fault": error.message}
    return {"name": name, "title": sheet.title, "positions": sheet.positions, "fault": None}


def _layout_said(shelf: Shelf, name: str) -> dict[str, Any]:
    is_own = shelf.own is not None and shelf.file(name).parent == shelf.own
    try:
        layout = shelf.layout(name)
    except LayoutError as error:
        return {"name": name, "title": name, "purpose": "", "size": "", "own": is_own, "fault": error.message, "sheets": []}
    return {
        "name": name,
        "title": layout.title,
        "purpose": layout.purpose,
        "size": f"{layout.width_mm:g} x {layout.height_mm:g} mm",
        "own": is_own,
        "fault": None,
        "sheets": [sheet.name for sheet in shelf.sheets_for(layout)],
    }


def preview(text: str, file: str, shelf: Shelf, *, which: Which = "sample", language: str = "en") -> Preview:
    """Return how the text of a layout file looks; nothing is kept.

    Args:
        text: the whole file, as a person edits it.
        file: its name, for errors.
        shelf: the layouts at hand; the samples lie beside the shipped ones.
        which: an everyday ``sample``, or the ``worst`` there is.
        language: of the captions.
    """
    try:
        layout = parse_layout(text, file)
        placed = lay_out(layout, [sample_content(layout, shelf.shipped, which)], language=language)
        pdf = draw(placed, title=layout.title, language=language)
        (page,) = prove(pdf, placed).pages
    except LayoutError as error:
        return Preview(b"", error, line_of(text, error), (), None)
    return Preview(png(rasters(pdf, layout.dots_per_mm)[0]), None, None, page.notes, page.smallest_x_mm)


def keep_own(shelf: Shelf, name: str, text: str, *, changed_from: str) -> None:
    """Keep a person's own layout in their folder.

    Args:
        shelf: the layouts at hand.
        name: small letters, digits and underscores.
        text: the whole file; it may still have a fault, its page says which.
        changed_from: the name of the layout that was changed: no other one of the own folder is written over.

    Raises:
        InputError: a name that is none or taken, or no folder for own layouts.
    """
    if not _NAME.fullmatch(name):
        raise InputError("name", "small letters, digits and underscores, such as my_tag_60x120", name or "nothing")
    if shelf.own is None:
        raise InputError("name", "a folder for own layouts", "none", "Start the service with LABELSVC_LAYOUTS=FOLDER.")
    file = shelf.own / f"{name}.toml"
    if name != changed_from and file.exists():
        raise InputError("name", "a name that is free, or that of the layout on this page", name, "Open that one to change it.")
    shelf.own.mkdir(parents=True, exist_ok=True)
    file.write_text(text.replace("\r\n", "\n"), encoding="utf-8")


def text_of(shelf: Shelf, name: str) -> str:
    """Return the text of a layout file.

    Raises:
        NotFoundError: no layout of that name.
    """
    if name not in shelf.names():
        raise NotFoundError("layout", f"one of {', '.join(shelf.names())}", name)
    return text_in(shelf.file(name))


def png(raster: Raster) -> bytes:
    """Return a raster as a PNG of one bit a dot (PNG specification, third edition: colour type 0, bit depth 1, filter 0)."""
    ones = raster.dots.translate(bytes([0] + [1] * 255))
    wide = -(-raster.width // 8)
    rows = []
    for row in range(raster.height):
        dots = ones[row * raster.width : (row + 1) * raster.width].ljust(wide * 8, b"\x01")
        rows.append(b"\0" + int(dots.translate(_AS_TEXT), 2).to_bytes(wide, "big"))
    head = struct.pack(">LLBBBBB", raster.width, raster.height, 1, 0, 0, 0, 0)
    parts = ((b"IHDR", head), (b"IDAT", zlib.compress(b"".join(rows), 9)), (b"IEND", b""))
    return b"\x89PNG\r\n\x1a\n" + b"".join(_chunk(kind, data) for kind, data in parts)


_AS_TEXT = bytes([48, 49]) + bytes(range(2, 256))


def _chunk(kind: bytes, data: bytes) -> bytes:
    return struct.pack(">L", len(data)) + kind + data + struct.pack(">L", zlib.crc32(kind + data))
