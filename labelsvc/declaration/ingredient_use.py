"""One ingredient as it was used: what went in, how much of it, and what its supplier says about it."""

from __future__ import annotations

import re
import tomllib
from functools import cache
from importlib import resources
from typing import Literal, Self

from labelsvc import recipe
from labelsvc.declaration.words import allergen_key, species_key
from labelsvc.errors import InputError
from labelsvc.shape import Percent, Text, read_shape
from labelsvc.units import Mass

Form = Literal[
    "glucose_syrup", "dextrose", "maltodextrin", "distillate", "lactitol", "refined_oil", "tocopherols",
    "phytosterols", "stanol_ester", "gelatine_carrier", "fining",
]  # fmt: skip
_E_NUMBER = re.compile(r"E\s*([0-9]{3,4}[a-z]{0,2}(?:\([ivx]+\))?)", re.IGNORECASE | re.ASCII)
_SPELLED = {"color": "colour", "stabilizer": "stabiliser"}


class ENumber(Text):
    """A European additive number such as ``E 250``, given with or without space."""

    @classmethod
    def read(cls, value: object) -> Self:
        """Return the number in one spelling."""
        text = super().read(value)
        match = _E_NUMBER.fullmatch(text)
        if match is None:
            raise InputError("", "an E number such as E 250", text)
        return cls(f"E {match[1].lower()}")


class ClassWord(Text):
    """A class of additives by the law's word, such as ``preservative``, or a category of ingredients, in lower case."""

    @classmethod
    def read(cls, value: object) -> Self:
        """Return the word in one spelling."""
        word = super().read(value).casefold().replace("_", " ")
        return cls(_SPELLED.get(word, word))


class Species(Text):
    """An animal by our key (``pork`` is ``pig``), or as written where we do not know it."""

    @classmethod
    def read(cls, value: object) -> Self:
        """Return the key."""
        return cls(species_key(super().read(value)))


class Allergen(Text):
    """An allergen by our key, given as a person writes it."""

    @classmethod
    def read(cls, value: object) -> Self:
        """Return the key."""
        return cls(allergen_key(super().read(value), ""))


class Additive(recipe.Additive, frozen=True):
    """An additive by its specific name (``sodium nitrite``), the law's class word for what it does, and its number."""

    name: Text
    function: ClassWord
    e_number: ENumber | None = None


@cache
def known_additive(name: str) -> Additive | None:
    """Return the additive of that name (``sodium nitrite``) with its usual class, or None where the name is none of ours."""
    text = (resources.files("labelsvc.declaration") / "additives.toml").read_text(encoding="utf-8")
    rows = tomllib.loads(text)["additives"]
    said = name.strip().casefold()
    row = next((row for row in rows if said in (row["name"], *row.get("also", ()))), None)
    return None if row is None else Additive(Text(row["name"]), ClassWord(row["function"]), ENumber.read(row["e_number"]))


class _Described(recipe.Described, frozen=True, kw_only=True):
    """The same as on the card, its words read as the law's."""

    category: ClassWord | None = None
    species: Species | None = None
    allergens: tuple[Allergen, ...] = ()
    form: Form | None = None
    additive: Additive | None = None
    components: tuple[Component, ...] = ()  # type: ignore[assignment]  # its parts are read as strictly as itself
    quantify: bool | None = None


class Component(_Described, frozen=True, kw_only=True):
    """A part of a compound ingredient, in percent of the whole."""

    percent: Percent


class IngredientUse(_Described, frozen=True, kw_only=True):
    """An ingredient at the time of use.

    Args:
        name: as it would be sold on its own.
        names: its names by label language, where that differs.
        weight: at the time of use.
        category: ``meat``, ``fat``, ``spice``, ``herb``, ``water``, ``premix`` (its parts join the list), or any other word.
        species: the animal, such as ``pig`` or ``pork``.
        fat_percent: fat in the meat, g per 100 g.
        collagen_percent: collagen in the meat's protein, g per 100 g of protein: the law's collagen/meat protein ratio.
        protein_percent: meat protein, g per 100 g; sizes connective tissue that must be named.
        bone_percent: bone in the meat as weighed; it is no meat.
        so2_mg_per_kg: total sulphur dioxide in the ingredient; None = not known.
        allergens: as a person writes them; kept as our keys.
        form: what the allergen's source was made into, where the law exempts that form.
        additive: where the ingredient is one additive.
        components: what a compound ingredient is made of.
        quantify: whether its quantity is declared; None = meat and what the name mentions is.
    """

    weight: Mass

    @property
    def parts(self) -> tuple[IngredientUse, ...]:
        """The components, each with its own weight."""
        return tuple(
            IngredientUse(
                weight=Mass(self.weight.grams * part.percent / 100),
                **{name: getattr(part, name) for name in _Described.__struct_fields__},
            )
            for part in self.components
        )

    @classmethod
    def from_json(cls, given: object, field: str) -> IngredientUse:
        """Read one ingredient of the contract.

        Args:
            given: ``{name, weight, ...}``.
            field: where it stands, such as ``ingredients[0]``.

        Raises:
            InputError: names the field, what was expected and what was given.
        """
        try:
            return read_shape(IngredientUse, given, "", strict=True)
        except InputError as error:
            raise error.within(field) from None
