"""A workbook of plain tables: text stays text whatever it begins with, so that no cell is ever taken for a formula or link."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from decimal import Decimal
from pathlib import Path
from typing import Any

_MOST_ROWS = 1_048_575  # of a sheet, its heading left out (the format's own limit)
_MOST_TEXT = 32_767  # characters of a cell (the format's own limit)

Sheet = tuple[str, Sequence[str], Iterable[Sequence[Any]]]


def write_workbook(file: Path, sheets: Iterable[Sheet]) -> None:
    """Write tables, one a sheet; one that is too long for a sheet goes on in the next.

    Args:
        file: becomes the workbook.
        sheets: name, headings and rows of each; whole numbers and decimals are numbers, all else is text. Each column can
            be sorted and filtered by a press on its heading.
    """
    import xlsxwriter

    book = xlsxwriter.Workbook(
        str(file), {"constant_memory": True, "strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False}
    )
    bold = book.add_format({"bold": True})
    for name, header, rows in sheets:
        sheet, line, part = _begun(book, name, header, bold), 0, 1
        for row in rows:
            if line == _MOST_ROWS:
                sheet.autofilter(0, 0, line, len(header) - 1)
                part, line = part + 1, 0
                sheet = _begun(book, f"{name} {part}", header, bold)
            line += 1
            for place, cell in enumerate(row):
                if isinstance(cell, int | Decimal):
                    sheet.write_number(line, place, cell)
                else:
                    sheet.write_string(line, place, str(cell if cell is not None else "")[:_MOST_TEXT])
        sheet.autofilter(0, 0, line, len(header) - 1)
    book.close()


def _begun(book: Any, name: str, header: Sequence[str], bold: Any) -> Any:
    sheet = book.add_worksheet(name)
    sheet.freeze_panes(1, 0)
    for place, words in enumerate(header):
        sheet.write_string(0, place, words, bold)
    sheet.set_column(0, len(header) - 1, 18)
    return sheet
