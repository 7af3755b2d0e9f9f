"""Reads a printed PDF as an outsider: one bit a dot at the printer's pitch, an independent reader, and the PDF's own text."""

from pathlib import Path

import pypdfium2
import zxingcpp

_ONE_BIT = bytes(0 if value < 128 else 255 for value in range(256))


def symbols(file: Path, dots_per_mm: int) -> list[dict[str, str]]:
    """Return for each page what its symbols say, by kind of symbol."""
    document = pypdfium2.PdfDocument(file)
    try:
        return [_symbols_on(page, dots_per_mm) for page in document]
    finally:
        document.close()


def _symbols_on(page: pypdfium2.PdfPage, dots_per_mm: int) -> dict[str, str]:
    bitmap = page.render(scale=dots_per_mm * 25.4 / 72, grayscale=True)
    packed, width, height = bytes(bitmap.buffer), bitmap.width, bitmap.height
    rows = b"".join(packed[row * bitmap.stride : row * bitmap.stride + width] for row in range(height))
    found = zxingcpp.read_barcodes(memoryview(rows.translate(_ONE_BIT)).cast("B", (height, width)))
    assert len({symbol.format for symbol in found}) == len(found)
    return {str(symbol.format): symbol.bytes.decode("ascii") for symbol in found}


def words(file: Path) -> list[str]:
    """Return the text of each page without spaces, which a reader of PDF only guesses."""
    document = pypdfium2.PdfDocument(file)
    try:
        return [closed_up(page.get_textpage().get_text_range()) for page in document]
    finally:
        document.close()


def closed_up(text: str) -> str:
    """Return text without spaces of any kind."""
    return "".join(text.split())
