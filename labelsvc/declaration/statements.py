"""Sentences beside the list: uncured in the US, safe handling, and the allergens a person decided to warn of.

9 CFR 317.2(l), 317.17(c) and 319.2; Regulation (EU) No 1169/2011, Articles 21 and 36.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from decimal import Decimal

from labelsvc.declaration.allergens import law_keys, law_name
from labelsvc.declaration.context import Context
from labelsvc.declaration.ingredient_use import IngredientUse
from labelsvc.declaration.packing import Measured, Packing
from labelsvc.declaration.saying import Said, particular
from labelsvc.declaration.words import allergen_key
from labelsvc.facts import Product
from labelsvc.rules.finding import Finding
from labelsvc.units import plain

_AGENTS = re.compile(r"nitri[td]|nitra[td]|saltpet|salpet|salpêt|salnitr|salitre|\bE ?(?:249|25[0-2])\b", re.IGNORECASE)
_VEGETABLES = r"(?:celery|celeriac|chard|spinach|beet(?:root)?|lettuce|rocket|arugula|radish|parsley)"
_CONCENTRATE = re.compile(rf"\b{_VEGETABLES}\b.*\b(?:powder|juice|extract|concentrate)\b", re.IGNORECASE)
# The categories by which a card says that a vegetable ingredient brings nitrate or nitrite.
NITRATE_SOURCES = ("nitrate source", "vegetable nitrate source", "plant nitrate source")


def curing_agents(uses: Iterable[IngredientUse]) -> list[str]:
    """Return the names of the nitrites and nitrates that were added as such."""
    found: list[str] = []
    for use in uses:
        names = [use.name, *([use.additive.name, use.additive.e_number or ""] if use.additive else [])]
        if not use.parts and any(_AGENTS.search(name) for name in names) and not is_nitrate_source(use):
            found.append(use.name)
        found += curing_agents(use.parts)
    return list(dict.fromkeys(found))


def natural_sources(uses: Iterable[IngredientUse]) -> list[str]:
    """Return the names of the vegetable ingredients that bring nitrate or nitrite of their own, such as celery powder."""
    found: list[str] = []
    for use in uses:
        found += [use.name] if is_nitrate_source(use) else natural_sources(use.parts)
    return list(dict.fromkeys(found))


def is_nitrate_source(use: IngredientUse) -> bool:
    """Tell whether an ingredient is a vegetable source of nitrate: by its category, or a name such as celery powder."""
    return use.category in NITRATE_SOURCES or _CONCENTRATE.search(use.name) is not None


def uncured(
    uses: Sequence[IngredientUse], food_name: str, measured: Measured, context: Context
) -> tuple[list[str], list[Finding]]:
    """Return the US statements of a product without added nitrite or nitrate, and what was found; nothing elsewhere.

    Args:
        uses: what was used.
        food_name: the name of the food.
        measured: what may waive "not preserved".
        context: market and words.

    Source: 9 CFR 319.2 and 317.17(c).
    """
    if context.market != "us":
        return [], []
    words, rule = context.words["us"], context.rule("uncured")
    agents, sources = curing_agents(uses), natural_sources(uses)
    says_uncured = str(words["uncured"]).casefold() in food_name.casefold()
    if agents:
        message = f"The name says uncured, and {', '.join(agents)} is in it: take uncured out of the name."
        return [], [rule.found(agents[0], message, exceeded=True, severity="stop")] if says_uncured else []
    if not says_uncured and not sources:
        message = "No nitrite or nitrate is in it: if it is like a product that is cured with it, its name begins with Uncured."
        return [], [rule.found(None, message, exceeded=False, severity="note")]
    findings = []
    if not says_uncured:
        message = f"Cured only by {', '.join(sources)}: the name begins with Uncured, in the same size and style."
        findings.append(rule.found(", ".join(sources), message, exceeded=True))
    if sources:
        message = "What may be said of nitrite from vegetables is about to change: ask the agency."
        findings.append(context.rule("natural_nitrite").found(", ".join(sources), message, exceeded=False))
    first = words["naturally"].format(sources=" and ".join(sources)) if sources else words["no_nitrite"]
    waived, found = _not_preserved_waived(measured, context)
    return [str(first), *([] if waived else [str(words["not_preserved"])])], [*findings, *found]


def _not_preserved_waived(measured: Measured, context: Context) -> tuple[bool, list[Finding]]:
    rule = context.rule("no_nitrite_added")
    for row in rule.table:
        value = getattr(measured, row["what"])
        if value is None:
            continue
        is_met = value <= Decimal(row["at_most"]) if "at_most" in row else value >= Decimal(row["at_least"])
        if is_met:
            shown = f"{row['what'].replace('_', ' ')} {plain(value)}"
            doubt = "; that figure is from memory, so the words stay" if row["known"] == "unconfirmed" else ""
            message = f"'Not preserved' may be left out by {shown}{doubt}."
            return row["known"] != "unconfirmed", [rule.found(plain(value), message, exceeded=False)]
    return False, []


def safe_handling_said(product: Product, context: Context) -> Said:
    """Return the safe handling block of a US product that is not ready to eat; nothing else has one."""
    if context.market != "us" or product.eaten == "as_is" or "safe_handling" in product.on_stock:
        return [], []
    rule = context.rule("safe_handling")
    message = (
        "The block also needs its border, its pictures and a larger heading, which these words have not: print it on a layout"
        " that bears them (sale_label_us_to_cook_100x150), or use stock that does, and say so on the product's card."
    )
    found = rule.found(None, message, exceeded=False, severity="warn")
    return [particular("safe_handling", context.words["us"]["safe_handling"], rule, "eaten: cooked first")], [found]


def may_contain_said(packing: Packing, declared: Iterable[str], context: Context) -> Said:
    """Return the warning of allergens that a person decided on.

    Args:
        packing: with the decision.
        declared: the law's names that the list declares already: they need no warning.
        context: language and order of the law.
    """
    keys = {allergen_key(one, "may_contain") for one in packing.may_contain}
    listed = set(declared)
    names = [law_name(key, context) for key in law_keys(context) if key in keys and law_name(key, context) not in listed]
    if not names:
        return [], []
    text = context.words["statements"]["may_contain"].format(allergens=", ".join(names))
    return [particular("may_contain", text, context.rule("shared_equipment"), "decided at packing")], []
