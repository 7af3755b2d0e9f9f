"""What ``compute declaration``, ``nutrition`` and ``label`` ask and answer: a JSON object in, a JSON object out."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import Annotated, Any

import msgspec

from labelsvc.declaration.declare import NOTHING, declare
from labelsvc.declaration.foods import composition_of
from labelsvc.declaration.ingredient_use import IngredientUse
from labelsvc.declaration.label import Made, label_of
from labelsvc.declaration.naming import food_name
from labelsvc.declaration.nutrition import NutritionLine, nutrition_declaration
from labelsvc.declaration.nutrition_us import serving_of
from labelsvc.declaration.packing import Measured, Packing
from labelsvc.facts import Meat, Product, Workshop
from labelsvc.shape import AtLeastOne, Percent, Shape, Text, Weighed, read_shape


class DeclarationRequest(Shape, frozen=True):
    """What the contract ``declaration`` asks."""

    market: Text
    language: Text
    on: dt.date
    finished_weight: Weighed
    food_name: Text
    ingredients: Annotated[tuple[IngredientUse, ...], AtLeastOne]
    tail_percent: Percent | None = None
    is_preparation: bool = False
    measured: Measured = NOTHING


class LabelRequest(Shape, frozen=True):
    """What ``label`` asks: the cards of workshop and product, the pack, and what went in.

    ``per_100g`` or ``food`` of an ingredient is given by its name in ``composition``; what is left out there is looked up by
    name. ``rests_on`` is how many pieces the weights are an average of.
    """

    workshop: Workshop
    product: Product
    packing: Packing
    finished_weight: Weighed
    ingredients: Annotated[tuple[IngredientUse, ...], AtLeastOne]
    composition: dict[str, Meat] = msgspec.field(default_factory=dict)
    rests_on: int = 1


class NutritionRequest(Shape, frozen=True):
    """What the contract ``nutrition`` asks."""

    market: Text
    finished_weight: Weighed
    ingredients: Annotated[tuple[NutritionLine, ...], AtLeastOne]
    serving: Weighed | None = None


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
        tail_percent=asked.tail_percent,
        is_preparation=asked.is_preparation,
        measured=asked.measured,
    ).as_json()


def label(request: Mapping[str, Any]) -> dict[str, Any]:
    """Return everything the label of a pack says.

    Args:
        request: the JSON object of a ``LabelRequest``.

    Returns:
        ``{particulars: [{element, text, rule, title, known, citation, working}], smallest_mm, x_height_mm, findings}``.

    Raises:
        InputError: names the field, what was expected and what was given.
    """
    asked = read_shape(LabelRequest, request, "label", strict=True)
    packing, product = asked.packing, asked.product
    made = declare(
        asked.ingredients,
        market=packing.market,
        language=packing.language,
        on=packing.on,
        finished_weight=asked.finished_weight,
        food_name=food_name(product, packing.language),
        is_preparation=product.is_preparation,
        measured=packing.measured,
    )
    lines, unknown = _composed(asked)
    return label_of(
        product, asked.workshop, packing, Made(made, asked.finished_weight, asked.finished_weight, lines, unknown, asked.rests_on)
    ).as_json()


def _composed(asked: LabelRequest) -> tuple[list[NutritionLine], list[str]]:
    lines, unknown = [], []
    for use in asked.ingredients:
        found = composition_of(asked.composition.get(use.name, Meat()), use)
        if found is None:
            unknown.append(f"the composition of {use.name} is not known")
        else:
            lines.append(NutritionLine(name=use.name, weight=use.weight, per_100g=found.per_100g))
    return lines, unknown


def nutrition(request: Mapping[str, Any]) -> dict[str, Any]:
    """Return the nutrition declaration of one product.

    Args:
        request: the JSON object of a ``NutritionRequest``.

    Returns:
        ``{per_100g, declared}``: exact values as plain digits, and the same as printed. For the United States, with the weight
        of a serving: ``{per_100g, per_serving, declared, daily_values, findings}``, no whole panel.

    Raises:
        InputError: names the field, what was expected and what was given.
    """
    asked = read_shape(NutritionRequest, request, "nutrition", strict=True)
    if asked.market == "us":
        return serving_of(asked.ingredients, finished_weight=asked.finished_weight, serving=asked.serving).as_json()
    return nutrition_declaration(asked.ingredients, market=asked.market, finished_weight=asked.finished_weight).as_json()
