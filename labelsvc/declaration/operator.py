"""Who answers for the food, and the mark of an approved establishment: only with the number the authority gave.

Regulation (EU) No 1169/2011, Article 8(1); Regulation (EC) No 853/2004, Annex II section I; for the US 9 CFR 317.2(c).
"""

from __future__ import annotations

import re

from labelsvc import choices
from labelsvc.declaration.context import Context
from labelsvc.declaration.packing import Packing
from labelsvc.declaration.particulars import operator_lines
from labelsvc.declaration.saying import Said, particular
from labelsvc.facts import Product, Workshop
from labelsvc.rules.finding import Finding
from labelsvc.rules.load import rules_of

NORTHERN_IRELAND = "XI"  # as customs and VAT write it: its goods follow the rules of the Union, its address is in the UK
_OLD_LETTERS = re.compile(r"(?<![A-Z])(EC|CE|EK|EF|EG|EB|EY|ES|EÜ|WE|KE)(?![A-Z])")


def countries_of_the_union(context: Context) -> frozenset[str]:
    """Return the countries whose address counts as one in the Union: those the Union's language rule names."""
    rule = rules_of("eu", context.rules.on)["eu.labelling.language"]
    return frozenset(row["country"] for row in rule.table)


def operator_said(workshop: Workshop, packing: Packing, context: Context) -> Said:
    """Return name and address as the market asks for them, or the finding that no such address is known."""
    rule = context.rule("operator")
    own = [*operator_lines(workshop.name, workshop.address)]
    if context.market == "us" or workshop.country in _at_home(context):
        return [particular("operator", ", ".join(own), rule)], []
    abroad = workshop.address_in_eu if context.market == "eu" else workshop.address_in_gb
    if abroad is None:
        where = "the European Union or Northern Ireland" if context.market == "eu" else "the United Kingdom"
        message = (
            f"The workshop is in {workshop.country}: the label needs the name and address of whoever answers for it in {where}."
            " Enter it on the workshop's card."
        )
        return [particular("operator", ", ".join(own), rule)], [rule.found(workshop.country, message, exceeded=True)]
    lines = [line.strip() for line in abroad.splitlines() if line.strip()]
    return [particular("operator", ", ".join(lines), rule, f"made in {workshop.country}, answered for there")], []


def _at_home(context: Context) -> frozenset[str]:
    union = countries_of_the_union(context)
    if context.market == "eu":
        return union
    at_home = frozenset({"GB", NORTHERN_IRELAND})
    is_union_enough = "or the Union" in context.rule("operator").title  # the rule before 2024
    return at_home | union if is_union_enough else at_home


def mark_said(workshop: Workshop, product: Product, packing: Packing, context: Context) -> Said:
    """Return the mark of an approved or inspected establishment; a mark on the stock already is checked instead."""
    if packing.mark is not None:
        return [], mark_found(packing.mark, workshop, context)
    standing, rule = choices.standing(workshop.standing), context.rule("identification_mark")
    has_mark = standing == ("us_inspected" if context.market == "us" else "approved")
    if not has_mark or packing.sold_as == "loose" or "mark" in product.on_stock:
        return [], []
    if not workshop.approval_number:
        message = "An approved establishment bears its mark, and none is printed: enter the number that the authority gave."
        return [], [rule.found(None, message, exceeded=True, severity="warn")]
    shape = "the legend as the agency draws it" if context.market == "us" else "an oval"
    message = (
        f"The mark stands in {shape}; here only its words are printed. Use stock that bears it: say so on the product's card."
    )
    found = rule.found(None, message, exceeded=False, severity="warn")
    return [particular("mark", _mark(workshop, context), rule, "the number on the workshop's card")], [found]


def _mark(workshop: Workshop, context: Context) -> str:
    number = workshop.approval_number or ""
    if context.market == "us":
        return str(context.words["us"]["legend"].format(number=number))
    if workshop.country == "GB":
        return f"GB {number}"
    if workshop.country == NORTHERN_IRELAND:
        return f"UK(NI) {number} EC"
    return f"{workshop.country} {number} EU"


def mark_found(mark: str, workshop: Workshop, context: Context) -> list[Finding]:
    """Return what is wrong with a mark that stands on bags or stock already.

    Args:
        mark: its letters and number, such as ``UK 1234 EC``.
        workshop: whose it is.
        context: the market and its rules on the day.
    """
    rule = context.rule("identification_mark")
    letters = f"{context.market}.labelling.mark_letters"
    is_old = _OLD_LETTERS.search(re.sub(rf"^{workshop.country}\b", "", mark.upper())) is not None
    if choices.standing(workshop.standing) not in ("approved", "us_inspected"):
        return [rule.found(mark, "Only an approved establishment prints a mark: use stock without one.", exceeded=True)]
    findings = []
    if workshop.approval_number and workshop.approval_number.upper() not in mark.upper():
        message = f"The mark does not show {workshop.approval_number}, the number that the authority gave."
        findings.append(rule.found(mark, message, exceeded=True))
    if context.market != "us" and is_old and letters not in context.rules and workshop.country != NORTHERN_IRELAND:
        message = f"The letters of {mark!r} may not be printed on {context.rules.on.isoformat()} any more: use new stock."
        findings.append(rule.found(mark, message, exceeded=True))
    return findings


def standing_found(workshop: Workshop, context: Context) -> list[Finding]:
    """Return what the workshop's standing means for this market."""
    standing, rule = choices.standing(workshop.standing), context.rule("identification_mark")
    is_american = standing in ("us_inspected", "us_retail_exempt")
    if standing != "not_for_sale" and is_american != (context.market == "us"):
        message = (
            f"Unchecked: the workshop's standing is {standing.replace('_', ' ')}, and this pack is for another market; what lets"
            " it be sold there, ask the authority."
        )
        return [rule.found(standing, message, exceeded=False, severity="warn")]
    return []
