"""Cards: who we are, whom we deal with, and what we make. A card holds until a later one of the same name."""

from __future__ import annotations

import re
from typing import Annotated, Literal, Self
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import msgspec

from labelsvc import choices
from labelsvc.errors import InputError
from labelsvc.recipe import Described, Per100g, RecipeLine
from labelsvc.shape import AtLeastOne, Exact, Percent, Shape, Text
from labelsvc.units import Mass

Treatment = Literal["smoked", "defrosted", "formed"]


class Country(Text):
    """A country code of two capitals such as FR."""

    @classmethod
    def read(cls, value: object) -> Self:
        """Return the code of a JSON value."""
        text = super().read(value)
        if not re.fullmatch(r"[A-Z]{2}", text):
            raise InputError("", "a country code of two capitals such as FR", text)
        return cls(text)


class SmallMaker(Shape, frozen=True):
    """What decides whether a small maker may leave out the nutrition declaration; without it, the declaration is asked for.

    Args:
        staff: people at work.
        turnover_eur: of a year, in euro.
        local: everything is sold to consumers or to local shops that sell to them, as the authority reads "local".
        pounds_a_year: of the product, for the United States.
    """

    staff: int
    turnover_eur: Exact | None = None
    local: bool = False
    pounds_a_year: Exact | None = None


class Workshop(Shape, frozen=True):
    """The workshop: what stands on every label and decides what may be sold to whom.

    Abroad another operator's address may have to stand on the label: ``address_in_eu``, ``address_in_gb``.
    """

    name: Text
    address: Text
    timezone: Text
    country: Country
    standing: Text
    base_url: str | None = None
    approval_number: str | None = None
    address_in_eu: str | None = None
    address_in_gb: str | None = None
    small_maker: SmallMaker | None = None
    contact: str | None = None

    def __post_init__(self) -> None:
        try:
            ZoneInfo(self.timezone)
        except (ZoneInfoNotFoundError, ValueError):
            raise InputError("timezone", "a time zone such as Europe/Lisbon", self.timezone) from None
        choices.standing(self.standing)


class Supplier(Shape, frozen=True):
    """Someone animals, parts, ingredients, casings or bags come from."""

    name: Text
    address: str | None = None
    contact: str | None = None
    business: bool = True


class Customer(Shape, frozen=True):
    """Someone packs are sold to; a consumer is ``business: false``."""

    name: Text
    address: str | None = None
    contact: str | None = None
    business: bool = True


class Ingredient(Described, frozen=True, kw_only=True):
    """Something that goes on or into the meat, as its container says; allergens by the names of the law.

    Its composition is given, or that of a food of the open table by its number.
    """

    per_100g: Per100g | None = None
    food: str | None = None


class Meat(Shape, frozen=True):
    """The meat a product is cut from: its composition by analysis, or by the number of a food of the open table."""

    food: str | None = None
    per_100g: Per100g | None = None
    fat_percent: Percent | None = None
    collagen_percent: Percent | None = None
    protein_percent: Percent | None = None
    bone_percent: Percent | None = None


class Control(Shape, frozen=True):
    """What keeps a vacuum or gas pack safe beyond a few days, and where that is written down."""

    what: Literal["heated", "ph", "water_phase_salt", "water_activity", "proven"]
    record: Text
    value: Exact | None = None

    def __post_init__(self) -> None:
        if self.what in ("ph", "water_phase_salt", "water_activity") and self.value is None:
            raise InputError("value", f"the measured {self.what.replace('_', ' ')}", "nothing")


class DisplayPanel(Shape, frozen=True):
    """The pack's shape and measures, from which US law takes the area that is displayed; lengths in centimetres.

    Raises:
        InputError: a measure that the shape needs is missing, is 0, or is one the shape has no use for.
    """

    shape: Literal["rectangle", "cylinder", "other"]
    height_cm: Exact | None = None
    width_cm: Exact | None = None
    around_cm: Exact | None = None
    surface_cm2: Exact | None = None

    def __post_init__(self) -> None:
        wanted = {"rectangle": ("height_cm", "width_cm"), "cylinder": ("height_cm", "around_cm"), "other": ("surface_cm2",)}
        for name in ("height_cm", "width_cm", "around_cm", "surface_cm2"):
            value = getattr(self, name)
            if name not in wanted[self.shape] and value is not None:
                raise InputError(f"display_panel.{name}", f"no such measure of the shape {self.shape}", str(value))
            if name in wanted[self.shape] and (value is None or value <= 0):
                got = "none" if value is None else str(value)
                raise InputError(f"display_panel.{name}", f"a measure above 0, which the shape {self.shape} needs", got)


class Product(Shape, frozen=True, rename={"class_": "class"}):
    """Something the workshop makes and sells; ``eaten`` decides whether the label asks to cook it, cooked is the default.

    ``class`` is the class of the law; ``classes`` says it for a market where it differs.

    Args:
        names: of the food on the label, by language, where it is not ``food_name``.
        countries: where it is sold.
        meat: composition of the meat it is cut from.
        treatments: what was done to it that its name must tell.
        inedible: what of it is not eaten.
        packed_in: whether the pack holds air, nothing (vacuum) or a gas.
        kept: whether the label asks for a fridge or freezer.
        control: what keeps a pack without air safe beyond a few days.
        perishable: whether, kept as the label says, it soon becomes dangerous.
        face_cm2: largest face of the pack.
        display_panel: shape and measures of the pack, which decide the size of the US net weight.
        origin_claim: the country that the label names or shows.
        protected_name: the protected name the workshop may use.
        is_preparation: whether it is a meat preparation and no meat product: added water is listed however little it is.
        on_stock: what stands on the empty stock already and is not printed again.
        per_100g: of the finished product, by analysis.
        skin_on: whether it is cured with its rind, which takes up hardly any cure.
        date_place: where on the pack the date stands when it is stamped there, such as ``see base of pack``.
    """

    name: Text
    species: Text
    cut: Text
    markets: tuple[str, ...]
    languages: tuple[str, ...]
    shelf_life_days: int
    storage: Text
    class_: Text
    eaten: Literal["as_is", "cooked"] = "cooked"
    target_loss_percent: Percent | None = None
    loss_base: Literal["hang", "green"] = "hang"
    minimum_days: int | None = None
    tare: Mass | None = None
    gain_tolerance_percent: Percent = Percent(1)
    food_name: str | None = None
    names: dict[str, str] = msgspec.field(default_factory=dict)
    date_kind: Literal["best_before", "use_by"] = "best_before"
    cooking: str | None = None
    gtin: str | None = None
    case_gtin: str | None = None
    in_store: str | None = None
    in_store_item: int | None = None
    price_per_kg: Exact | None = None
    countries: tuple[Country, ...] = ()
    meat: Meat | None = None
    treatments: tuple[Treatment, ...] = ()
    inedible: tuple[Literal["casing", "rind", "netting"], ...] = ()
    packed_in: Literal["air", "vacuum", "gas"] | None = None
    kept: Literal["ambient", "chilled", "frozen"] | None = None
    control: Control | None = None
    perishable: bool | None = None
    face_cm2: Exact | None = None
    display_panel: DisplayPanel | None = None
    origin_claim: Country | None = None
    protected_name: str | None = None
    is_preparation: bool = False
    on_stock: tuple[Literal["mark", "safe_handling"], ...] = ()
    per_100g: Per100g | None = None
    date_place: str | None = None
    classes: dict[str, str] = msgspec.field(default_factory=dict)
    skin_on: bool = False

    def class_in(self, market: str) -> str:
        """Return the class of the law in a market: the one given for that market, else ``class``."""
        return self.classes.get(market.lower(), self.class_)

    def __post_init__(self) -> None:
        if not 1 <= self.shelf_life_days <= 3650:
            raise InputError("shelf_life_days", "1 to 3650 days", str(self.shelf_life_days))
        if self.minimum_days is not None and not 0 <= self.minimum_days <= 3650:
            raise InputError("minimum_days", "0 to 3650 days", str(self.minimum_days))
        if self.target_loss_percent is not None and not 0 < self.target_loss_percent < 80:
            raise InputError("target_loss_percent", "a loss above 0 and below 80", str(self.target_loss_percent))


class Recipe(Shape, frozen=True):
    """A cure by percent of the green weight."""

    name: Text
    lines: Annotated[tuple[RecipeLine, ...], AtLeastOne]
