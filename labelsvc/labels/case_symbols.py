"""The symbols of a shipping case: one GS1-128 where its data fits, else two, each within the standard's bounds and the label.

Source: GS1 General Specifications 5.4.4.3: at most 48 data characters and 165.10 mm, quiet zones included, in one symbol.
"""

from __future__ import annotations

from collections.abc import Sequence

from labelsvc.codes.gs1 import write_human_readable, write_scan
from labelsvc.codes.gs1_syntax import Element, table
from labelsvc.labels.layout import Symbol
from labelsvc.labels.marks import Grid
from labelsvc.labels.symbols import FNC1_START, encode

_WIDEST_MM = 165.1


def in_symbols(
    elements: Sequence[Element], element: Symbol, dots_per_mm: float, field: str
) -> tuple[tuple[tuple[str, str], ...], str]:
    """Return the scan data and the readable line of each symbol, and why there is not one of them, or nothing.

    Where two are not enough there are none: more than two are never printed, a 2D symbol takes their place.

    Args:
        elements: checked elements in the order they are to stand.
        element: the layout's place for one symbol: its box and its modules.
        dots_per_mm: of the printer.
        field: how an error names it.
    """
    why = _too_much(elements, element, dots_per_mm, field)
    if not why:
        return (_symbol(elements),), ""
    for cut in range(len(elements) - 1, 0, -1):
        parts = elements[:cut], elements[cut:]
        if not any(_too_much(part, element, dots_per_mm, field) for part in parts):
            return tuple(_symbol(part) for part in parts), f"Two symbols instead of one: {why}"
    return (), f"two GS1-128 symbols are not enough for {write_human_readable(elements)} ({why}): this case needs a 2D symbol"


def _symbol(elements: Sequence[Element]) -> tuple[str, str]:
    return write_scan(elements), write_human_readable(elements)


def _too_much(elements: Sequence[Element], element: Symbol, dots_per_mm: float, field: str) -> str:
    """Say what is too much for one symbol, or nothing."""
    scan, most = write_scan(elements), int(table().findings["too_long"]["limit"])
    characters = len(scan) - len(FNC1_START)
    if characters > most:
        return f"{characters} characters, of at most {most}"
    grid = Grid(dots_per_mm)
    pattern = encode("gs1_128", scan, field)
    modules = len(pattern.rows[0]) + sum(pattern.quiet)
    wide = grid.mm(modules * grid.at_least(element.module_mm.smallest))
    room = min(_WIDEST_MM, grid.mm(grid.box(element.box_mm)[2]))
    return f"{wide:.1f} mm wide, of at most {room:.1f} mm" if wide > room else ""
