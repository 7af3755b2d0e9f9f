"""Recipes and ingredients as the workshop enters them: frozen values, read from plain JSON shapes."""

from __future__ import annotations

from decimal import Decimal

import msgspec

from labelsvc.errors import InputError
from labelsvc.shape import Percent, Ppm, Shape, Text
from labelsvc.units import plain


class Additive(Shape, frozen=True):
    """An additive: E number where it has one, its name in the law, and its function (class word)."""

    name: str
    function: str
    e_number: str | None = None


class Per100g(Shape, frozen=True):
    """Composition of 100 g: grams, sodium in milligrams."""

    fat: Percent
    saturates: Percent
    carbohydrate: Percent
    sugars: Percent
    protein: Percent
    sodium_mg: Ppm
    fibre: Percent | None = None
    organic_acid: Percent | None = None
    alcohol: Percent | None = None

    def __post_init__(self) -> None:
        for part, whole in (("saturates", "fat"), ("sugars", "carbohydrate")):
            grams, most = getattr(self, part), getattr(self, whole)
            if grams > most:
                raise InputError(part, f"at most the {whole}, {plain(most)} g", f"{plain(grams)} g")
        if self.sodium_mg > 100_000:
            raise InputError("sodium_mg", "at most the 100000 mg that 100 g are", plain(self.sodium_mg))


class Described(Shape, frozen=True, kw_only=True):
    """What a container or specification says of an ingredient, or a mix of one of its parts.

    ``names`` are its names by label language, where ``name`` is not the word to print there.
    """

    name: Text
    names: dict[str, str] = msgspec.field(default_factory=dict)
    category: str | None = None
    species: str | None = None
    fat_percent: Percent | None = None
    collagen_percent: Percent | None = None
    protein_percent: Percent | None = None
    bone_percent: Percent | None = None
    allergens: tuple[str, ...] = ()
    form: str | None = None
    additive: Additive | None = None
    components: tuple[Component, ...] = ()
    so2_mg_per_kg: Ppm | None = None

    def __post_init__(self) -> None:
        total = sum((part.percent for part in self.components), Decimal(0))
        if total > 100:
            raise InputError("components", "percentages that add up to at most 100", f"{total}")


class Component(Described, frozen=True, kw_only=True):
    """One part of a compound ingredient or premix, by percent of the mix."""

    percent: Percent


class RecipeLine(Shape, frozen=True):
    """One ingredient of a recipe, by percent of the green weight."""

    ingredient: str
    percent_of_green: Percent
