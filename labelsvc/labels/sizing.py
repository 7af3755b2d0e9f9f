"""Gives a symbol its size: modules of whole dots inside the allowed range, quiet zones inside the box, never squeezed."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import lru_cache

from labelsvc.errors import DoesNotFitError, LayoutError
from labelsvc.labels.layout import Symbol
from labelsvc.labels.marks import Grid, Pattern, Rect, SymbolMark

EAN_GUARDS = frozenset((0, 1, 2, 45, 46, 47, 48, 49, 92, 93, 94))  # modules of the guard bars, ISO/IEC 15420
EAN_GUARD_DROP = 5  # modules by which guard bars reach lower, into the readable line
EAN_LINE = 10  # modules kept under the bars: a gap of 1 and figures of 8.3 (2.75 mm at 0.33 mm)


@lru_cache(maxsize=32)  # the bar code of a product is the same on all its packs
def size_symbol(name: str, element: Symbol, pattern: Pattern, grid: Grid, field: str) -> SymbolMark:
    """Return a symbol in its box.

    Args:
        name: the element's name.
        element: box, range of the module, turned or not.
        pattern: its modules.
        grid: the printer's dots.
        field: how an error names it.

    Raises:
        LayoutError: no whole number of dots lies in the range.
        DoesNotFitError: the symbol with its quiet zones does not fit the box.
    """
    box = _turn(grid.box(element.box_mm)) if element.turned else grid.box(element.box_mm)
    module = _module(element, pattern, grid, box, field)
    is_matrix = len(pattern.rows) > 1
    width = module * len(pattern.rows[0])
    quiet_left, quiet_right = (module * quiet for quiet in pattern.quiet)
    slack = box[2] - width - quiet_left - quiet_right
    x = box[0] + quiet_left + round(slack * {"left": 0.0, "centre": 0.5, "right": 1.0}[element.align])
    if is_matrix:
        height = module * len(pattern.rows)
        y = box[1] + (box[3] - height) // 2
    else:
        height = box[3] - (EAN_LINE * module if pattern.kind == "ean13" else 0)
        y = box[1]
        if height < grid.at_least(element.bar_height_mm):
            raise DoesNotFitError(field, f"bars at least {element.bar_height_mm:g} mm high", f"room for {grid.mm(height):.1f} mm")
    bars = (x, y, width, height)
    rects: Sequence[Rect] = list(_dark(pattern, module, bars))
    clear: Sequence[Rect] = _clear(bars, quiet_left, quiet_right, is_matrix)
    ink = (x, y, width, height + (EAN_GUARD_DROP * module if pattern.kind == "ean13" else 0))
    if element.turned:
        rects, clear, bars, ink = [_turn(rect) for rect in rects], [_turn(rect) for rect in clear], _turn(bars), _turn(ink)
    return SymbolMark(name, pattern, module, tuple(rects), bars, ink, tuple(clear))


def _module(element: Symbol, pattern: Pattern, grid: Grid, box: Rect, field: str) -> int:
    """Return the dots per module: nearest to the target, inside the range, inside the box."""
    is_matrix = len(pattern.rows) > 1
    sizes = (element.matrix_module_mm if is_matrix else None) or element.module_mm
    least, most = grid.at_least(sizes.smallest), grid.at_most(sizes.largest)
    if least > most:
        raise LayoutError(
            field, f"a whole number of dots from {sizes.smallest:g} to {sizes.largest:g} mm", f"{grid.mm(1):g} mm a dot"
        )
    across = len(pattern.rows[0]) + sum(pattern.quiet)
    room = box[2]
    if is_matrix:
        room = min(box[2], box[3])
    wanted = min(max(grid.dots(sizes.target), least), most)
    if across * least > room:
        short = grid.mm(across * least - room)
        needs = f"{grid.mm(across * least):.1f} mm at {grid.mm(least):.3f} mm a module, {short:.1f} mm too wide"
        raise DoesNotFitError(field, f"a symbol with its quiet zones in {grid.mm(room):.1f} mm", needs)
    return min(wanted, room // across)


def _dark(pattern: Pattern, module: int, bars: Rect) -> Iterator[Rect]:
    """Yield the dark runs: of a matrix row by row, of a bar code once, where guard bars of an ean13 reach lower."""
    x, y, _, height = bars
    step = module if len(pattern.rows) > 1 else height
    for number, row in enumerate(pattern.rows):
        for start, length in _runs(row):
            is_guard = pattern.kind == "ean13" and start in EAN_GUARDS
            drop = EAN_GUARD_DROP * module if is_guard else 0
            yield x + start * module, y + number * step, length * module, step + drop


def _runs(row: str) -> Iterator[tuple[int, int]]:
    """Yield start and length of each run of dark modules."""
    start = row.find("1")
    while start >= 0:
        end = row.find("0", start)
        end = len(row) if end < 0 else end
        yield start, end - start
        start = row.find("1", end)


def _clear(bars: Rect, left: int, right: int, is_matrix: bool) -> list[Rect]:
    x, y, width, height = bars
    beside = [(x - left, y, left, height), (x + width, y, right, height)]
    if is_matrix:
        whole = left + width + right
        beside += [(x - left, y - left, whole, left), (x - left, y + height, whole, left)]
    return beside


def _turn(rect: Rect) -> Rect:
    """Swap the axes, so that the bars lie like the rungs of a ladder; a second turn gives the first back."""
    x, y, width, height = rect
    return y, x, height, width
