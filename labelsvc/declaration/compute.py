"""The contracts ``compute declaration`` and ``compute nutrition``: a JSON object in, a JSON object out."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import Annotated, Any

from labelsvc.declaration.declare import declare
from labelsvc.declaration.ingredient_use import IngredientUse
from labelsvc.declaration.nutrition import NutritionLine, nutrition_declaration
from labelsvc.shape import AtLeastOne, Shape, Text, Weighed, read_shape


class DeclarationRequest(Shape, frozen=True):
    """What the contract ``declaration`` asks."""

    market: Text
    language: Text
    on: dt.date
    finished_weight: Weighed
    food_name: Text
    ingredients: Annotated[tuple[IngredientUse, ...], AtLeastOne]


class NutritionRequest(Shape, frozen=True):
    """What the contract ``nutrition`` asks."""

    market: Text
    finished_weight: Weighed
    ingredients: Annotated[tuple[NutritionLine, ...], AtLeastOne]


def declaration(request: Mapping[str, Any]) -> dict[str, Any]:
    """Return the declaration of one product.

    Args:
        request: the JSON object of a ``DeclarationRequest``.

    Returns:
        ``{ingredient_list, runs, contains?, quantity_statement, quantities, allergens, statements, findings}``.

    Raises:
        InputError: names the field, what was expected and what was given.
    """
    asked = read_shape(DeclarationRequest, request, "declaration", strict=True)
    return declare(
        asked.ingredients,
        market=asked.market,
        language=asked.language,
        on=asked.on,
        finished_weight=asked.finished_weight,
        food_name=asked.food_name,
    ).as_json()


def nutrition(request: Mapping[str, Any]) -> dict[str, Any]:
    """Return the nutrition declaration of one product.

    Args:
        request: the JSON object of a ``NutritionRequest``.

    Returns:
        ``{per_100g, declared}``: exact values as plain digits, and the same as printed.

    Raises:
        InputError: names the field, what was expected and what was given.
    """
    asked = read_shape(NutritionRequest, request, "nutrition", strict=True)
    return nutrition_declaration(asked.ingredients, market=asked.market, finished_weight=asked.finished_weight).as_json()
