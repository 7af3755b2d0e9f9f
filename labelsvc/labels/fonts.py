"""Measures of the label typefaces, read from the font files themselves: widths, ink, height of x and of capitals.

Fira Sans has distinct PostScript names per file, so a bold can never be drawn as a regular, and its condensed sibling
has the same height of x: a legal last step before a text does not fit. Table layout: OpenType specification 1.9, cmap
format 4, hmtx, glyf and OS/2 version 2 or later.
"""

from __future__ import annotations

import struct
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache, lru_cache
from importlib import resources
from pathlib import Path

from labelsvc.errors import LayoutError

FILES: Mapping[str, tuple[str, str]] = {
    "regular": ("fontpkg_fira_sans", "FiraSans-Regular.ttf"),
    "bold": ("fontpkg_fira_sans", "FiraSans-Bold.ttf"),
    "condensed": ("fontpkg_fira_sans_condensed", "FiraSansCondensed-Regular.ttf"),
    "condensed_bold": ("fontpkg_fira_sans_condensed", "FiraSansCondensed-Bold.ttf"),
}


@dataclass(frozen=True, eq=False)
class Face:
    """One typeface; every measure is a share of the em.

    Args:
        name: one of ``FILES``.
        x_height: height of a lower-case x (OS/2 sxHeight).
        cap_height: height of a capital (OS/2 sCapHeight).
        figure_height: height of the lowest of the ten figures; in some faces they are lower than capitals.
        widths: advance width by character.
        ink: lowest and highest ink above the baseline by character; blanks have none.
        overhang: ink left of where a character begins and right of where the next one does, where there is any, as of a j.
    """

    name: str
    x_height: float
    cap_height: float
    figure_height: float
    widths: Mapping[str, float]
    ink: Mapping[str, tuple[float, float]]
    overhang: Mapping[str, tuple[float, float]]

    def width(self, text: str) -> float:
        """Return the width of a text in ems, without kerning, as it is drawn."""
        return _width(self, text)

    def reach(self, text: str) -> tuple[float, float]:
        """Return how far a text's ink goes below and above the baseline, in ems, both positive."""
        return _reach(self, text)

    def refuse_missing(self, text: str, field: str) -> None:
        """Refuse a text with a character that would print as an empty box.

        Raises:
            LayoutError: names the character.
        """
        for character in text:
            if character not in self.widths:
                raise LayoutError(field, "characters the label typeface has", f"U+{ord(character):04X} {character!r}")


@lru_cache(maxsize=20_000)
def _reach(face: Face, text: str) -> tuple[float, float]:
    inked = [face.ink[character] for character in text if character in face.ink]
    if not inked:
        return 0.0, 0.0
    return max(0.0, -min(low for low, _ in inked)), max(0.0, max(high for _, high in inked))


@lru_cache(maxsize=20_000)  # words come again at every size that is tried, and on the next label of the product
def _width(face: Face, text: str) -> float:
    widths = face.widths
    return sum([widths[character] for character in text])


@cache
def face(name: str) -> Face:
    """Return one of the label typefaces, read once.

    Args:
        name: regular, bold, condensed or condensed_bold.
    """
    return _Reader(font_file(name).read_bytes()).face(name)


def font_file(name: str) -> Path:
    """Return where the file of a typeface is."""
    package, file = FILES[name]
    return Path(str(resources.files(package) / "files" / file))


class _Reader:
    """The few tables of a TrueType file that a layout needs."""

    def __init__(self, font: bytes) -> None:
        self._font = font
        (count,) = self._at(">H", 4)
        places = range(12, 12 + 16 * count, 16)
        self._tables = {font[place : place + 4].decode("ascii"): self._at(">L", place + 8)[0] for place in places}
        (self._em,) = self._at(">H", self._tables["head"] + 18)

    def _at(self, form: str, place: int) -> tuple[int, ...]:
        return struct.unpack_from(form, self._font, place)

    def face(self, name: str) -> Face:
        x_height, cap_height = self._at(">hh", self._tables["OS/2"] + 86)
        glyphs = self._glyph_of_character()
        widths, inked = self._widths(), self._ink()
        ink = {character: inked[glyph][:2] for character, glyph in glyphs.items() if glyph in inked}
        over = {character: _over(*inked[glyph][2:], widths[glyph]) for character, glyph in glyphs.items() if glyph in inked}
        return Face(
            name,
            x_height / self._em,
            cap_height / self._em,
            min(ink[figure][1] for figure in "0123456789"),
            {character: widths[glyph] for character, glyph in glyphs.items()},
            ink,
            {character: beside for character, beside in over.items() if any(beside)},
        )

    def _glyph_of_character(self) -> dict[str, int]:
        """Read the Windows Unicode cmap, format 4: segments of characters with a shift or a table of glyphs."""
        start = self._tables["cmap"]
        (count,) = self._at(">H", start + 2)
        records = [self._at(">HHL", start + 4 + 8 * i) for i in range(count)]
        place = start + next(offset for platform, encoding, offset in records if (platform, encoding) == (3, 1))
        segments = self._at(">H", place + 6)[0] // 2
        form = f">{segments}H"
        ends, starts, shifts, offsets = (self._at(form, place + 14 + part) for part in _parts(segments))
        glyphs: dict[str, int] = {}
        for segment in range(segments):
            where = place + 16 + 6 * segments + 2 * segment
            for code in range(starts[segment], min(ends[segment], 0xFFFE) + 1):
                glyph = code
                if offsets[segment]:
                    (glyph,) = self._at(">H", where + offsets[segment] + 2 * (code - starts[segment]))
                glyph = (glyph + shifts[segment]) % 65536 if glyph or not offsets[segment] else 0
                if glyph:
                    glyphs[chr(code)] = glyph
        return glyphs

    def _widths(self) -> list[float]:
        (metrics,) = self._at(">H", self._tables["hhea"] + 34)
        (glyphs,) = self._at(">H", self._tables["maxp"] + 4)
        widths = [self._at(">H", self._tables["hmtx"] + 4 * glyph)[0] / self._em for glyph in range(metrics)]
        return widths + [widths[-1]] * (glyphs - metrics)

    def _ink(self) -> dict[int, tuple[float, float, float, float]]:
        """Read lowest, highest, leftmost and rightmost ink by glyph; a glyph of no length is a blank."""
        (glyphs,) = self._at(">H", self._tables["maxp"] + 4)
        (is_long,) = self._at(">h", self._tables["head"] + 50)
        form, scale = ("L", 1) if is_long else ("H", 2)
        places = self._at(f">{glyphs + 1}{form}", self._tables["loca"])
        ink = {}
        for glyph in range(glyphs):
            if places[glyph] < places[glyph + 1]:
                left, low, right, high = self._at(">4h", self._tables["glyf"] + places[glyph] * scale + 2)
                ink[glyph] = (low / self._em, high / self._em, left / self._em, right / self._em)
        return ink


def _over(left: float, right: float, width: float) -> tuple[float, float]:
    return max(0.0, -left), max(0.0, right - width)


def _parts(segments: int) -> tuple[int, int, int, int]:
    """Return where ends, starts, shifts and offsets begin; two bytes of padding follow the ends."""
    return 0, 2 * segments + 2, 4 * segments + 2, 6 * segments + 2
