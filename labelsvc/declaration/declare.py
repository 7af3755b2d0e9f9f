"""The declaration of one product: its ingredient list with allergens standing out, quantities, statements and findings."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal, localcontext
from typing import Any

from labelsvc.declaration.allergens import (
    Run,
    all_allergens,
    contains_statement,
    law_keys,
    law_name,
    name_findings,
    stressed,
    sulphite_findings,
)
from labelsvc.declaration.context import Context, context_for
from labelsvc.declaration.ingredient_use import IngredientUse, known_additive
from labelsvc.declaration.ingredients import (
    added_water_finding,
    in_order,
    is_minor,
    is_premix,
    lines_of,
    name_classes,
    place_water,
    tail_text,
)
from labelsvc.declaration.line import Line
from labelsvc.declaration.meat import is_meat
from labelsvc.declaration.packing import Measured
from labelsvc.declaration.quantity import Quantity, averaged, beside, quantities, quantity_statement
from labelsvc.declaration.statements import uncured
from labelsvc.errors import InputError
from labelsvc.rules.finding import Finding
from labelsvc.units import Mass, plain

NOTHING = Measured()


@dataclass(frozen=True)
class Declaration:
    """What the label says about what is in the food.

    Args:
        ingredient_list: the list with its heading, as plain text.
        runs: text and whether it stands out; joined they are the list.
        contains: the allergen statement for a pack without a list (EU, GB) or behind the list (US), or None.
        quantity_statement: the quantities as a sentence, or empty.
        quantities: one for each quantified ingredient.
        allergens: the law's names, in the order of the law.
        statements: further words the law asks for beside the name.
        findings: what was found on the way.
        quantities_in_list: whether the list itself shows every quantity, so that the sentence need not be printed.
        lines: the entries of the list with their weights, in order.
    """

    ingredient_list: str
    runs: tuple[Run, ...]
    contains: str | None
    quantity_statement: str
    quantities: tuple[Quantity, ...]
    allergens: tuple[str, ...]
    statements: tuple[str, ...]
    findings: tuple[Finding, ...]
    quantities_in_list: bool
    lines: tuple[Line, ...]

    def as_json(self) -> dict[str, Any]:
        """Return the contract's object."""
        answer: dict[str, Any] = {
            "ingredient_list": self.ingredient_list,
            "runs": [{"text": text, "emphasis": emphasis} for text, emphasis in self.runs],
            "quantity_statement": self.quantity_statement,
            "quantities": [vars(quantity) for quantity in self.quantities],
            "allergens": list(self.allergens),
            "statements": list(self.statements),
            "findings": [finding.as_json() for finding in self.findings],
        }
        return answer if self.contains is None else {**answer, "contains": self.contains}


def declare(
    ingredients: Sequence[IngredientUse],
    *,
    market: str,
    language: str,
    on: dt.date,
    finished_weight: Mass,
    food_name: str,
    tail_percent: Decimal | None = None,
    average: Sequence[Quantity] = (),
    not_eaten: Sequence[IngredientUse] = (),
    is_preparation: bool = False,
    measured: Measured = NOTHING,
) -> Declaration:
    """Return the declaration of a product.

    Args:
        ingredients: what was used, in any order.
        market: ``eu``, ``gb`` or ``us``.
        language: of the label.
        on: the day whose rules apply.
        finished_weight: of the product that came of these ingredients, more than 0 g.
        food_name: the name of the food.
        tail_percent: in the US, the share that "contains ...% or less of" names; the law's highest if None.
        average: the quantities of the product's average, to declare in the place of this one's own.
        not_eaten: what is in or on it and is no ingredient, such as netting: only its allergens are declared.
        is_preparation: whether it is meat or a meat preparation, where added water is listed however little it is.
        measured: what was measured and may waive a statement.

    Raises:
        InputError: no ingredient, a share for the tail that the law does not name, an unknown market or language, no finished
            weight, or a day before our rules.

    Source: Regulation (EU) 1169/2011, Articles 18 to 22; for the US 9 CFR 317.2.
    """
    if not any(use.weight.grams for use in ingredients):
        raise InputError("ingredients", "at least one ingredient with a weight", "none")
    with localcontext() as decimals:
        decimals.prec = 50  # far finer than any scale: no comparison with a limit hangs on rounding
        context = context_for(market, language, on, finished_weight.grams, tail_percent)
        context = replace(context, is_preparation=is_preparation)
        used = [use for use in ingredients if use.weight.grams]
        sulphites, findings = sulphite_findings(used, context)
        context = replace(context, sulphites=sulphites)
        lines, found = _lines(used, food_name, context)
        lines, found = _with_contact(lines, not_eaten, context), [*found, *name_findings(not_eaten, context)]
        found += _untranslated(used, context)
        said, about_nitrite = uncured(used, food_name, measured, context)
        return _written(lines, food_name, context, [*findings, *found, *about_nitrite], average, said)


def _with_contact(lines: list[Line], not_eaten: Sequence[IngredientUse], context: Context) -> list[Line]:
    """Name last what is not eaten but brings an allergen that nothing else does (Art 21 with Art 20(b))."""
    for use in not_eaten:
        missing = all_allergens([use], context) - _all_allergens(lines)
        if missing:
            lines = [*lines, Line(use.names.get(context.language) or use.name, Decimal(0), allergens=missing, quantify=False)]
    return lines


def _lines(used: list[IngredientUse], food_name: str, context: Context) -> tuple[list[Line], list[Finding]]:
    lines, findings = lines_of(used, context)
    lines, about_water = place_water(lines, context)
    named = added_water_finding(lines, food_name, context)
    findings += [*about_water, *([named] if named else []), *name_findings(used, context), *_weight_findings(used, context)]
    return in_order(name_classes(lines, food_name, context), context), findings


def _written(
    lines: list[Line], food_name: str, context: Context, findings: list[Finding], average: Sequence[Quantity], said: list[str]
) -> Declaration:
    declared = averaged(quantities(lines, food_name, context), average)
    lines = beside(lines, declared, context)
    runs = _joined_runs(_list_runs(lines, context))
    allergens = _all_allergens(lines)
    shown = [line.name for line in lines if line.percent]
    return Declaration(
        ingredient_list="".join(text for text, _ in runs),
        runs=runs,
        contains=contains_statement(allergens, context),
        quantity_statement=quantity_statement(declared, context),
        quantities=declared,
        allergens=tuple(law_name(key, context) for key in law_keys(context) if key in allergens),
        statements=(*_statements(lines, findings, context), *said),
        findings=tuple(sorted([*findings, *_word_findings(context)], key=lambda finding: (finding.rule, finding.message))),
        quantities_in_list=all(quantity.name in shown for quantity in declared),
        lines=tuple(lines),
    )


def _list_runs(lines: list[Line], context: Context) -> list[Run]:
    runs: list[Run] = [(f"{context.words['ingredients']}: ", False)]
    tail_is_open = False
    for position, line in enumerate(lines):
        runs += [(", ", False)] * (position > 0)
        if context.market == "us" and not tail_is_open and position and is_minor(line, context):
            tail_is_open = True
            runs.append((f"contains {tail_text(context)}% or less of ", False))
        runs += _line_runs(line, context)
    return runs


def _line_runs(line: Line, context: Context) -> list[Run]:
    if line.kind == "additive" and context.market != "us":
        return _additive_runs(line, context)
    if not line.parts:
        return [*stressed(line.name, line.allergens, context), *_percent_run(line)]
    runs: list[Run] = [(line.name, False), *_percent_run(line), (" (", False)]
    for position, part in enumerate(line.parts):
        runs += [(", ", False)] * (position > 0) + _line_runs(part, context)
    unspoken = [key for key in law_keys(context) if key in line.allergens]
    for key in unspoken:
        runs += [(", ", False), (law_name(key, context), context.market != "us")]
    return [*runs, (")", False)]


def _additive_runs(line: Line, context: Context) -> list[Run]:
    members = line.parts or (line,)
    forms = context.words["functions"].get(line.function, (line.function, line.function))
    runs: list[Run] = [(f"{forms[len(members) > 1]} (", False)]
    for position, member in enumerate(members):
        runs += [(", ", False)] * (position > 0) + stressed(member.name, member.allergens, context)
    return [*runs, (")", False)]


def _percent_run(line: Line) -> list[Run]:
    return [(f" ({line.percent} %)", False)] if line.percent else []


def _joined_runs(runs: Iterable[Run]) -> tuple[Run, ...]:
    joined: list[Run] = []
    for text, emphasis in runs:
        if joined and joined[-1][1] == emphasis:
            joined[-1] = (joined[-1][0] + text, emphasis)
        elif text:
            joined.append((text, emphasis))
    return tuple(joined)


def _all_allergens(lines: Iterable[Line]) -> frozenset[str]:
    return frozenset().union(*(line.allergens | _all_allergens(line.parts) for line in lines))


def _statements(lines: list[Line], findings: list[Finding], context: Context) -> list[str]:
    words, statements = context.words["statements"], []
    if any(finding.rule.endswith(".added_water_in_name") for finding in findings):
        statements.append(words["added_water"])
    sweeteners = [line for line in lines if line.function == "sweetener"]
    if sweeteners and context.market != "us":
        several = len(sweeteners) > 1 or len(sweeteners[0].parts) > 1
        statements.append(words["sweeteners" if several else "sweetener"])
    return statements


def _weight_findings(used: list[IngredientUse], context: Context) -> list[Finding]:
    total = sum((use.weight.grams for use in used), Decimal(0))
    if context.finished <= total:
        return []
    message = (
        f"The finished weight of {plain(context.finished)} g is more than all ingredients together, {plain(total)} g: "
        "one is missing or a weight is wrong."
    )
    return [context.rule("ingredient_order").found(plain(total), message, exceeded=False, severity="warn")]


def _untranslated(used: Iterable[IngredientUse], context: Context) -> list[Finding]:
    """Note the names that are printed as the card has them, in a language that may be another than the label's."""
    names = [name for use in used for name in _as_on_card(use, context)]
    if not names or context.language == "en":
        return []
    message = f"Printed as the card has it, check that it is in the language of the label: {', '.join(dict.fromkeys(names))}."
    citation = "the words of this tool"
    rule = f"words.{context.language}.names"
    return [Finding(rule, "note", False, None, None, None, None, None, "unconfirmed", citation, message)]


def _as_on_card(use: IngredientUse, context: Context) -> list[str]:
    is_known = context.language in use.names or use.name.casefold() in context.words["names"]
    is_translated = is_known or use.additive is not None or known_additive(use.name) is not None or is_meat(use)
    own = [] if is_translated or (use.parts and is_premix(use)) else [use.name]
    return [*own, *(name for part in use.parts for name in _as_on_card(part, context))]


def _word_findings(context: Context) -> list[Finding]:
    unconfirmed = context.words["unconfirmed"]
    if not unconfirmed or context.language == "en":
        return []
    message = f"Words of this language known from memory only, check them before printing: {', '.join(unconfirmed)}."
    return [
        Finding(f"words.{context.language}", "note", False, None, None, None, None, None, "unconfirmed", "from memory", message)
    ]
