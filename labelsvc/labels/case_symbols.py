"""The symbols of a shipping case: one GS1-128 where its data fits, else two, else one GS1 QR code, within the label.

Source: GS1 General Specifications 5.4.4.3: at most 48 data characters and 165.10 mm, quiet zones included, in one GS1-128.
"""

from __future__ import annotations

from collections.abc import Sequence

from labelsvc.codes.gs1 import write_human_readable, write_scan
from labelsvc.codes.gs1_syntax import Element, table
from labelsvc.errors import DoesNotFitError, LayoutError
from labelsvc.labels.layout import Layout, Symbol
from labelsvc.labels.marks import Grid
from labelsvc.labels.sizing import size_symbol
from labelsvc.labels.symbols import FNC1_START, GS1_QR_START, encode

CODE, SECOND = "case_code", "case_code_second"  # the places of a layout; under each stands what it says, NAME_read
_WIDEST_MM = 165.1


def case_words(elements: Sequence[Element], layout: Layout, dots_per_mm: float) -> tuple[dict[str, str], str]:
    """Return scan data and readable line of each symbol by the layout's places, and why it is not one GS1-128, or nothing.

    Where nothing of the layout holds the elements there are no words.

    Args:
        elements: checked elements in the order they are to stand.
        layout: of a case label.
        dots_per_mm: of the printer.

    Raises:
        LayoutError: a layout without a place for the code of a case.
    """
    place = _place(layout)
    why = _too_much(elements, place, dots_per_mm)
    if not why:
        return _words([elements]), ""
    for cut in range(len(elements) - 1, 0, -1) if SECOND in layout.elements else ():
        parts = [elements[:cut], elements[cut:]]
        if not any(_too_much(part, place, dots_per_mm) for part in parts):
            return _words(parts), f"Two symbols instead of one: {why}"
    bars = "two GS1-128 symbols are" if SECOND in layout.elements else "one GS1-128 symbol is"
    why = f"{bars} not enough for {write_human_readable(elements)} ({why})"
    matrix = GS1_QR_START + write_scan(elements).removeprefix(FNC1_START)
    if _holds_matrix(place, matrix, dots_per_mm):
        return {CODE: matrix, f"{CODE}_read": write_human_readable(elements)}, (
            f"A GS1 QR code instead of bars: {why}. Ask the receiver whether their scanners read it"
        )
    return {}, f"{why}: this case needs a 2D symbol"


def _place(layout: Layout) -> Symbol:
    place = layout.elements.get(CODE)
    if not isinstance(place, Symbol):
        raise LayoutError(f"{layout.file} {CODE}", "a symbol by this name on the label of a case", "none")
    return place


def _words(parts: Sequence[Sequence[Element]]) -> dict[str, str]:
    words: dict[str, str] = {}
    for name, part in zip((CODE, SECOND), parts, strict=False):
        words |= {name: write_scan(part), f"{name}_read": write_human_readable(part)}
    return words


def _too_much(elements: Sequence[Element], place: Symbol, dots_per_mm: float) -> str:
    """Say what is too much for one GS1-128, or nothing."""
    scan, most = write_scan(elements), int(table().findings["too_long"]["limit"])
    characters = len(scan) - len(FNC1_START)
    if characters > most:
        return f"{characters} characters, of at most {most}"
    grid = Grid(dots_per_mm)
    pattern = encode("gs1_128", scan, CODE)
    modules = len(pattern.rows[0]) + sum(pattern.quiet)
    wide = grid.mm(modules * grid.at_least(place.module_mm.smallest))
    room = min(_WIDEST_MM, grid.mm(grid.box(place.box_mm)[2]))
    return f"{wide:.1f} mm wide, of at most {room:.1f} mm" if wide > room else ""


def _holds_matrix(place: Symbol, data: str, dots_per_mm: float) -> bool:
    if place.matrix_module_mm is None:
        return False
    try:
        size_symbol(CODE, place, encode("gs1_qr", data, CODE), Grid(dots_per_mm), CODE)
    except DoesNotFitError:
        return False
    return True
