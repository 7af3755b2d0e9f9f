"""Watching over it: holds, complaints, labels that left the printer, and corrections."""

from __future__ import annotations

import re
from collections.abc import Mapping
from decimal import Decimal
from typing import Annotated, Any

import msgspec

from labelsvc.errors import InputError
from labelsvc.shape import AtLeastOne, Exact, Sha256, Shape, Text
from labelsvc.units import Mass, decimal


class Hold(Shape, frozen=True):
    """Nothing of these lots is packed, sold or given away until someone lifts the hold."""

    lots: Annotated[tuple[str, ...], AtLeastOne]
    reason: Text


class Lift(Shape, frozen=True):
    """The decision that ends a hold; where a measured value or a figure of the law is lacking, ``by`` says who decides.

    ``holds`` are the facts (an incident, a hold, a return ...) whose holds end; all of them where none is named.
    """

    lots: Annotated[tuple[str, ...], AtLeastOne]
    reason: Text
    by: str | None = None
    holds: tuple[int, ...] = ()


class Incident(Shape, frozen=True, rename={"from_": "from"}):
    """A power cut, fall, mould, pest, broken glass, a lost or swapped tag: holds what it touches until someone decides.

    It names lots, or a room, rack or tub with the time from and to which something was wrong there.
    """

    what: Text
    lots: tuple[str, ...] = ()
    place: str | None = None
    from_: str | None = None
    to: str | None = None

    def __post_init__(self) -> None:
        if bool(self.lots) == (self.place is not None):
            raise InputError("lots", "lots, or a place", "both" if self.lots else "neither")
        if self.place is not None and self.from_ is None:
            raise InputError("from", "when it began", "nothing")


class Clean(Shape, frozen=True):
    """A slicer, tub, bowl, table or machine was cleaned; allergen-clean ends the reach of an allergen."""

    thing: Text
    allergen_clean: bool


class Measured(msgspec.Struct, frozen=True, array_like=True):
    """A number that was measured: what, how much (mg/kg, %, or bare), and for a residue the substance it is expressed as."""

    what: str
    value: Decimal
    expressed_as: str = ""


# What a residue may be expressed as: the report says which; 80 as the ion is 120 as the sodium salt.
RESIDUES: Mapping[str, tuple[str, ...]] = {
    "residual_nitrite": ("nitrite ion", "sodium nitrite", "potassium nitrite"),
    "residual_nitrate": ("nitrate ion", "sodium nitrate", "potassium nitrate"),
}
RANGES: Mapping[str, tuple[int, int]] = {  # of what is a number and nothing else, for rules ask for it
    "ph": (0, 14),
    "water_activity": (0, 1),
    "salt_percent": (0, 100),
    "water_phase_salt_percent": (0, 100),
    "protein_fat_free": (0, 100),
}


class Check(Shape, frozen=True):
    """A measurement: pH, water activity, salt, a residue in mg/kg or another laboratory result, with how it was taken."""

    lot: Text
    what: Text
    value: Text
    method: Text
    expressed_as: str | None = None

    def __post_init__(self) -> None:
        substances = RESIDUES.get(self.kind)
        if substances is not None and self.expressed_as not in substances:
            expected = f"one of {', '.join(substances)}, as the report says"
            raise InputError("expressed_as", expected, self.expressed_as or "nothing")
        if substances is None and self.expressed_as is not None:
            raise InputError("expressed_as", f"nothing for {self.what}", self.expressed_as)
        if self.kind in RANGES and _BARE_NUMBER.fullmatch(self.value):
            least, most = RANGES[self.kind]
            decimal(self.value, "value", minimum=least, maximum=most)
        elif substances is not None and not _RESIDUE.fullmatch(self.value):
            raise InputError("value", 'mg/kg as the report says, such as "38", or "<5" where less was found', self.value)

    @property
    def kind(self) -> str:
        """What was measured, as it is compared: ``residual nitrite`` is ``residual_nitrite``."""
        return "_".join(re.split(r"[\s_-]+", self.what.casefold()))

    @property
    def measured(self) -> Measured | None:
        """The number, where it is one that rules can be asked about; a text such as "not found in 25 g" is none."""
        if self.kind in RESIDUES:
            found = _RESIDUE.fullmatch(self.value)
            return Measured(self.kind, Decimal(found[1]), self.expressed_as or "") if found else None
        found = _NUMBER.fullmatch(self.value) if self.kind in RANGES else None
        number = Decimal(found[1].replace(",", ".")) if found else None
        if number is None or not RANGES[self.kind][0] <= number <= RANGES[self.kind][1]:
            return None
        return Measured(self.kind, number)


_NUMBER = re.compile(r"([0-9]+(?:[.,][0-9]+)?)(?:\s*%)?", re.ASCII)
_BARE_NUMBER = re.compile(r"[0-9]+(?:\.[0-9]+)?", re.ASCII)
_RESIDUE = re.compile(r"(?:<\s*)?([0-9]{1,6}(?:\.[0-9]{1,6})?)(?:\s*(?:mg/kg|ppm))?", re.ASCII)  # "<5" counts as 5


class Figure(Shape, frozen=True):
    """A figure of the law that our rules lack or have unconfirmed, entered with its source by the responsible person."""

    rule: Text
    value: Exact
    unit: Text
    source: Text
    by: Text

    def __post_init__(self) -> None:
        if not 0 <= self.value <= 1_000_000:
            raise InputError("value", "a figure of 0 to 1000000", str(self.value))

    @property
    def name(self) -> str:
        """Its name among the cards: the rule."""
        return self.rule


class Count(Shape, frozen=True):
    """Stock was counted or weighed: the difference goes to the count difference."""

    lot: Text
    weight: Mass


class Complaint(Shape, frozen=True):
    """What a buyer says, with the code where there is one; ``photos`` are kept beside the ledger, by their hashes."""

    text: Text
    code: str | None = None
    contact: str | None = None
    photos: tuple[Sha256, ...] = ()


class AnswerComplaint(Shape, frozen=True):
    """What was decided on a complaint, and what the buyer was told."""

    complaint: int
    decision: Text
    answer: str | None = None
    by: str | None = None


class IssueLabel(Shape, frozen=True):
    """A label left the printer or was saved as PDF: what it said, and what that relied on."""

    lots: Annotated[tuple[str, ...], AtLeastOne]
    layout: Text
    layout_digest: Text
    content: dict[str, Any]
    market: str | None = None
    language: str | None = None
    rules: tuple[str, ...] = ()
    allergens: tuple[str, ...] = ()
    proof: dict[str, Any] | None = None


class ReprintLabel(Shape, frozen=True):
    """An issued label was printed once more as it was: the first one was torn, lost or unreadable."""

    label: int
    lots: Annotated[tuple[str, ...], AtLeastOne]
    reason: Text


class VoidLabel(Shape, frozen=True):
    """An issued label counts no more: it was spoiled, or taken off and destroyed."""

    label: int
    lots: Annotated[tuple[str, ...], AtLeastOne]
    reason: Text


class Correct(Shape, frozen=True):
    """An earlier fact was wrong: this one stands in its place, or it never happened (``instead: null``)."""

    fact: int
    instead: dict[str, Any] | None
    reason: Text
