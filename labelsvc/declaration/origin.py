"""Where the meat comes from, where the label says or shows where the food comes from.

Regulation (EU) No 1169/2011, Article 26(3); Implementing Regulation (EU) 2018/775.
"""

from __future__ import annotations

from decimal import Decimal

from labelsvc.declaration.context import Context
from labelsvc.declaration.operator import countries_of_the_union
from labelsvc.declaration.packing import Packing
from labelsvc.declaration.saying import Said, particular
from labelsvc.declaration.words import species_key
from labelsvc.facts import Product, Workshop
from labelsvc.rules.finding import Finding


def origin_said(product: Product, packing: Packing, workshop: Workshop, context: Context) -> Said:
    """Return the origin of the meat where it must be said, and what was found.

    Returns:
        Words such as ``pork: non-EU`` where the label names or shows a country that the meat is not from; nothing where no
        origin is claimed, or the meat is from there.
    """
    if context.market == "us":
        return [], []
    if product.origin_claim is None:
        return [], _notes(product, packing, workshop, context)
    rule, claim = context.rule("origin"), product.origin_claim
    if not packing.origins or "" in packing.origins:
        message = (
            f"The label names or shows {claim}, and where the meat comes from is not recorded: write it into goods in, or take"
            f" {claim} off the label."
        )
        return [], [rule.found(None, message, exceeded=True)]
    if set(packing.origins) == {claim}:
        message = f"The label names or shows {claim}, and the meat is from there."
        return [], [rule.found(claim, message, exceeded=False, severity="note")]
    meat = context.words["species"].get(species_key(product.species), product.species)
    text = context.words["statements"]["origin"].format(meat=meat, origin=_area(packing.origins, context))
    working = f"{claim} on the label, {', '.join(packing.origins)} by the papers of the meat"
    share = context.figure("origin_height")
    height = f"The words on the meat's origin stand in the same field of vision, at least {share} % as high."
    found = context.rule("origin_height").found(None, height, exceeded=False)
    return [particular("origin", text, rule, working)], [found]


def origin_height_mm(claim_x_height_mm: Decimal, context: Context) -> Decimal:
    """Return the least x-height in mm of the words on the ingredient's origin (2018/775 Art 3), not under the law's own."""
    least = min(Decimal(row["height_mm"]) for row in context.rule("x_height").table)
    return max(claim_x_height_mm * context.figure("origin_height") / 100, least)


def _area(origins: tuple[str, ...], context: Context) -> str:
    inside = countries_of_the_union(context) if context.market == "eu" else frozenset({"GB", "XI"})
    found = {origin in inside for origin in origins}
    key = context.market if found == {True} else f"non {context.market}" if found == {False} else None
    return str(context.words["origin"][key or f"{context.market} and non {context.market}"])


def _notes(product: Product, packing: Packing, workshop: Workshop, context: Context) -> list[Finding]:
    rule = context.rule("pork_origin")
    findings = [rule.found(None, "No origin is named or shown, so the origin of the meat is not asked for.", exceeded=False)]
    national = context.rules.get(f"{context.market}.labelling.national_origin")
    country = packing.country or workshop.country
    if national is not None and any(row["country"] == country for row in national.table):
        message = f"Unchecked: {country} may ask for the origin of the meat in cured products; ask the authority."
        findings.append(national.found(country, message, exceeded=False))
    return findings
