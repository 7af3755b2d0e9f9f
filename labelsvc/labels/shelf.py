"""The label layouts and sheets at hand: those that are shipped, and a person's own copies, which go before them."""

from __future__ import annotations

import re
from contextlib import suppress
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from labelsvc.errors import LayoutError
from labelsvc.labels.layout import Layout, Purpose
from labelsvc.labels.layout_file import read_layout
from labelsvc.labels.sheet import Sheet, read_sheet

SHEETS = "sheets"  # the folder of the sheets inside a folder of layouts
_NAME = re.compile(r"[a-z0-9_]{1,60}", re.ASCII)


@dataclass(frozen=True)
class Shelf:
    """Folders of layouts, the first one first.

    Args:
        shipped: the folder that comes with the program.
        own: a person's own folder, whose files go before the shipped ones of the same name; None where there is none.
    """

    shipped: Path
    own: Path | None = None

    @property
    def folders(self) -> tuple[Path, ...]:
        """The folders in the order in which a name is looked up."""
        return (self.shipped,) if self.own is None else (self.own, self.shipped)

    def names(self) -> list[str]:
        """Return the names of all layouts."""
        return sorted({file.stem for folder in self.folders for file in folder.glob("*.toml")})

    def sheets(self) -> list[str]:
        """Return the names of all sheets."""
        return sorted({file.stem for folder in self.folders for file in (folder / SHEETS).glob("*.toml")})

    def file(self, name: str) -> Path:
        """Return the file of a layout.

        Raises:
            LayoutError: no layout of that name.
        """
        return self._find(name, "layout", "")

    def layout(self, name: str) -> Layout:
        """Return a layout.

        Raises:
            LayoutError: none of that name, or its file has a fault: names file, element and key.
        """
        file = self.file(name)
        return _layout(file, file.stat().st_mtime_ns)

    def sheet(self, name: str) -> Sheet:
        """Return a sheet.

        Raises:
            LayoutError: none of that name, or its file has a fault.
        """
        return read_sheet(self._find(name, "sheet", SHEETS))

    def for_purpose(self, purpose: Purpose, market: str | None = None) -> list[Layout]:
        """Return the sound layouts of a purpose that a market may use, the smallest first."""
        return [layout for layout in self.all_for(purpose) if not layout.markets or market in layout.markets]

    def all_for(self, purpose: Purpose) -> list[Layout]:
        """Return the sound layouts of a purpose for any market, the smallest first."""
        found = []
        for name in self.names():
            try:
                layout = self.layout(name)
            except LayoutError:
                continue  # a person's own file with a fault: its page says which
            if layout.purpose == purpose:
                found.append(layout)
        return sorted(found, key=lambda layout: (layout.area_cm2, layout.name))

    def sheets_for(self, layout: Layout) -> list[Sheet]:
        """Return the sound sheets whose labels have the size of a layout."""
        sheets: list[Sheet] = []
        for name in self.sheets():
            with suppress(LayoutError):  # a person's own file with a fault: the page of the layouts says which
                sheets.append(self.sheet(name))
        return [sheet for sheet in sheets if sheet.label_mm == (layout.width_mm, layout.height_mm)]

    def _find(self, name: str, kind: str, inside: str) -> Path:
        if _NAME.fullmatch(name):
            for folder in self.folders:
                file = folder / inside / f"{name}.toml"
                if file.is_file():
                    return file
        known = self.sheets() if inside else self.names()
        raise LayoutError(kind, f"one of {', '.join(known)}", name or "nothing")


@lru_cache(maxsize=64)
def _layout(file: Path, changed: int) -> Layout:
    """Read a layout once for each time its file was changed."""
    return read_layout(file)
