"""Meat as an ingredient: named by its animal, and cut down where it holds more fat or connective tissue than meat may.

Regulation (EU) 1169/2011, Annex VII part B point 17.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from labelsvc.declaration.context import Context
from labelsvc.declaration.ingredient_use import IngredientUse
from labelsvc.declaration.line import Line
from labelsvc.declaration.words import Words, species_key, vocabulary
from labelsvc.rules.finding import Finding
from labelsvc.rules.load import Rule
from labelsvc.units import plain, round_half_up


@dataclass(frozen=True)
class MeatParts:
    """What 100 g of a meat ingredient are declared as, in grams; the three add up to 100."""

    meat: Decimal
    fat: Decimal
    connective_tissue: Decimal


def species_of(use: IngredientUse) -> str | None:
    """Return the animal of a meat: as given, else told by the name, else None."""
    if use.species is not None:
        return use.species
    names = use.name.casefold().split()
    found = {species_key(name) for name in [use.name, *names]} & set(vocabulary()["species"])
    return found.pop() if len(found) == 1 else None


def is_meat(use: IngredientUse) -> bool:
    """Tell whether an ingredient is meat: by its category, else by its animal, else by a name that is just the meat's word."""
    if use.category is not None:
        return use.category == "meat"
    plain_meat = species_key(use.name) in vocabulary()["species"]
    return plain_meat or (use.species is not None and not use.parts and "fat" not in use.name.casefold())


def meat_limits(weights: Mapping[str, Decimal], rule: Rule) -> Mapping[str, Any] | None:
    """Return the row of limits for one animal or a mixture, or None for an animal the law's table does not place.

    Args:
        weights: grams (or any shares) by species key.
        rule: ``labelling.meat_limits``.

    Returns:
        The row with ``fat`` (% of the meat) and ``collagen`` (% of its protein). A mixture takes the mammals' row where
        mammals are more than half of it, else the birds' row.
    """
    rows = {species: row for row in rule.table for species in row["species"]}
    if not weights or not set(weights) <= set(rows):
        return None
    groups = {rows[species]["group"] for species in weights}
    if len(groups) == 1:
        return rows[next(iter(weights))]
    by_group = {row["group"]: row for row in rule.table}
    birds = sum((grams for species, grams in weights.items() if rows[species]["group"] == "birds and rabbits"), Decimal(0))
    return by_group["mammals" if 2 * birds < sum(weights.values(), Decimal(0)) else "birds and rabbits"]


def connective_tissue(collagen: Decimal, context: Context) -> Decimal:
    """Return the connective tissue of an amount of collagen, in the same unit."""
    return collagen * context.figure("connective_tissue")


def meat_parts(
    fat: Decimal, collagen_in_protein: Decimal, protein: Decimal, limits: Mapping[str, Any], context: Context
) -> MeatParts:
    """Return how much of a meat still counts as meat, and the fat and connective tissue named beside it.

    Args:
        fat: g per 100 g of meat.
        collagen_in_protein: g per 100 g of protein.
        protein: g of meat protein per 100 g.
        limits: a row of ``meat_limits``.
        context: rules of the market.

    Returns:
        Grams in 100 g. Just so much is taken out that what stays is at the limits: with fat F and limit L,
        (F - L) / (1 - L/100); fat 40 % in pork gives 85.71 meat and 14.29 fat.
    """
    most_fat, most_collagen = Decimal(limits["fat"]) / 100, Decimal(limits["collagen"]) / 100
    excess_collagen = max(protein * (collagen_in_protein / 100 - most_collagen) / (1 - most_collagen), Decimal(0))
    tissue = min(connective_tissue(excess_collagen, context), 100 - fat)
    excess_fat = max((fat - most_fat * (100 - tissue)) / (1 - most_fat), Decimal(0))
    return MeatParts(100 - tissue - excess_fat, excess_fat, tissue)


def meat_lines(
    use: IngredientUse, limits: Mapping[str, Any] | None, allergens: frozenset[str], context: Context
) -> tuple[list[Line], list[Finding]]:
    """Return the lines of one meat, and what was found about its fat and connective tissue."""
    species = species_of(use)
    name = meat_name(use.names.get(context.language) or use.name, species, context.words)
    grams = use.weight.grams * (100 - (use.bone_percent or 0)) / 100  # bone is no meat
    whole = Line(name, grams, "meat", allergens, quantify=use.quantify)
    if context.market == "us":
        return [whole], []
    if limits is None or (use.fat_percent is None and use.collagen_percent is None):
        return [whole], [_unchecked(name, species, limits, context)]
    protein = use.protein_percent if use.protein_percent is not None else context.figure("meat_protein")
    parts = meat_parts(use.fat_percent or Decimal(0), use.collagen_percent or Decimal(0), protein, limits, context)
    lines = [Line(name, grams * parts.meat / 100, "meat", allergens, quantify=use.quantify)]
    extra = (("fat", parts.fat), ("connective_tissue", parts.connective_tissue))
    of = context.words["species"].get(species, name)
    for part, share in extra:
        if share:
            lines.append(Line(context.words["parts"][part].format(meat=of), grams * share / 100, "fat"))
    return lines, _findings(use, name, parts, limits, context)


def meat_name(name: str, species: str | None, words: Words) -> str:
    """Return the name of a meat with its animal: as given where it says the animal, else the language's word for it."""
    word = words["species"].get(species) if species else None
    if word is None:
        return name
    says_it = (word, *words["species_also"].get(species, ()))
    return name if any(said.casefold() in name.casefold() for said in says_it) else str(word)


def _unchecked(name: str, species: str | None, limits: Mapping[str, Any] | None, context: Context) -> Finding:
    if limits is None:
        message = f"Unchecked: {name} has no animal in the law's table, so its fat and connective tissue have no limit here."
    else:
        message = f"Unchecked: the fat of {name} is not given; over {limits['fat']} % fat it must be named beside the meat."
    return context.rule("meat_limits").found(None, message, exceeded=False, severity="note")


def _findings(use: IngredientUse, name: str, parts: MeatParts, limits: Mapping[str, Any], context: Context) -> list[Finding]:
    rule, findings = context.rule("meat_limits"), []
    if parts.fat:
        message = (
            f"{name} with {plain(use.fat_percent or Decimal(0))} % fat is over {limits['fat']} %: declared as "
            f"{_grams(parts.meat)} % meat with fat named beside it."
        )
        findings.append(rule.found(plain(use.fat_percent or Decimal(0)), message, exceeded=True))
    if parts.connective_tissue:
        found = plain(use.collagen_percent or Decimal(0))
        message = f"{name} with {found} % collagen in its protein is over {limits['collagen']} %: connective tissue is named."
        findings.append(rule.found(found, message, exceeded=True))
        if use.protein_percent is None:
            message = f"The meat protein of {name} is not given; {plain(context.figure('meat_protein'))} % was taken to size it."
            findings.append(context.rule("meat_protein").found(None, message, exceeded=False))
    return findings


def _grams(value: Decimal) -> str:
    return plain(round_half_up(value, 2))
