"""Sheets with several labels: their file, and where each label stands on a page, in whole dots from its top left corner.

A roll with labels side by side is a sheet of one row. A sheet that is partly used is fed again from a chosen position.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import islice
from pathlib import Path

import msgspec

from labelsvc.errors import LayoutError
from labelsvc.labels.layout_keys import read_table, text_in
from labelsvc.labels.marks import Grid, Placed, Rect

_TOUCH = 1e-6  # mm; a label may end where the sheet ends


class Sheet(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A sheet of labels; positions count from 1, row by row from the top left.

    Args:
        title: what the sheet is called.
        width_mm: of the sheet.
        height_mm: of the sheet.
        label_mm: width and height of the labels it takes, as their layouts say.
        across: labels in a row.
        down: rows.
        left_mm: from the left edge to the first label.
        top_mm: from the top edge to the first label.
        dots_per_mm: of the printer for sheets.
        gap_mm: between labels in a row and between rows.
        turned: whether labels lie on their side, turned clockwise.
        file: its name, for errors; set when it is read.
    """

    title: str
    width_mm: float
    height_mm: float
    label_mm: tuple[float, float]
    across: int
    down: int
    left_mm: float
    top_mm: float
    dots_per_mm: float
    gap_mm: tuple[float, float] = (0.0, 0.0)
    turned: bool = False
    file: str = ""

    @property
    def name(self) -> str:
        """Its name without the ending of the file."""
        return self.file.removesuffix(".toml")

    @property
    def positions(self) -> int:
        """How many labels it takes."""
        return self.across * self.down

    @property
    def cell_mm(self) -> tuple[float, float]:
        """Width and height of a label as it lies on the sheet."""
        width, height = self.label_mm
        return (height, width) if self.turned else (width, height)


@dataclass(frozen=True)
class Spot:
    """Where a label stands on a page.

    Args:
        x: dots from the left.
        y: dots from the top.
        turned: whether it lies on its side, turned clockwise.
    """

    x: int = 0
    y: int = 0
    turned: bool = False


@dataclass(frozen=True)
class Page:
    """One page: its size, and the labels on it."""

    width_mm: float
    height_mm: float
    rotation: int
    labels: tuple[tuple[Spot, Placed], ...]


def read_sheet(path: Path) -> Sheet:
    """Read the file of a sheet.

    Raises:
        LayoutError: names file and key.
    """
    try:
        raw = tomllib.loads(text_in(path))
    except tomllib.TOMLDecodeError as error:
        raise LayoutError(path.name, "a TOML file", str(error)) from error
    sheet = msgspec.structs.replace(read_table(raw, Sheet, path.name), file=path.name)
    if min(sheet.across, sheet.down) < 1:
        raise LayoutError(f"{sheet.file} across", "at least one label across and down", f"{sheet.across} x {sheet.down}")
    (wide, tall), (gap_x, gap_y) = sheet.cell_mm, sheet.gap_mm
    right = sheet.left_mm + sheet.across * wide + (sheet.across - 1) * gap_x
    bottom = sheet.top_mm + sheet.down * tall + (sheet.down - 1) * gap_y
    if right > sheet.width_mm + _TOUCH or bottom > sheet.height_mm + _TOUCH:
        raise LayoutError(
            f"{sheet.file} across", f"labels on a sheet of {sheet.width_mm:g} x {sheet.height_mm:g} mm",
            f"labels to {right:g} and {bottom:g} mm",
        )  # fmt: skip
    return sheet


def arrange(labels: Iterable[Placed], sheet: Sheet | None, start: int = 1) -> Iterator[Page]:
    """Yield the pages that labels make: one each, or filled from a position of a sheet on.

    Args:
        labels: in order.
        sheet: the sheet, or None for labels on stock of their own.
        start: the first position to use on the first sheet; those before it were used already.

    Raises:
        LayoutError: the sheet has no such position, or its labels have another size.
    """
    if sheet is None:
        for label in labels:
            yield Page(label.width_mm, label.height_mm, label.rotation, ((Spot(), label),))
        return
    if not 1 <= start <= sheet.positions:
        raise LayoutError("start", f"a position of 1 to {sheet.positions} on {sheet.name}", str(start))
    coming = iter(labels)
    first = start - 1
    while some := list(islice(coming, sheet.positions - first)):
        spots = [_spot(sheet, position, label) for position, label in enumerate(some, first)]
        yield Page(sheet.width_mm, sheet.height_mm, 0, tuple(zip(spots, some, strict=True)))
        first = 0


def _spot(sheet: Sheet, position: int, label: Placed) -> Spot:
    if (label.width_mm, label.height_mm) != sheet.label_mm:
        wanted = "{:g} x {:g} mm".format(*sheet.label_mm)
        raise LayoutError(
            "sheet", f"labels of {wanted} on {sheet.name}", f"labels of {label.width_mm:g} x {label.height_mm:g} mm"
        )
    row, column = divmod(position, sheet.across)
    (wide, tall), (gap_x, gap_y) = sheet.cell_mm, sheet.gap_mm
    grid: Grid = label.grid
    return Spot(grid.dots(sheet.left_mm + column * (wide + gap_x)), grid.dots(sheet.top_mm + row * (tall + gap_y)), sheet.turned)


def extent(label: Placed) -> tuple[int, int]:
    """Return width and height of a label in dots, a last dot that it only half fills made whole."""
    return label.grid.at_least(label.width_mm), label.grid.at_least(label.height_mm)


def taken(spot: Spot, label: Placed) -> Rect:
    """Return the rectangle of its page that a label takes, in dots."""
    width, height = extent(label)
    return (spot.x, spot.y, height, width) if spot.turned else (spot.x, spot.y, width, height)
