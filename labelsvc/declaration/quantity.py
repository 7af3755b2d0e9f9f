"""The quantity of the ingredients that characterise a food: percent, or grams for 100 g of finished product.

Regulation (EU) 1169/2011, Article 22 and Annex VIII; dried products by Annex VIII point 4(a).
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Literal

from labelsvc.declaration.context import Context
from labelsvc.declaration.line import Line
from labelsvc.declaration.words import number_text
from labelsvc.units import plain, ratio, round_half_up

QuantityForm = Literal["percent", "grams_per_100g"]


@dataclass(frozen=True)
class Quantity:
    """The declared quantity of one ingredient.

    Args:
        name: of the ingredient as printed.
        form: percent, or grams used for 100 g of finished product.
        value: as printed, plain digits with a decimal point.
        exact: before rounding, to ten decimals.
    """

    name: str
    form: QuantityForm
    value: str
    exact: str


def quantities(lines: Iterable[Line], food_name: str, context: Context) -> tuple[Quantity, ...]:
    """Return the declared quantities in the order of the list.

    Args:
        lines: of the list, in order.
        food_name: the name of the food; an ingredient it mentions is quantified unless it only flavours.
        context: rules and finished weight.

    Returns:
        Percentages of the finished weight; grams for 100 g as soon as one of them or their sum is over 100 %, decided
        before rounding. None in the US, where no such duty exists.

    Source: Regulation (EU) 1169/2011, Annex VIII point 4(a).
    """
    if context.market == "us":
        return ()
    shown = [line for line in _with_asked_parts(lines) if _is_quantified(line, food_name, context)]
    total = sum((line.weight for line in shown), Decimal(0))
    over = total * 100 > context.figure("quantity_grams") * context.finished
    form: QuantityForm = "grams_per_100g" if over else "percent"
    return tuple(_quantity(line, form, context) for line in shown)


def averaged(own: Sequence[Quantity], average: Sequence[Quantity]) -> tuple[Quantity, ...]:
    """Return the quantities of the product's average in the place of this one's own, as far as it has the same ingredients.

    Source: Commission Notice 2017/C 393/05: what is declared is the average of good practice.
    """
    if {one.name for one in own} != {one.name for one in average}:
        return tuple(own)
    by_name = {one.name: one for one in average}
    return tuple(by_name[one.name] for one in own)


def quantity_statement(declared: Sequence[Quantity], context: Context) -> str:
    """Return the quantities as one sentence, or an empty text where there are none."""
    if not declared:
        return ""
    words = context.words["quantity"]
    pattern = words["amount"] if declared[0].form == "grams_per_100g" else words["percent"]
    amounts = [pattern.format(value=number_text(one.value, context.words), name=one.name) for one in declared]
    if declared[0].form == "percent":
        return ", ".join(amounts)
    listed = amounts[0] if len(amounts) == 1 else f"{', '.join(amounts[:-1])} {context.words['and']} {amounts[-1]}"
    return str(words["grams"].format(amounts=listed))


def beside(lines: Iterable[Line], declared: Sequence[Quantity], context: Context) -> list[Line]:
    """Return the lines with each percentage beside its ingredient; grams stand in a sentence of their own."""
    percents = {one.name: one.value for one in declared if one.form == "percent"}
    return [replace(line, percent=number_text(percents.get(line.name, ""), context.words)) for line in lines]


def rounded_quantity(exact: Decimal, fine_below: Decimal) -> str:
    """Return a quantity as printed: a whole number, below 5 with one decimal; never rounded up to 100.

    A share just under 100 % keeps a decimal, because "100 %" beside salt would claim there is nothing else in it.
    """
    places = 1 if exact < fine_below else 0
    value = round_half_up(exact, places)
    if exact < 100 <= value:
        value = min(round_half_up(exact, 1), Decimal("99.9"))
    return plain(value)


def _quantity(line: Line, form: QuantityForm, context: Context) -> Quantity:
    exact = 100 * ratio(line.weight, context.finished)
    value = rounded_quantity(exact, context.figure("quantity_fine_below"))
    return Quantity(line.name, form, value, plain(round_half_up(exact, 10)))


def _with_asked_parts(lines: Iterable[Line]) -> list[Line]:
    found: list[Line] = []
    for line in lines:
        found.append(line)
        found += [part for part in _with_asked_parts(line.parts) if part.quantify or part.kind == "meat"]
    return found


def _is_quantified(line: Line, food_name: str, context: Context) -> bool:
    if line.quantify is not None:
        return line.quantify
    if line.kind == "meat":
        return True
    # salt in a name ("salt beef") tells how it was made and does not decide the choice: Annex VIII point 1(a)(iv)
    if line.kind in ("additive", "water") or line.key == "salt":
        return False
    small = line.weight * 100 <= context.figure("small_flavouring") * context.finished
    return not small and re.search(rf"(?<!\w){re.escape(line.name)}(?!\w)", food_name, re.IGNORECASE) is not None
