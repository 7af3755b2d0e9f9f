"""Cards: who we are, whom we deal with, and what we make. A card holds until a later one of the same name."""

from __future__ import annotations

import re
from typing import Annotated, Literal
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from labelsvc import choices
from labelsvc.errors import InputError
from labelsvc.recipe import Additive, Component, Per100g, RecipeLine, check_components
from labelsvc.shape import AtLeastOne, Exact, Percent, Shape, Text
from labelsvc.units import Mass


class Workshop(Shape, frozen=True):
    """The workshop: what stands on every label and decides what may be sold to whom."""

    name: Text
    address: Text
    timezone: Text
    country: Text
    standing: Text
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


class Ingredient(Shape, frozen=True):
    """Something that goes on or into the meat, as its container says; allergens by the names of the law."""

    name: Text
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

    name: Text
    lines: Annotated[tuple[RecipeLine, ...], AtLeastOne]
