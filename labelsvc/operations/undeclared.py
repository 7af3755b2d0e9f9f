"""Packs whose label did not say what the ledger knows: an allergen that went in, undeclared."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from labelsvc import facts
from labelsvc.declaration.words import allergen_key, declared_key
from labelsvc.errors import InputError
from labelsvc.ledger import flows, read, search
from labelsvc.ledger.asof import AsOf
from labelsvc.ledger.database import Connection
from labelsvc.recipe import Described


def packs_not_declaring(connection: Connection, allergen: str) -> list[int]:
    """Return the numbers of the packs that an allergen went into and whose last sale label before it left did not declare it.

    A pack without any sale label declared nothing. Sulphites count wherever they went in: how much was left is not known.

    Args:
        connection: where.
        allergen: as a person writes it, such as mustard or the law's name.

    Raises:
        InputError: no allergen of the law.
    """
    key = allergen_key(allergen, "undeclared")
    carriers = [number for name in _ingredients_with(connection, key) for number in read.matching(connection, ingredient=name)]
    reached = {receiver for _, receiver, _ in flows.links_forward(connection, carriers)} if carriers else set()
    packs = {number: row.code for number, row in read.shown(connection, reached).items() if row.kind == "pack"}
    left = {row.lot: row.fact for row in flows.handed_over_of(connection, packs.keys()) if row.milligrams > 0}
    labels = search.sale_labels_of(connection, packs.values())
    return [number for number, code in packs.items() if key not in _declared(labels.get(code, ()), left.get(number))]


def _ingredients_with(connection: Connection, key: str) -> Iterator[str]:
    lookup = AsOf(connection, read.END_OF_TIME)
    for name in read.ingredient_names(connection):
        card = lookup.card("ingredient", name)
        if isinstance(card, facts.Ingredient) and key in _keys(card):
            yield name


def _keys(part: Described) -> set[str]:
    own = {_key(allergen) for allergen in part.allergens}
    return own.union(*(_keys(inner) for inner in part.components))


def _key(allergen: str, language: str = "en") -> str:
    try:
        return declared_key(allergen, language)
    except InputError:
        return (
            allergen.casefold()
        )  # a word the law does not know: kept as it is, so that a search for it can be refused elsewhere


def declared_on(label: Mapping[str, Any]) -> set[str]:
    """Return the keys of the allergens that an issued label names, in whatever language it does."""
    return {_key(allergen, label.get("language") or "en") for allergen in label.get("allergens", ())}


def _declared(labels: Sequence[tuple[int, Mapping[str, Any]]], left_by: int | None) -> set[str]:
    """What the label said that the pack left with: a label printed afterwards is not on it."""
    said = [body for fact, body in labels if left_by is None or fact < left_by]
    return declared_on(said[-1]) if said else set()
