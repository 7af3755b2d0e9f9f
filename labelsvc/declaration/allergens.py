"""Which allergens an ingredient brings into the declaration, and which words of the list stand out for them.

Regulation (EU) 1169/2011, Article 21 and Annex II. An exemption follows from the form the source was made into, never
from a name; a name only ever adds a declaration. What is not known is declared.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from decimal import Decimal

from labelsvc.declaration.context import Context
from labelsvc.declaration.ingredient_use import IngredientUse
from labelsvc.declaration.words import meant, naming_pattern, sulphite_hints, telling_pattern
from labelsvc.rules.finding import Finding
from labelsvc.units import plain, ratio, round_half_up

SULPHITES = "sulphites"
_SULPHITE_E_NUMBERS = tuple(f"E {number}" for number in range(220, 229))
Run = tuple[str, bool]


def law_keys(context: Context) -> list[str]:
    """Return the keys of the market's allergens in the order of the law."""
    return [row["key"] for row in context.rule("allergens").table]


def allergens_of(use: IngredientUse, context: Context) -> frozenset[str]:
    """Return the allergens one ingredient must declare, its components left aside.

    Args:
        use: the ingredient.
        context: rules, words, and whether sulphites are declared.

    Returns:
        Keys of the market's list: those stated or told by the name, less the ones the law exempts in this form; sulphites
        only where the food's total is over the limit or not known.
    """
    found = set()
    for row in context.rule("allergens").table:
        is_exempt = use.form is not None and use.form in row.get("exempt_forms", ())
        if not is_exempt and (row["key"] in use.allergens or _is_told_by_name(use, row["key"])):
            found.add(row["key"])
    if context.sulphites and is_sulphite_source(use):
        return frozenset(found | {SULPHITES})
    return frozenset(found - {SULPHITES})


def all_allergens(uses: Iterable[IngredientUse], context: Context) -> frozenset[str]:
    """Return the allergens that some ingredients and their parts must declare."""
    return frozenset().union(*(allergens_of(use, context) | all_allergens(use.parts, context) for use in uses))


def is_sulphite_source(use: IngredientUse) -> bool:
    """Tell whether an ingredient itself brings sulphur dioxide, or may."""
    if use.so2_mg_per_kg is not None:
        return use.so2_mg_per_kg > 0
    if use.additive is not None and (use.additive.e_number or "").startswith(_SULPHITE_E_NUMBERS):
        return True
    return SULPHITES in use.allergens or any(telling_pattern(SULPHITES).search(name) for name in _names(use))


def total_so2(uses: Iterable[IngredientUse], finished: Decimal) -> Decimal | None:
    """Return the total sulphur dioxide in mg per kg of finished product, or None where a source's amount is not known.

    Args:
        uses: every ingredient; a figure given for a compound covers its components.
        finished: finished weight in grams.

    Source: Regulation (EU) 1169/2011, Annex II point 12: total SO2 of the product as sold.
    """
    amounts = [_so2_grams_per_million(use) for use in uses]
    known = [amount for amount in amounts if amount is not None]
    return None if len(known) < len(amounts) else ratio(sum(known, Decimal(0)), finished)


def sulphite_findings(uses: Sequence[IngredientUse], context: Context) -> tuple[bool, list[Finding]]:
    """Return whether sulphites are declared, and the finding where any ingredient brings some."""
    if SULPHITES not in law_keys(context) or not any(_brings_sulphites(use) for use in uses):
        return False, []
    rule, total = context.rule("sulphites"), total_so2(uses, context.finished)
    if total is None:
        message = "The sulphur dioxide of an ingredient is not known, so sulphites are declared; enter its so2_mg_per_kg."
        return True, [rule.found(None, message, exceeded=False)]
    exceeded = total > context.figure("sulphites")
    word = "over the limit: declared" if exceeded else "not over the limit: not declared"
    shown = plain(round_half_up(total, 3))
    message = f"Total sulphur dioxide {shown} mg per kg of finished product, {word}."
    return exceeded, [rule.found(shown, message, exceeded=exceeded)]


def name_findings(uses: Iterable[IngredientUse], context: Context) -> list[Finding]:
    """Return a warning for each ingredient whose name tells an allergen that its entry does not state."""
    findings = []
    for use in uses:
        findings += name_findings(use.parts, context)
        for key in sorted(allergens_of(use, context) - {*use.allergens, SULPHITES}):
            if any(key in part.allergens for part in use.parts):
                continue
            name = law_name(key, context)
            message = f"The name {use.name!r} tells of {name}, so it is declared; add it to the allergens or give the form."
            findings.append(context.rule("allergens").found(use.name, message, exceeded=False, severity="warn"))
        if SULPHITES in law_keys(context) and _may_bring_sulphites(use):
            message = f"{use.name!r} often brings sulphites: unchecked; enter its so2_mg_per_kg, 0 where there is none."
            findings.append(context.rule("sulphites").found(None, message, exceeded=False, severity="warn"))
    return findings


def law_name(key: str, context: Context) -> str:
    """Return the law's name of an allergen in the language of the label."""
    return str(context.words["allergens"][key]["name"])


def stressed(name: str, allergens: frozenset[str], context: Context) -> list[Run]:
    """Return a name as runs with its allergens standing out; what the name does not say follows in brackets.

    Args:
        name: of the ingredient.
        allergens: keys to declare with it.
        context: language and order of the law.

    Returns:
        Runs of text and whether it stands out: ``mustard seed`` becomes ``mustard`` (out) and `` seed``.
    """
    if context.market == "us":  # no typeset is asked for there: the statement behind the list names them
        return [(name, False)]
    order = [key for key in law_keys(context) if key in allergens]
    spans = sorted(match.span() for key in order for match in naming_pattern(context.language, key).finditer(name))
    runs, at = [], 0
    for start, end in spans:
        if start >= at:
            runs += [(name[at:start], False), (name[start:end], True)]
            at = end
    runs.append((name[at:], False))
    unsaid = [key for key in order if not naming_pattern(context.language, key).search(name)]
    return runs + _in_brackets([law_name(key, context) for key in unsaid])


def contains_statement(allergens: frozenset[str], context: Context) -> str | None:
    """Return the statement for a pack without a list (EU, GB) or right behind the list (US), or None without allergens."""
    names = [law_name(key, context) for key in law_keys(context) if key in allergens]
    if not names:
        return None
    word = context.words["contains"]
    return f"{word.capitalize()}: {', '.join(names)}" if context.market == "us" else f"{word} {', '.join(names)}"


def _in_brackets(names: list[str]) -> list[Run]:
    if not names:
        return []
    runs: list[Run] = [(" (", False)]
    for position, name in enumerate(names):
        runs += [(", ", False)] * (position > 0) + [(name, True)]
    return [*runs, (")", False)]


def _is_told_by_name(use: IngredientUse, key: str) -> bool:
    return any(telling_pattern(key).search(meant(name)) for name in _names(use))


def _names(use: IngredientUse) -> list[str]:
    return [use.name] if use.additive is None else [use.name, use.additive.name]


def _may_bring_sulphites(use: IngredientUse) -> bool:
    """Whether it is a food such as wine of which nobody entered whether it was sulphured."""
    is_answered = use.so2_mg_per_kg is not None or is_sulphite_source(use)
    return not is_answered and any(sulphite_hints().search(name) for name in _names(use))


def _brings_sulphites(use: IngredientUse) -> bool:
    return is_sulphite_source(use) or any(_brings_sulphites(part) for part in use.parts)


def _so2_grams_per_million(use: IngredientUse) -> Decimal | None:
    if use.so2_mg_per_kg is not None:
        return use.weight.grams * use.so2_mg_per_kg
    parts = [_so2_grams_per_million(part) for part in use.parts]
    if None in parts or (is_sulphite_source(use) and not any(_brings_sulphites(part) for part in use.parts)):
        return None
    return sum((part for part in parts if part is not None), Decimal(0))
