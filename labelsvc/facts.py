"""The ledger's vocabulary: each kind of fact is what a person saw or did, never what follows from it.

Reading this file teaches the whole program. A fact holds absolute weights, codes and times. Postings, balances, states and
findings are derived from the facts in the order they happened (``ledger/derive``), so a correction or a late entry changes
them all at once. Weights are strings with a unit, percentages bare decimals, days ISO 8601.
"""

from __future__ import annotations

import datetime as dt
import re
from typing import Annotated, Any, Literal
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import msgspec

from labelsvc import choices
from labelsvc.errors import InputError
from labelsvc.recipe import Additive, Component, Per100g, RecipeLine, check_components
from labelsvc.shape import Exact, Percent, Shape, Weighed, read_shape
from labelsvc.units import Mass

Market = str
ONE = msgspec.Meta(min_length=1)  # a list that may not be empty
CureMethod = Literal["dry", "dry_excess", "brine", "comminuted", "pumped", "immersion_pickup", "immersion_equilibrium"]


# --- who we are and what we make -------------------------------------------------------------------------------------
class Workshop(Shape, frozen=True):
    """The workshop: what stands on every label and decides what may be sold to whom."""

    name: str
    address: str
    timezone: str
    country: str
    standing: str
    base_url: str | None = None
    approval_number: str | None = None

    def __post_init__(self) -> None:
        try:
            ZoneInfo(self.timezone)
        except (ZoneInfoNotFoundError, ValueError):
            raise InputError("timezone", "a time zone such as Europe/Lisbon", self.timezone) from None
        if not re.fullmatch(r"[A-Z]{2}", self.country):
            raise InputError("country", "a country code of two capitals such as FR", self.country)
        choices.standing(self.standing)


class Supplier(Shape, frozen=True):
    """Someone animals, parts, ingredients, casings or bags come from."""

    name: str
    address: str | None = None
    contact: str | None = None
    business: bool = True


class Customer(Shape, frozen=True):
    """Someone packs are sold to; a consumer is ``business: false``."""

    name: str
    address: str | None = None
    contact: str | None = None
    business: bool = True


class Ingredient(Shape, frozen=True):
    """Something that goes on or into the meat, as its container says; allergens by the names of the law."""

    name: str
    category: str | None = None
    species: str | None = None
    allergens: tuple[str, ...] = ()
    form: str | None = None
    additive: Additive | None = None
    components: tuple[Component, ...] = ()
    per_100g: Per100g | None = None
    so2_mg_per_kg: Exact | None = None

    def __post_init__(self) -> None:
        check_components(self.components)


class Product(Shape, frozen=True, rename={"class_": "class"}):
    """Something the workshop makes and sells; ``eaten`` decides whether the label asks to cook it, cooked is the default."""

    name: str
    species: str
    cut: str
    markets: tuple[Market, ...]
    languages: tuple[str, ...]
    shelf_life_days: int
    storage: str
    class_: str
    eaten: Literal["as_is", "cooked"] = "cooked"
    target_loss_percent: Percent | None = None
    loss_base: Literal["hang", "green"] = "hang"
    minimum_days: int | None = None
    tare: Mass | None = None
    gain_tolerance_percent: Percent = Percent(1)
    food_name: str | None = None
    date_kind: Literal["best_before", "use_by"] = "best_before"
    cooking: str | None = None
    gtin: str | None = None

    def __post_init__(self) -> None:
        if not 1 <= self.shelf_life_days <= 3650:
            raise InputError("shelf_life_days", "1 to 3650 days", str(self.shelf_life_days))
        if self.minimum_days is not None and not 0 <= self.minimum_days <= 3650:
            raise InputError("minimum_days", "0 to 3650 days", str(self.minimum_days))
        if self.target_loss_percent is not None and not 0 < self.target_loss_percent < 80:
            raise InputError("target_loss_percent", "a loss above 0 and below 80", str(self.target_loss_percent))


class Recipe(Shape, frozen=True):
    """A cure by percent of the green weight."""

    name: str
    lines: Annotated[tuple[RecipeLine, ...], ONE]


# --- goods in and cutting --------------------------------------------------------------------------------------------
class Trichinella(Shape, frozen=True):
    """What is known of Trichinella; freezing is a method with its thickness, temperature, start and end."""

    status: Literal["tested", "controlled_housing", "frozen", "unknown"]
    method: str | None = None
    thickness_cm: Exact | None = None
    temperature_c: Exact | None = None
    start: str | None = None
    end: str | None = None


class Receive(Shape, frozen=True):
    """Goods in. Every identity is written exactly as read; "not known" is an answer."""

    supplier: str
    kind: Literal["animal", "part", "ingredient"]
    name: str
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

    def __post_init__(self) -> None:
        if self.count is not None and not 1 <= self.count <= 100_000:
            raise InputError("count", "a count of 1 or more", str(self.count))
        if isinstance(self.trichinella, str):
            trichinella_status(self.trichinella)


class CutPiece(Shape, frozen=True):
    """A piece cut to be cured: its green weight is taken after trimming."""

    product: str
    weight: Weighed
    marker: str | None = None


class Cut(Shape, frozen=True, rename={"from_": "from"}):
    """An animal or part becomes pieces, trim and bone; what is not weighed stays with the animal."""

    from_: str
    pieces: Annotated[tuple[CutPiece, ...], ONE]
    trim: Mass | None = None
    bone: Mass | None = None


# --- cure and string -------------------------------------------------------------------------------------------------
class MixLine(Shape, frozen=True):
    """Grams weighed out of one ingredient lot."""

    lot: str
    weight: Weighed


class Cure(Shape, frozen=True):
    """Pieces go into a tub with what was weighed out for them."""

    tub: str
    pieces: Annotated[tuple[str, ...], ONE]
    method: CureMethod
    mix: Annotated[tuple[MixLine, ...], ONE]
    recipe: str | None = None
    planned_out: dt.date | None = None
    planned_packing: dt.date | None = None


class TakenPiece(Shape, frozen=True):
    """A piece out of the tub, weighed or not."""

    code: str
    weight: Mass | None = None


class TakeOut(Shape, frozen=True):
    """Pieces leave the tub; ``leftover`` is what was scraped off an excess cure."""

    pieces: Annotated[tuple[TakenPiece, ...], ONE]
    leftover: Mass | None = None


class String(Shape, frozen=True):
    """A piece is strung up and weighed: gross with string, net or casing, or net."""

    piece: str
    weight: Weighed
    place: str
    weight_is: Literal["gross", "net"] = "gross"
    tare: Mass | None = None


class Weigh(Shape, frozen=True):
    """A weigh-in: what the scale shows, string included once the piece is strung."""

    piece: str
    weight: Weighed


class Release(Shape, frozen=True):
    """The recorded decision that a piece or pack lot may be sold."""

    lot: str
    by: str


# --- packing and after -----------------------------------------------------------------------------------------------
class PackedPiece(Shape, frozen=True):
    """A piece that went into packs: what is left of it and what was trimmed away."""

    piece: str
    rest: Mass | None = None
    trim: Mass | None = None


class PackedUnit(Shape, frozen=True):
    """One pack by its net weight."""

    weight: Weighed


class Pack(Shape, frozen=True, rename={"from_": "from"}):
    """One packing session makes one pack lot of these pieces; each pack is a unit of it."""

    from_: Annotated[tuple[PackedPiece, ...], ONE]
    packs: Annotated[tuple[PackedUnit, ...], ONE]
    session: str
    market: Market
    language: str
    form: str
    product: str | None = None
    slicer: str | None = None

    def __post_init__(self) -> None:
        choices.form_of_sale(self.form)


class Sell(Shape, frozen=True):
    """Packs go to a customer, or over the counter to the public."""

    packs: Annotated[tuple[str, ...], ONE]
    customer: str | None = None
    public: bool = False
    document: str | None = None

    def __post_init__(self) -> None:
        if (self.customer is None) == (not self.public):
            raise InputError("customer", "a customer, or public: true", "both" if self.public else "neither")


class Give(Shape, frozen=True):
    """Packs given away; whom to tell in a recall."""

    to: str
    packs: Annotated[tuple[str, ...], ONE]


class Return(Shape, frozen=True, rename={"from_": "from"}):
    """Packs come back: held, and destroyed when they come from a consumer."""

    from_: str
    packs: Annotated[tuple[str, ...], ONE]


class Dispose(Shape, frozen=True):
    """All or some of a lot is destroyed, eaten at home or taken as a sample."""

    lot: str
    how: Literal["destroyed", "own_use", "sample"]
    weight: Mass | None = None


class Hold(Shape, frozen=True):
    """Nothing of these lots is packed, sold or given away until someone lifts the hold."""

    lots: Annotated[tuple[str, ...], ONE]
    reason: str


class Lift(Shape, frozen=True):
    """The decision that ends a hold."""

    lots: Annotated[tuple[str, ...], ONE]
    reason: str


class Complaint(Shape, frozen=True):
    """What a buyer says, with the code where there is one."""

    text: str
    code: str | None = None
    contact: str | None = None


class IssueLabel(Shape, frozen=True):
    """A label left the printer or was saved as PDF: what it said, and what that relied on."""

    lots: Annotated[tuple[str, ...], ONE]
    layout: str
    layout_digest: str
    content: dict[str, Any]
    market: Market | None = None
    language: str | None = None
    rules: tuple[str, ...] = ()
    allergens: tuple[str, ...] = ()
    proof: dict[str, Any] | None = None


class Correct(Shape, frozen=True):
    """An earlier fact was wrong: this one stands in its place, or it never happened (``instead: null``)."""

    fact: int
    instead: dict[str, Any] | None
    reason: str


KINDS: dict[str, type[Shape]] = {
    "workshop": Workshop, "supplier": Supplier, "customer": Customer, "ingredient": Ingredient, "product": Product,
    "recipe": Recipe, "receive": Receive, "cut": Cut, "cure": Cure, "take_out": TakeOut, "string": String, "weigh": Weigh,
    "release": Release, "pack": Pack, "sell": Sell, "give": Give, "return": Return, "dispose": Dispose, "hold": Hold,
    "lift": Lift, "complaint": Complaint, "issue_label": IssueLabel, "correct": Correct,
}  # fmt: skip
# A card says what a thing is, until a later fact of the same name says otherwise.
CARDS = ("workshop", "supplier", "customer", "ingredient", "product", "recipe")


def read(kind: str, given: object) -> Shape:
    """Return the checked body of a fact.

    Args:
        kind: one of ``KINDS``.
        given: the JSON object as Python values.

    Raises:
        InputError: an unknown kind or field, a missing field, a float, or a value that cannot be; names the field.
    """
    return read_shape(shape_of(kind), given, kind)


def shape_of(kind: str) -> type[Shape]:
    """Return the shape of a kind of fact.

    Raises:
        InputError: no such kind.
    """
    if kind not in KINDS:
        raise InputError("kind", f"one of {', '.join(KINDS)}", kind)
    return KINDS[kind]


def new_lots(body: Shape) -> tuple[str, ...]:
    """Return the kinds of the lots that a fact gives a code to, in order."""
    if isinstance(body, Receive):
        return (body.kind,)
    if isinstance(body, Cut):
        return ("piece",) * len(body.pieces)
    if isinstance(body, Cure) and len(body.pieces) > 1:
        return ("ingredient",)  # one mix for several pieces is a lot of its own
    if isinstance(body, Pack):
        return ("pack",)
    return ()


def trichinella_status(value: Trichinella | str | None) -> str:
    """Return tested, controlled_housing, frozen or unknown."""
    if isinstance(value, Trichinella):
        return value.status
    return choices.trichinella(value) if value is not None else "unknown"
