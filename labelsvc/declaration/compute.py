"""The contracts ``compute declaration`` and ``compute nutrition``: a JSON object in, a JSON object out."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import localcontext
from typing import Any

from labelsvc.declaration.declare import declare
from labelsvc.declaration.ingredient_use import IngredientUse
from labelsvc.declaration.nutrition import NutritionLine, nutrition_declaration
from labelsvc.declaration.request import check_fields, day_of, list_of, positive_weight, text_of
from labelsvc.errors import InputError


def declaration(request: Mapping[str, Any]) -> dict[str, Any]:
    """Return the declaration of one product.

    Args:
        request: ``{market, language, on, finished_weight, food_name, ingredients}``.

    Returns:
        ``{ingredient_list, runs, contains?, quantity_statement, quantities, allergens, statements, findings}``.

    Raises:
        InputError: names the field, what was expected and what was given.
    """
    values = check_fields(request, "", ("market", "language", "on", "finished_weight", "food_name", "ingredients"))
    listed = _some(list_of(values, "ingredients"))
    with localcontext() as decimals:
        decimals.prec = 50  # shares of shares stay exact
        uses = [IngredientUse.from_json(one, f"ingredients[{position}]") for position, one in enumerate(listed)]
    return declare(
        uses,
        market=text_of(values, "market"),
        language=text_of(values, "language"),
        on=day_of(values, "on"),
        finished_weight=positive_weight(values, "finished_weight"),
        food_name=text_of(values, "food_name"),
    ).as_json()


def nutrition(request: Mapping[str, Any]) -> dict[str, Any]:
    """Return the nutrition declaration of one product.

    Args:
        request: ``{market, finished_weight, ingredients: [{name, weight, per_100g}]}``.

    Returns:
        ``{per_100g, declared}``: exact values as plain digits, and the same as printed.

    Raises:
        InputError: names the field, what was expected and what was given.
    """
    values = check_fields(request, "", ("market", "finished_weight", "ingredients"))
    listed = _some(list_of(values, "ingredients"))
    lines = [NutritionLine.from_json(one, f"ingredients[{position}]") for position, one in enumerate(listed)]
    return nutrition_declaration(
        lines, market=text_of(values, "market"), finished_weight=positive_weight(values, "finished_weight")
    ).as_json()


def _some(listed: list[Any]) -> list[Any]:
    if not listed:
        raise InputError("ingredients", "at least one ingredient", "none")
    return listed
