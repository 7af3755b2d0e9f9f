"""Which language a label is in where it is sold, and which of its words nobody has confirmed yet.

Regulation (EU) No 1169/2011, Article 15; for the US 9 CFR 317.2(b).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from labelsvc.declaration.context import Context
from labelsvc.declaration.packing import Packing
from labelsvc.declaration.particulars import REFRIGERATED
from labelsvc.facts import Product, Workshop
from labelsvc.rules.finding import Finding


def language_found(packing: Packing, workshop: Workshop, context: Context) -> list[Finding]:
    """Return the finding where a country of sale does not take the label's language, or is none of the market's."""
    rule = context.rule("language")
    accepted = {row["country"]: row["languages"] for row in rule.table}
    country = packing.country or (workshop.country if workshop.country in accepted else None)
    if country is None:
        message = "Unchecked: in which country it is sold is not said, so nobody knows whether it takes the label's language."
        return [rule.found(None, message, exceeded=False, severity="note")]
    if country not in accepted:
        message = f"{country} is no country of the market {context.market}: choose the market or country again."
        return [rule.found(country, message, exceeded=True)]
    if context.language in accepted[country]:
        return []
    message = (
        f"A label in {context.language!r} is sold in {country}, which takes {' or '.join(accepted[country])}: print it in that"
        " language, or have the authority accept this one."
    )
    return [rule.found(context.language, message, exceeded=True)]


def card_found(product: Product, context: Context) -> list[Finding]:
    """Warn of words of the product's card that are printed in one language although its labels have several."""
    own = [one for one in (str(product.storage), product.cooking or REFRIGERATED) if one != REFRIGERATED]
    if len(product.languages) < 2 or not own:
        return []
    message = (
        f"Printed in every language as the product's card has it: {', '.join(map(repr, own))}. Write {REFRIGERATED} as its"
        " storage and leave the cooking empty to get the words of each language, or make a product for each."
    )
    return [context.rule("language").found(None, message, exceeded=False)]


def unconfirmed_found(keys: Iterable[str], context: Context) -> list[Finding]:
    """Return a note for the printed phrases that are known from memory only.

    Args:
        keys: of the phrases that the label uses, such as ``statements.cook``.
        context: language of the label.
    """
    doubted = [
        key for key in keys if key in context.words["unconfirmed"] or key.partition(".")[0] in context.words["unconfirmed"]
    ]
    phrases = [repr(_phrase(context.words, key)) for key in sorted(set(doubted))]
    if not phrases:
        return []
    message = f"Words known from memory only, check them before printing: {', '.join(phrases)}."
    citation = "the words of this tool, from memory"
    return [
        Finding(f"words.{context.language}.used", "note", False, None, None, None, None, None, "unconfirmed", citation, message)
    ]


def _phrase(words: Mapping[str, Any], key: str) -> str:
    found: Any = words
    for step in key.split("."):
        found = found[step]
    return str(found if isinstance(found, str) else key)
