"""From goods in to the released piece: what was received, cut, cured, strung, weighed and decided."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Annotated, Literal

from labelsvc import choices
from labelsvc.errors import InputError
from labelsvc.facts.cards import Country
from labelsvc.shape import AtLeastOne, Exact, Percent, Sha256, Shape, Text, Weighed
from labelsvc.units import Mass

CureMethod = Literal["dry", "dry_excess", "brine", "comminuted", "pumped", "immersion_pickup", "immersion_equilibrium"]


class Trichinella(Shape, frozen=True):
    """What is known of Trichinella; freezing is a method with its thickness, temperature, start and end."""

    status: Literal["tested", "controlled_housing", "frozen", "unknown"]
    method: str | None = None
    thickness_cm: Exact | None = None
    temperature_c: Exact | None = None
    start: str | None = None
    end: str | None = None


def trichinella_status(value: Trichinella | str | None) -> str:
    """Return tested, controlled_housing, frozen or unknown."""
    if isinstance(value, Trichinella):
        return value.status
    return choices.trichinella(value) if value is not None else "unknown"


class Receive(Shape, frozen=True):
    """Goods in. Every identity is written exactly as read; "not known" is an answer.

    A bag of curing salt may state its own strength, in percent of the bag: the dose follows it, not the card. ``photos`` of the
    papers are kept beside the ledger, by their hashes.
    """

    supplier: Text
    kind: Literal["animal", "part", "ingredient"]
    name: Text
    weight: Weighed
    ingredient: str | None = None
    species: str | None = None
    count: int | None = None
    known_as: Literal["individual", "group", "delivery", "not known"] = "not known"
    identity: str | dict[str, str] | None = None
    herd_mark: str | None = None
    carcass_number: str | None = None
    slaughterhouse: str | None = None
    kill_date: dt.date | None = None
    supplier_lot: str | None = None
    temperature_c: Exact | None = None
    trichinella: Trichinella | str | None = None
    origin: Country | None = None
    sodium_nitrite_percent: Percent | None = None
    potassium_nitrite_percent: Percent | None = None
    sodium_nitrate_percent: Percent | None = None
    potassium_nitrate_percent: Percent | None = None
    salt_percent: Percent | None = None
    photos: tuple[Sha256, ...] = ()

    @property
    def strength(self) -> tuple[tuple[str, Decimal], ...]:
        """What this very bag states: substances, each with its percent of the bag."""
        stated = ((name.removesuffix("_percent").replace("_", " "), getattr(self, name)) for name in _STRENGTH)
        named = ((_SALT.get(name, name), percent) for name, percent in stated)
        return tuple((name, Decimal(percent)) for name, percent in named if percent is not None)

    def __post_init__(self) -> None:
        if self.strength and self.kind != "ingredient":
            raise InputError("kind", "ingredient, where a strength is stated", self.kind)
        if sum((percent for _, percent in self.strength), Decimal(0)) > 100:
            raise InputError("sodium_nitrite_percent", "percents of at most 100 together", "more")
        if self.count is not None and not 1 <= self.count <= 100_000:
            raise InputError("count", "a count of 1 or more", str(self.count))
        if isinstance(self.trichinella, str):
            trichinella_status(self.trichinella)


_STRENGTH = (
    "sodium_nitrite_percent",
    "potassium_nitrite_percent",
    "sodium_nitrate_percent",
    "potassium_nitrate_percent",
    "salt_percent",
)
_SALT = {"salt": "sodium chloride"}


class CutPiece(Shape, frozen=True):
    """A piece cut to be cured, weighed after trimming; small pieces may stay one counted lot. A marker may be printed ahead."""

    product: Text
    weight: Weighed
    marker: str | None = None
    count: int | None = None

    def __post_init__(self) -> None:
        if self.count is not None and not 2 <= self.count <= 10_000:
            raise InputError("count", "2 or more pieces that stay one lot", str(self.count))


class Cut(Shape, frozen=True, rename={"from_": "from"}):
    """An animal or part becomes pieces, trim and bone; what is not weighed stays with the animal."""

    from_: Text
    pieces: Annotated[tuple[CutPiece, ...], AtLeastOne]
    trim: Mass | None = None
    bone: Mass | None = None


class MixLine(Shape, frozen=True):
    """Grams weighed out of one ingredient lot; of a spice also a ``volume`` by the spoon, whose grams are an estimate.

    Raises:
        InputError: neither a weight nor a volume.
    """

    lot: Text
    weight: Weighed | None = None
    volume: Text | None = None

    def __post_init__(self) -> None:
        if self.weight is None and self.volume is None:
            raise InputError("weight", "the grams on the scale", "none")


class Cure(Shape, frozen=True):
    """Pieces go into a tub with what was weighed out for them; ``unused`` is mix that touched no meat, and is destroyed.

    ``things`` are bowls and machines it touched, such as a mixing bowl.
    """

    tub: Text
    pieces: Annotated[tuple[str, ...], AtLeastOne]
    method: CureMethod
    mix: Annotated[tuple[MixLine, ...], AtLeastOne]
    recipe: str | None = None
    planned_out: dt.date | None = None
    planned_packing: dt.date | None = None
    unused: Mass | None = None
    temperature_c: Exact | None = None
    bag: Literal["open", "sealed"] | None = None
    things: tuple[Text, ...] = ()


class SaltAgain(Shape, frozen=True):
    """Pieces in cure get more of a mix; limits count the running total."""

    pieces: Annotated[tuple[str, ...], AtLeastOne]
    mix: Annotated[tuple[MixLine, ...], AtLeastOne]
    unused: Mass | None = None


class Coat(Shape, frozen=True):
    """Something put on pieces after or beside the cure: a wash, a coating, a casing or a netting."""

    pieces: Annotated[tuple[str, ...], AtLeastOne]
    what: Literal["wash", "coating", "casing", "netting"]
    mix: Annotated[tuple[MixLine, ...], AtLeastOne]
    unused: Mass | None = None
    things: tuple[Text, ...] = ()


class Turn(Shape, frozen=True):
    """What is in a tub is turned or restacked."""

    tub: Text


class Move(Shape, frozen=True):
    """A lot goes to another room, rack or, while it is in cure, tub."""

    lot: Text
    place: Text


class TakenPiece(Shape, frozen=True):
    """A piece out of the tub, weighed or not."""

    code: Text
    weight: Mass | None = None


class TakeOut(Shape, frozen=True):
    """Pieces leave the tub; ``leftover`` is what was scraped off an excess cure."""

    pieces: Annotated[tuple[TakenPiece, ...], AtLeastOne]
    leftover: Mass | None = None


class String(Shape, frozen=True):
    """A piece is strung up and weighed: gross with string, net or casing, or net.

    ``tag`` is the number of a tag printed ahead that hangs on it from now on, beside the code it has: it leads to the piece.
    """

    piece: Text
    weight: Weighed
    place: Text
    weight_is: Literal["gross", "net"] = "gross"
    tare: Mass | None = None
    things: tuple[Text, ...] = ()
    tag: str | None = None


class Weigh(Shape, frozen=True):
    """A weigh-in: what the scale shows, string included once the piece is strung."""

    piece: Text
    weight: Weighed


class SplitPart(Shape, frozen=True):
    """One of the pieces that a piece or counted lot is split into; net weight. With a count it stays one lot, as on a rail."""

    weight: Weighed
    marker: str | None = None
    tare: Mass | None = None
    count: int | None = None

    def __post_init__(self) -> None:
        if self.count is not None and not 2 <= self.count <= 10_000:
            raise InputError("count", "2 or more pieces that stay one lot", str(self.count))


class Split(Shape, frozen=True, rename={"from_": "from"}):
    """A piece is cut through, or pieces of a counted lot get codes of their own, with their shares of everything."""

    from_: Text
    pieces: Annotated[tuple[SplitPart, ...], AtLeastOne]


class Reserve(Shape, frozen=True):
    """Blank markers printed ahead: codes that pieces will be given, also while the power is off."""

    count: int

    def __post_init__(self) -> None:
        if not 1 <= self.count <= 500:
            raise InputError("count", "1 to 500 markers", str(self.count))


class Release(Shape, frozen=True):
    """The recorded decision that a piece or pack lot may be sold."""

    lot: Text
    by: Text
