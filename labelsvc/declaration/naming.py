"""The name of the food and what stands with it: treatments, added water, names that belong to others.

Regulation (EU) No 1169/2011, Article 17 and Annex VI; for the US 9 CFR 317.2(c)(1), 319.104 and 319.106.
"""

from __future__ import annotations

import re
import tomllib
import unicodedata
from collections.abc import Mapping, Sequence
from decimal import Decimal
from functools import cache
from importlib import resources
from typing import Any

from labelsvc.declaration.context import Context
from labelsvc.declaration.packing import Packing
from labelsvc.declaration.saying import Particular, Said, particular
from labelsvc.facts import Product
from labelsvc.rules.finding import Finding
from labelsvc.units import plain


def food_name(product: Product, language: str) -> str:
    """Return the name of the food in a language: as its card says it."""
    return product.names.get(language) or product.food_name or product.name


def name_said(product: Product, packing: Packing, context: Context, *, has_added_water: bool) -> Said:
    """Return the name with its treatments, and what was found about it.

    Args:
        product: its card.
        packing: where it is sold.
        context: rules and words.
        has_added_water: whether the name must tell of added water.
    """
    name, words = food_name(product, context.language), context.words["statements"]
    treatments = [*product.treatments, *(["added_water"] if has_added_water else [])]
    missing = [str(words[one]) for one in treatments if str(words[one]).casefold() not in name.casefold()]
    working = f"treatments that the name must tell: {', '.join(missing)}" if missing else ""
    rule = context.rule("treatment_in_name" if missing else "food_name")
    said = [particular("food_name", ", ".join([name, *missing]), rule, working)]
    return said, [*_protected(name, product, context), *_standards(name, product, packing, context)]


def inedible_said(product: Product, context: Context) -> list[Particular]:
    """Return what is said of a casing, rind or netting that cannot be eaten (Annex VI part C); nothing in the US."""
    if context.market == "us" or not product.inedible:
        return []
    rule, words = context.rule("inedible_part"), context.words["statements"]
    return [particular("statements", str(words[part]), rule) for part in product.inedible]


def _protected(name: str, product: Product, context: Context) -> list[Finding]:
    """Warn of a protected name: the register decides, and who may use it."""
    if context.market == "us":
        return []
    findings = []
    for entry in protected_names():
        if _says(name, entry["words"]) and product.protected_name != entry["name"]:
            message = (
                f"{name!r} says {entry['name']}, which is a protected name: use it only if you make it under its rules, and"
                " then enter it as the product's protected name."
            )
            findings.append(context.rule("protected_name").found(entry["name"], message, exceeded=True))
    return findings


@cache
def protected_names() -> Sequence[Mapping[str, Any]]:
    """Return the protected names we warn of, each with the words that call for the warning."""
    text = (resources.files("labelsvc.declaration") / "protected_names.toml").read_text(encoding="utf-8")
    return tuple(tomllib.loads(text)["names"])


def _says(name: str, words: Sequence[str]) -> bool:
    plain_name = _without_accents(name)
    return any(re.search(rf"(?<!\w){re.escape(_without_accents(word))}(?!\w)", plain_name) for word in words)


def _without_accents(text: str) -> str:
    letters = unicodedata.normalize("NFKD", text.casefold().replace("ß", "ss"))
    return "".join(letter for letter in letters if not unicodedata.combining(letter))


def _standards(name: str, product: Product, packing: Packing, context: Context) -> list[Finding]:
    """Check a name that a standard of the US ties to days of cure or to protein."""
    if context.market != "us":
        return []
    rows = [
        row for row in context.rule("country_ham").table if re.search(rf"country(?:[- ]style)? {row['cut']}", name.casefold())
    ]
    found = [one for row in rows for one in _days_found(row, name, packing, context)]
    return [*found, *_protein_found(name, product, packing, context)]


def _days_found(row: Mapping[str, Any], name: str, packing: Packing, context: Context) -> list[Finding]:
    rule, findings = context.rule("country_ham"), []
    for words, days, least in (
        ("cure and equalization", packing.cured_days, row["cured_days"]),
        ("cure, equalization and drying together", packing.total_days, row["total_days"]),
    ):
        if days is None:
            message = f"Unchecked: {name!r} needs at least {least} days of {words}; how long it took is not recorded."
            findings.append(rule.found(None, message, exceeded=False, severity="warn"))
        elif days < least:
            message = f"{name!r} needs at least {least} days of {words}, and had {days}: choose another name."
            findings.append(rule.found(str(days), message, exceeded=True))
    return findings


def _protein_found(name: str, product: Product, packing: Packing, context: Context) -> list[Finding]:
    """Check measured protein, fat-free, against what the plain name of a cooked or uncooked ham, loin or shoulder needs."""
    measured, rule = packing.measured.protein_fat_free, context.rule("protein_fat_free")
    said, is_cooked = name.casefold(), product.class_in(context.market).startswith("heat")
    row = next((row for row in rule.table if row["cooked"] == is_cooked and any(cut in said for cut in row["cuts"])), None)
    if row is None or measured is None or measured >= Decimal(row["least"]) or "water product" in said:
        return []
    message = (
        f"{name!r} has {plain(measured)} % protein on a fat-free basis, under {row['least']} %: the name must say"
        " 'and water product - X % of weight is added ingredients'."
    )
    return [rule.found(plain(measured), message, exceeded=True)]
