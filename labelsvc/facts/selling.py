"""Packing and after: packs made, sold, given away, brought back, used up."""

from __future__ import annotations

from typing import Annotated, Literal

from labelsvc import choices
from labelsvc.errors import InputError
from labelsvc.facts.cards import Country
from labelsvc.shape import AtLeastOne, Shape, Text, Weighed
from labelsvc.units import Mass


class PackedPiece(Shape, frozen=True):
    """A piece that went into packs: what is left of it and what was trimmed away."""

    piece: Text
    rest: Mass | None = None
    trim: Mass | None = None


class PackedUnit(Shape, frozen=True):
    """One pack by its net weight."""

    weight: Weighed


class Pack(Shape, frozen=True, rename={"from_": "from"}):
    """One packing session makes one pack lot of these pieces; each pack is a unit of it.

    ``things`` are other machines it touched (netting, vacuum); ``may_contain`` is the decision on allergens that were there
    before: those to warn of, or none.
    """

    from_: Annotated[tuple[PackedPiece, ...], AtLeastOne]
    packs: Annotated[tuple[PackedUnit, ...], AtLeastOne]
    session: Text
    market: Text
    language: Text
    form: Text
    product: str | None = None
    slicer: str | None = None
    things: tuple[Text, ...] = ()
    country: Country | None = None
    may_contain: tuple[Text, ...] | None = None

    def __post_init__(self) -> None:
        choices.form_of_sale(self.form)


class Sell(Shape, frozen=True):
    """Packs go to a customer, or over the counter to the public."""

    packs: Annotated[tuple[str, ...], AtLeastOne]
    customer: str | None = None
    public: bool = False
    document: str | None = None

    def __post_init__(self) -> None:
        if (self.customer is None) == (not self.public):
            raise InputError("customer", "a customer, or public: true", "both" if self.public else "neither")


class Give(Shape, frozen=True):
    """Packs given away; whom to tell in a recall."""

    to: Text
    packs: Annotated[tuple[str, ...], AtLeastOne]


class Return(Shape, frozen=True, rename={"from_": "from"}):
    """Packs come back: held, and destroyed when they come from a consumer."""

    from_: Text
    packs: Annotated[tuple[str, ...], AtLeastOne]


class Dispose(Shape, frozen=True):
    """All or some of a lot is destroyed, eaten at home or taken as a sample."""

    lot: Text
    how: Literal["destroyed", "own_use", "sample"]
    weight: Mass | None = None
