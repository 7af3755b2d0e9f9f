"""Watching over it: holds, complaints, labels that left the printer, and corrections."""

from __future__ import annotations

from typing import Annotated, Any

from labelsvc.errors import InputError
from labelsvc.shape import AtLeastOne, Shape, Text
from labelsvc.units import Mass


class Hold(Shape, frozen=True):
    """Nothing of these lots is packed, sold or given away until someone lifts the hold."""

    lots: Annotated[tuple[str, ...], AtLeastOne]
    reason: Text


class Lift(Shape, frozen=True):
    """The decision that ends a hold."""

    lots: Annotated[tuple[str, ...], AtLeastOne]
    reason: Text


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


class Check(Shape, frozen=True):
    """A measurement: pH, water activity, salt or a laboratory result, with how it was taken."""

    lot: Text
    what: Text
    value: Text
    method: Text


class Count(Shape, frozen=True):
    """Stock was counted or weighed: the difference goes to the count difference."""

    lot: Text
    weight: Mass


class Complaint(Shape, frozen=True):
    """What a buyer says, with the code where there is one."""

    text: Text
    code: str | None = None
    contact: str | None = None


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


class Correct(Shape, frozen=True):
    """An earlier fact was wrong: this one stands in its place, or it never happened (``instead: null``)."""

    fact: int
    instead: dict[str, Any] | None
    reason: Text
