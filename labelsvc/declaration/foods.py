"""What 100 g of an ingredient hold: as its card says, else by an open table whose number is cited, else from its parts."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from functools import cache
from importlib import resources
from typing import Any

from msgspec import structs

from labelsvc.errors import InputError
from labelsvc.facts import Ingredient, Meat
from labelsvc.recipe import Described, Per100g
from labelsvc.shape import read_shape

_NEEDED = ("fat", "saturates", "carbohydrate", "sugars", "protein", "sodium_mg")


@dataclass(frozen=True)
class Composition:
    """What 100 g hold, and where that comes from (``table salt, 02047``)."""

    per_100g: Per100g
    source: str


def composition_of(card: Ingredient | Meat, described: Described | None = None) -> Composition | None:
    """Return the composition of an ingredient or a product's meat, or None where it is not known.

    Args:
        card: with ``per_100g`` or the number of a food of the table.
        described: its name, which the table may know, and its parts.

    Raises:
        InputError: a number that the table does not have.
    """
    if card.per_100g is not None:
        return Composition(card.per_100g, "the card")
    if card.food is not None:
        return food_of(card.food)
    return None if described is None else _named_or_mixed(described)


def food_of(number: str, field: str = "food") -> Composition:
    """Return the composition of a food of the table by its number.

    Raises:
        InputError: no such number.
    """
    row = _by_number().get(number)
    if row is None:
        raise InputError(field, "the number of a food of the table, such as 10080", number)
    return _composition(row)


def foods() -> list[tuple[str, str]]:
    """Return number and name of each food of the table."""
    return [(number, str(row["name"])) for number, row in _by_number().items()]


def _named_or_mixed(part: Described) -> Composition | None:
    """By name, else by the parts of which the card says how much there is; no part may be unknown."""
    row = _by_name().get(part.name.casefold())
    if row is not None and not part.components:
        return _composition(row)
    parts = [(one.percent, _named_or_mixed(one)) for one in part.components]
    if not parts or sum(percent for percent, _ in parts) != 100:
        return None
    known = [(percent, found) for percent, found in parts if found is not None]
    if len(known) < len(parts):
        return None
    sums = {name: sum((p * (getattr(f.per_100g, name) or 0) for p, f in known), Decimal(0)) / 100 for name in _NEEDED}
    return Composition(_read(sums), "its parts: " + "; ".join(dict.fromkeys(found.source for _, found in known)))


def _composition(row: Mapping[str, Any]) -> Composition:
    number = f", USDA SR 26 number {row['number']}" if str(row["number"]).isdigit() else ", by atomic weights"
    return Composition(_read(row["per_100g"]), f"{row['name']}{number}")


def _read(values: Mapping[str, Any]) -> Per100g:
    return read_shape(Per100g, {name: format(Decimal(value), "f") for name, value in values.items()}, "per_100g")


@cache
def _by_number() -> Mapping[str, Mapping[str, Any]]:
    text = (resources.files("labelsvc.declaration") / "foods.toml").read_text(encoding="utf-8")
    return {row["number"]: row for row in tomllib.loads(text)["food"]}


@cache
def _by_name() -> Mapping[str, Mapping[str, Any]]:
    return {name: row for row in _by_number().values() for name in row.get("also", ())}


def meat_shares(meat: Meat | None) -> dict[str, Decimal]:
    """Return fat, collagen and protein of a product's meat in percent, as far as the card or its food tells them."""
    if meat is None:
        return {}
    given = {name: value for name, value in structs.asdict(meat).items() if name.endswith("_percent") and value is not None}
    found = composition_of(meat)
    known = {"fat_percent": found.per_100g.fat, "protein_percent": found.per_100g.protein} if found else {}
    return {**known, **given}
