"""From what was used to the lines of the ingredient list: premixes opened, meat named, water placed, classes formed, ordered.

Regulation (EU) 1169/2011, Article 18 and Annex VII; for the US 9 CFR 317.2(f) with 21 CFR 101.4.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from decimal import Decimal

from msgspec import structs

from labelsvc.declaration.allergens import allergens_of
from labelsvc.declaration.context import Context
from labelsvc.declaration.ingredient_use import Additive, IngredientUse, known_additive
from labelsvc.declaration.line import Line, merge
from labelsvc.declaration.meat import is_meat, meat_limits, meat_lines, species_of
from labelsvc.declaration.words import words_of
from labelsvc.rules.finding import Finding
from labelsvc.units import plain, ratio, round_half_up

_OPENED = ("premix", "cure", "curing salt", "brine", "pickle")
_CURING_AGENTS = (
    "potassium nitrite",
    "sodium nitrite",
    "sodium nitrate",
    "potassium nitrate",
    "E 249",
    "E 250",
    "E 251",
    "E 252",
)
_KINDS = ("fat", "spice", "herb", "water")
Made = tuple[list[Line], list[Finding]]


def lines_of(uses: Iterable[IngredientUse], context: Context) -> Made:
    """Return the lines of all ingredients, added up by name and not yet ordered, with what was found on the way."""
    lines, findings = _all_lines([use for use in uses if use.weight.grams], context)
    return merge(lines, {"salt": context.words["names"]["salt"]}), findings


def place_water(lines: list[Line], context: Context) -> Made:
    """Put added water at its weight in the finished product, or leave it out.

    Args:
        lines: with water at the weight put in.
        context: rules and finished weight.

    Returns:
        The lines; water = finished weight less all other ingredients, never more than was put in; none left or not over
        the small share: left out.

    Source: Regulation (EU) 1169/2011, Annex VII part A point 1.
    """
    water = [line for line in lines if line.kind == "water"]
    if context.market == "us" or not water:
        return lines, []
    others = [line for line in lines if line.kind != "water"]
    left = min(context.finished - sum((line.weight for line in others), Decimal(0)), water[0].weight)
    if left <= 0:
        return others, []
    share = 100 * ratio(left, context.finished)
    if share <= context.figure("small_water") and not context.is_preparation:
        shown = plain(round_half_up(share, 2))
        message = f"Added water is {shown} % of the finished product and left out; in a meat preparation it is named."
        return others, [context.rule("small_water").found(shown, message, exceeded=False)]
    return [*others, replace(water[0], weight=left)], []


def added_water_finding(lines: Iterable[Line], food_name: str, context: Context) -> Finding | None:
    """Return the warning that the name must tell of added water, or None."""
    left = sum((line.weight for line in lines if line.kind == "water"), Decimal(0))
    if context.market == "us" or left * 100 <= context.figure("added_water_in_name") * context.finished:
        return None
    words = context.words["statements"]["added_water"]
    if words.casefold() in food_name.casefold():
        return None
    shown = plain(round_half_up(100 * ratio(left, context.finished), 2))
    message = (
        f"Added water is {shown} % of the finished product: if it looks like a cut, joint or slice, the name says {words!r}."
    )
    return context.rule("added_water_in_name").found(shown, message, exceeded=True)


def name_classes(lines: list[Line], food_name: str, context: Context) -> list[Line]:
    """Put several spices, or several herbs, under their class name where all of them are not over 2 % of the food.

    Allergens, spices a person wants quantified and those the food's name mentions keep their own names.
    """
    if context.market == "us":
        return lines
    for kind, word in (("spice", context.words["spices"]), ("herb", context.words["herbs"])):
        total = _weight_of_kind(lines, kind)
        members = [line for line in lines if line.kind == kind and _may_hide(line, food_name)]
        if len(members) > 1 and total * 100 <= context.figure("spice_class") * context.finished:
            weight = sum((line.weight for line in members), Decimal(0))
            lines = [line for line in lines if line not in members] + [Line(word, weight, kind)]
    return lines


def in_order(lines: Iterable[Line], context: Context) -> list[Line]:
    """Return the lines in falling weight, additives of one class in the tail under one class word.

    Lines of less than 2 % of the finished product may follow the others in any order, which is what lets additives of one
    class stand together; they still stand by weight. Equal weights stand by name.
    """
    main: list[Line] = []
    tail: list[Line] = []
    for line in lines:
        ordered = replace(line, parts=tuple(in_order(line.parts, context)))
        (tail if is_minor(ordered, context) else main).append(ordered)
    if context.market != "us":
        tail = _grouped(tail)
    return sorted(main, key=_by_weight) + sorted(tail, key=_by_weight)


def is_minor(line: Line, context: Context) -> bool:
    """Tell whether a line may stand in the tail: under 2 % of the finished product; in the US at 2 % too."""
    figure = context.figure("minor_ingredient") if context.tail is None else context.tail
    share, limit = line.weight * 100, figure * context.finished
    return share <= limit if context.market == "us" else share < limit


def tail_text(context: Context) -> str:
    """Return the share that the US tail names, as printed there (21 CFR 101.4(a)(2): 2, 1.5, 1.0 or 0.5)."""
    figure = context.figure("minor_ingredient") if context.tail is None else context.tail
    return next(str(row["share"]) for row in context.rule("minor_steps").table if Decimal(row["share"]) == figure)


def _all_lines(uses: Iterable[IngredientUse], context: Context) -> Made:
    lines, findings = [], []
    for use in uses:
        more_lines, more_findings = _lines(use, context)
        lines += more_lines
        findings += more_findings
    return lines, findings


def _lines(use: IngredientUse, context: Context) -> Made:
    if use.parts:
        if is_meat(use) and all(species_of(part) for part in use.parts):
            return _meat_mixture(use, context)
        return _opened(use, context) if is_premix(use) and not _unspoken(use, context) else _compound(use, context)
    allergens = allergens_of(use, context)
    if use.additive is not None:
        return _additive(use.additive, use.weight.grams, allergens, context)
    known = known_additive(use.name)
    if known is not None:
        line, findings = _additive(known, use.weight.grams, allergens, context)
        message = f"{use.name} is taken for the additive {known.e_number}, {known.function}: enter it as one if that is wrong."
        return line, [*findings, context.rule("ingredient_order").found(use.name, message, exceeded=False)]
    if is_meat(use):
        species = species_of(use)
        limits = (
            meat_limits({species: use.weight.grams}, context.rule("meat_limits")) if species and _has_limits(context) else None
        )
        return meat_lines(use, limits, allergens, context)
    return [_plain(use, allergens, context)], []


def _plain(use: IngredientUse, allergens: frozenset[str], context: Context) -> Line:
    name = use.names.get(context.language) or context.words["names"].get(use.name.casefold(), use.name)
    kind = use.category if use.category in _KINDS else "other"
    if name == context.words["names"]["water"]:
        kind = "water"
    # all water becomes one line, and all salt: the salt of a premix joins the salt put on by hand
    salts = (*context.words["salt_names"], *words_of("en")["salt_names"])
    key = "water" if kind == "water" else ("salt" if {name.casefold(), use.name.casefold()} & set(salts) else "")
    return Line(name, use.weight.grams, kind, allergens, quantify=use.quantify, key=key)


def _additive(additive: Additive, grams: Decimal, allergens: frozenset[str], context: Context) -> Made:
    by_name = context.words["lists_additives_by_name"] or additive.e_number is None or context.market == "us"
    name = additive.name if by_name else str(additive.e_number)
    line = Line(name, grams, "additive", allergens, additive.function)
    if context.market == "us" or additive.function in context.words["functions"]:
        return [line], []
    message = f"{additive.function!r} is not one of the law's class words for additives; {name} is printed with it as given."
    return [line], [context.rule("additive_class").found(additive.function, message, exceeded=False)]


def _has_limits(context: Context) -> bool:
    return context.market != "us"


def _meat_mixture(use: IngredientUse, context: Context) -> Made:
    """Meats minced together are listed each by its animal, under the limits of the mixture (M4)."""
    weights: dict[str, Decimal] = {}
    for part in use.parts:
        species = species_of(part) or ""
        weights[species] = weights.get(species, Decimal(0)) + part.weight.grams
    limits = meat_limits(weights, context.rule("meat_limits")) if _has_limits(context) else None
    lines, findings = [], []
    for part in use.parts:
        meat = structs.replace(
            part,
            fat_percent=use.fat_percent if part.fat_percent is None else part.fat_percent,
            collagen_percent=use.collagen_percent if part.collagen_percent is None else part.collagen_percent,
            quantify=use.quantify if part.quantify is None else part.quantify,
        )
        more_lines, more_findings = meat_lines(meat, limits, allergens_of(meat, context) | _unspoken(use, context), context)
        lines += more_lines
        findings += more_findings
    return lines, findings


def is_premix(use: IngredientUse) -> bool:
    """Tell whether a mix is opened up, so that its parts join the list: a cure, or what is mostly salt."""
    if use.quantify:
        return False
    main = max(use.parts, key=lambda part: part.weight.grams)
    agents = [part.additive or known_additive(part.name) for part in use.parts]
    said = {word for agent in agents if agent for word in (agent.e_number, agent.name.casefold())}
    return use.category in _OPENED or not said.isdisjoint(_CURING_AGENTS) or main.name.casefold() in words_of("en")["salt_names"]


def _opened(use: IngredientUse, context: Context) -> Made:
    lines, findings = _all_lines(use.parts, context)
    rest = _rest(use)
    if rest:
        salt = context.words["names"]["salt"]
        lines.append(Line(salt, rest, key="salt"))
        message = f"The parts of {use.name} do not add up to 100 %; the rest is taken as salt."
        findings.append(context.rule("ingredient_order").found(None, message, exceeded=False))
    return lines, findings


def _compound(use: IngredientUse, context: Context) -> Made:
    parts, findings = _all_lines(use.parts, context)
    if _rest(use):
        message = f"The parts of {use.name} do not add up to 100 %; what is missing is not in the list."
        findings.append(context.rule("ingredient_order").found(None, message, exceeded=False, severity="warn"))
    merged = tuple(merge(parts, {"salt": context.words["names"]["salt"]}))
    kind = use.category if use.category in ("fat", "spice", "herb") else "other"
    name = use.names.get(context.language) or context.words["names"].get(use.name.casefold(), use.name)
    line = Line(name, use.weight.grams, kind, _unspoken(use, context), parts=merged, quantify=use.quantify)
    return [line], findings


def _rest(use: IngredientUse) -> Decimal:
    return use.weight.grams - sum((part.weight.grams for part in use.parts), Decimal(0))


def _unspoken(use: IngredientUse, context: Context) -> frozenset[str]:
    """Allergens of a compound that none of its parts brings."""
    return allergens_of(use, context) - _spoken(use.parts, context)


def _spoken(parts: Sequence[IngredientUse], context: Context) -> frozenset[str]:
    own = (allergens_of(part, context) | _spoken(part.parts, context) for part in parts)
    return frozenset().union(*own)


def _weight_of_kind(lines: Iterable[Line], kind: str) -> Decimal:
    weights = ((line.weight if line.kind == kind else _weight_of_kind(line.parts, kind)) for line in lines)
    return sum(weights, Decimal(0))


def _may_hide(line: Line, food_name: str) -> bool:
    named = line.name.casefold() in food_name.casefold()
    return not (line.allergens or line.parts or line.quantify or named)


def _grouped(tail: list[Line]) -> list[Line]:
    classes: dict[str, list[Line]] = {}
    for line in tail:
        if line.kind == "additive":
            classes.setdefault(line.function, []).append(line)
    groups = [_group(function, members) for function, members in classes.items()]
    return [line for line in tail if line.kind != "additive"] + groups


def _group(function: str, members: list[Line]) -> Line:
    ordered = sorted(members, key=_by_weight)
    weight = sum((line.weight for line in members), Decimal(0))
    return Line(ordered[0].name, weight, "additive", function=function, parts=tuple(ordered)) if len(ordered) > 1 else ordered[0]


def _by_weight(line: Line) -> tuple[Decimal, str]:
    return (-line.weight, line.name.casefold())
