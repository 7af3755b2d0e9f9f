"""Lot codes: printed on a tag, read aloud, copied with cold fingers, typed with one thumb.

``P261125A4M`` is a piece (P), given its code on 2026-11-25 (261125), the serial A4 of that day, check character M.
A pack is one unit of a pack lot: ``K261125A5B/3``. Without the slash a code fits GS1 AI 10 (X..20, ``fixtures/vectors``).

The serial uses only 24 of the 31 symbols: of each pair that look alike on a wet tag (0 D Q, 2 Z, 6 G, 7 T, 8 B, V Y) one is
left out, so two valid codes can never differ by look-alikes alone, however many of them are misread. The look-alikes that
are in no code at all (O I L S U) are read as what they were meant to be.
"""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass

from labelsvc.codes.check_character import SYMBOLS, check_character, is_checked
from labelsvc.errors import CodeError

KINDS = {"A": "animal", "C": "part", "N": "ingredient", "P": "piece", "K": "pack"}
LETTERS = {kind: letter for letter, kind in KINDS.items()}
SERIALS = "0123456789ACEFHJKMNPRVWX"
_READ_AS = str.maketrans("OILSU", "0115V", " -‐‑–_.")
_SHAPE = re.compile(rf"([{''.join(KINDS)}])([0-9]{{6}})([{SERIALS}]{{2,5}})([{SYMBOLS}])", re.ASCII)
_UNIT = re.compile(r"[1-9][0-9]{0,5}", re.ASCII)
_EXPECTED = "a lot code such as P261125A4M: kind, date, serial and check character"


@dataclass(frozen=True)
class LotCode:
    """A valid lot code, or one unit of a pack lot.

    Args:
        kind: animal, part, ingredient, piece or pack.
        day: the day the code was given out.
        serial: two to five characters of ``SERIALS``.
        unit: number of a pack in its pack lot, or None for the lot itself.
    """

    kind: str
    day: dt.date
    serial: str
    unit: int | None = None

    def __post_init__(self) -> None:
        if not _SHAPE.fullmatch(self.lot) or not dt.date(2000, 1, 1) <= self.day < dt.date(2100, 1, 1):
            raise CodeError("code", _EXPECTED, self.lot)
        if self.unit is not None and (self.kind != "pack" or not 1 <= self.unit <= 999_999):
            raise CodeError("code", "a pack number only after a pack lot", f"{self.lot}/{self.unit}")

    @classmethod
    def parse(cls, text: object, field: str = "code") -> LotCode:
        """Read a code as a person typed or a scanner sent it.

        Case, spaces, hyphens and the letters O I L S U are forgiven.

        Args:
            text: such as ``"p261125-a4 m"`` or ``"K261125A5B/3"``.
            field: how an error names it.

        Raises:
            CodeError: not of the shape of a code, no such day, or the check character does not fit.

        >>> str(LotCode.parse("p261125-a4 m"))
        'P261125A4M'
        """
        given = text if isinstance(text, str) else repr(text)
        lot, slash, unit = given.strip().upper().partition("/")
        lot = lot.translate(_READ_AS)
        match = _SHAPE.fullmatch(lot)
        if match is None or (slash and not _UNIT.fullmatch(unit.strip())):
            raise CodeError(field, _EXPECTED, given, _doubtful(lot))
        if not is_checked(lot):
            raise CodeError(
                field, "a code whose check character fits", given, "One character is wrong or two are swapped: read it again."
            )
        letter, digits, serial, _ = match.groups()
        return cls(KINDS[letter], _day(digits, field, given), serial, int(unit) if slash else None)

    @property
    def lot(self) -> str:
        """The code without a pack number: what AI 10 and the bar code carry."""
        body = f"{LETTERS.get(self.kind, '?')}{self.day:%y%m%d}{self.serial}"
        return body + check_character(body)

    @property
    def number(self) -> int:
        """Which lot of its day it is; the inverse of ``numbered``."""
        number = 0
        for character in self.serial:
            number = number * len(SERIALS) + SERIALS.index(character)
        return number

    @property
    def spoken(self) -> tuple[str, str]:
        """The code in the two parts a tag shows: kind with date, and serial with check character."""
        return self.lot[:7], self.lot[7:]

    def __str__(self) -> str:
        return self.lot if self.unit is None else f"{self.lot}/{self.unit}"


def numbered(kind: str, day: dt.date, number: int) -> LotCode:
    """Return the code of the day's n-th lot.

    Args:
        kind: animal, part, ingredient, piece or pack.
        day: the day the code is given out.
        number: 1 for the first lot of the day; all kinds share one count, so that the serial alone tells two lots apart.

    Raises:
        ValueError: more lots on one day than five characters can number.

    >>> str(numbered("piece", dt.date(2026, 11, 25), 1))
    'P26112501V'
    """
    serial = ""
    rest = number
    while rest or len(serial) < 2:
        rest, digit = divmod(rest, len(SERIALS))
        serial = SERIALS[digit] + serial
    if len(serial) > 5:
        raise ValueError(f"no more than {len(SERIALS) ** 5} lots on one day, got number {number}")
    return LotCode(kind, day, serial)


def _day(digits: str, field: str, given: str) -> dt.date:
    try:
        return dt.datetime.strptime(f"20{digits}", "%Y%m%d").replace(tzinfo=dt.UTC).date()
    except ValueError:
        raise CodeError(field, "a code whose six digits are a date (year, month, day)", given) from None


def _doubtful(lot: str) -> str:
    """Name the first character of the serial or date that no code can have there, with what it may have been."""
    meant = {"Z": "2", "B": "8", "G": "6", "T": "7", "D": "0", "Q": "0", "Y": "V"}
    for place, character in enumerate(lot[1:-1], start=2):
        if character in meant:
            return f"Character {place}, {character}, is in no code there: is it {meant[character]}?"
    return ""
