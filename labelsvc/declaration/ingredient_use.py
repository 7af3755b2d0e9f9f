"""One ingredient as it was used: what went in, how much of it, and what its supplier says about it."""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from labelsvc.declaration.request import check_fields, flag_of, list_of, optional_text, percent_of, place, text_of
from labelsvc.declaration.words import allergen_key, species_key
from labelsvc.errors import InputError
from labelsvc.units import Mass, plain

FORMS = (
    "glucose_syrup", "dextrose", "maltodextrin", "distillate", "lactitol", "refined_oil", "tocopherols",
    "phytosterols", "stanol_ester", "gelatine_carrier", "fining",
)  # fmt: skip
_OPTIONAL = (
    "category", "species", "fat_percent", "collagen_percent", "protein_percent", "so2_mg_per_kg", "allergens", "form",
    "additive", "components", "quantify",
)  # fmt: skip
_E_NUMBER = re.compile(r"E\s*([0-9]{3,4}[a-z]{0,2}(?:\([ivx]+\))?)", re.IGNORECASE | re.ASCII)


@dataclass(frozen=True)
class Additive:
    """An additive by its class and its name.

    Args:
        name: specific name, such as ``sodium nitrite``.
        function: class word of the law, such as ``preservative``.
        e_number: such as ``E 250``, written with or without space, or None.
    """

    name: str
    function: str
    e_number: str | None = None

    def __post_init__(self) -> None:
        function = self.function.strip().casefold().replace("_", " ")
        object.__setattr__(self, "function", {"color": "colour", "stabilizer": "stabiliser"}.get(function, function))
        if self.e_number is not None:
            match = _E_NUMBER.fullmatch(self.e_number.strip())
            if match is None:
                raise InputError("additive.e_number", "an E number such as E 250", self.e_number)
            object.__setattr__(self, "e_number", f"E {match[1].lower()}")

    @classmethod
    def from_json(cls, obj: object, field: str) -> Additive:
        """Read ``{e_number?, name, function}``; errors name the field."""
        values = check_fields(obj, field, ("name", "function"), ("e_number",))
        e_number = optional_text(values, "e_number", field)
        if e_number is not None and _E_NUMBER.fullmatch(e_number) is None:
            raise InputError(place(field, "e_number"), "an E number such as E 250", e_number)
        return cls(text_of(values, "name", field), text_of(values, "function", field), e_number)


@dataclass(frozen=True)
class IngredientUse:
    """An ingredient at the time of use.

    Args:
        name: as it would be sold on its own, in the language of the label.
        weight: at the time of use.
        category: ``meat``, ``fat``, ``spice``, ``herb``, ``water``, ``premix`` (its parts join the list), or any other word.
        species: the animal, such as ``pig`` or ``pork``.
        fat_percent: fat in the meat, g per 100 g.
        collagen_percent: collagen in the meat's protein, g per 100 g of protein: the law's collagen/meat protein ratio.
        protein_percent: meat protein, g per 100 g; sizes connective tissue that must be named.
        so2_mg_per_kg: total sulphur dioxide in the ingredient; None = not known.
        allergens: as a person writes them; kept as our keys. None = nothing said.
        form: what the allergen's source was made into, where the law exempts that form.
        additive: where the ingredient is one additive.
        components: parts of a compound ingredient, each with its own weight.
        quantify: whether its quantity is declared; None = meat and what the name mentions is.
    """

    name: str
    weight: Mass
    category: str | None = None
    species: str | None = None
    fat_percent: Decimal | None = None
    collagen_percent: Decimal | None = None
    so2_mg_per_kg: Decimal | None = None
    allergens: frozenset[str] | None = None
    form: str | None = None
    additive: Additive | None = None
    components: tuple[IngredientUse, ...] = ()
    quantify: bool | None = None
    protein_percent: Decimal | None = None

    def __post_init__(self) -> None:
        if self.allergens is not None:
            object.__setattr__(self, "allergens", frozenset(allergen_key(text) for text in self.allergens))
        if self.species is not None:
            object.__setattr__(self, "species", species_key(self.species))
        if self.form is not None and self.form not in FORMS:
            raise InputError("form", f"one of {', '.join(FORMS)}", self.form)
        if sum((part.weight.grams for part in self.components), Decimal(0)) > self.weight.grams:
            raise InputError("components", "parts of at most 100 % together", self.name)

    @classmethod
    def from_json(cls, obj: object, field: str, part_of: Mass | None = None) -> IngredientUse:
        """Read one ingredient of the contract.

        Args:
            obj: ``{name, weight, ...}``, or ``{name, percent, ...}`` for a component.
            field: where it stands, such as ``ingredients[0]``.
            part_of: the weight of the ingredient this is a component of, or None.

        Raises:
            InputError: names the field, what was expected and what was given.
        """
        amount = "weight" if part_of is None else "percent"
        values = check_fields(obj, field, ("name", amount), _OPTIONAL)
        weight = Mass.parse(values["weight"], place(field, "weight")) if part_of is None else _share(values, field, part_of)
        return cls(
            name=text_of(values, "name", field),
            weight=weight,
            category=_category(values, field),
            species=optional_text(values, "species", field),
            fat_percent=percent_of(values, "fat_percent", field),
            collagen_percent=percent_of(values, "collagen_percent", field),
            so2_mg_per_kg=percent_of(values, "so2_mg_per_kg", field, 1_000_000),
            allergens=_allergens(values, field),
            form=_form(values, field),
            additive=None if values.get("additive") is None else Additive.from_json(values["additive"], place(field, "additive")),
            components=_components(values, field, weight),
            quantify=flag_of(values, "quantify", field),
            protein_percent=percent_of(values, "protein_percent", field),
        )


def _share(values: Any, field: str, part_of: Mass) -> Mass:
    percent = percent_of(values, "percent", field)
    return Mass(part_of.grams * (percent or Decimal(0)) / 100)


def _category(values: Any, field: str) -> str | None:
    text = optional_text(values, "category", field)
    return None if text is None else text.casefold()


def _form(values: Any, field: str) -> str | None:
    form = optional_text(values, "form", field)
    if form is not None and form not in FORMS:
        raise InputError(place(field, "form"), f"one of {', '.join(FORMS)}", form)
    return form


def _allergens(values: Any, field: str) -> frozenset[str] | None:
    if values.get("allergens") is None:
        return None
    keys = set()
    for position, text in enumerate(list_of(values, "allergens", field)):
        where = f"{place(field, 'allergens')}[{position}]"
        if not isinstance(text, str):
            raise InputError(where, "the name of an allergen", repr(text))
        keys.add(allergen_key(text, where))
    return frozenset(keys)


def _components(values: Any, field: str, weight: Mass) -> tuple[IngredientUse, ...]:
    where = place(field, "components")
    percents = [part.get("percent") for part in list_of(values, "components", field) if isinstance(part, dict)]
    parts = tuple(
        IngredientUse.from_json(part, f"{where}[{position}]", weight)
        for position, part in enumerate(list_of(values, "components", field))
    )
    total = sum((Decimal(str(percent)) for percent in percents), Decimal(0))
    if total > 100:
        raise InputError(where, "parts of at most 100 % together", f"{plain(total)} %")
    return parts
