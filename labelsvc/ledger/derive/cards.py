"""What can be checked of a card when it is written down, so that a slip does not come up weeks later at the printer."""

from __future__ import annotations

from collections.abc import Iterator

from labelsvc.codes.article_number import gtin
from labelsvc.codes.link import base_address
from labelsvc.curing.limits import classes_of
from labelsvc.declaration.words import allergen_key, words_of
from labelsvc.errors import InputError
from labelsvc.facts import Ingredient, Product, Workshop
from labelsvc.recipe import Described
from labelsvc.rules.load import MARKETS
from labelsvc.shape import Shape


def check_card(card: Shape) -> None:
    """Raise an error that names the field of a card that cannot be right.

    Raises:
        InputError: an allergen the law does not name, a language we have no words for.
        CodeError: a GTIN or base address that cannot be.
    """
    if isinstance(card, Workshop) and card.base_url is not None:
        base_address(card.base_url)
    elif isinstance(card, Ingredient):
        _check_allergens(card, "")
    elif isinstance(card, Product):
        if card.gtin is not None:
            gtin(card.gtin)
        for place, language in enumerate(card.languages):
            _check_language(language, f"languages[{place}]")
        for market, named in card.classes.items():
            if market not in MARKETS:
                raise InputError("classes", f"markets of {', '.join(MARKETS)}", market)
            if named not in classes_of(market):
                raise InputError(f"classes.{market}", f"one of {', '.join(classes_of(market))}", named)


def doubts_about(card: Shape) -> Iterator[tuple[str, str, str, str, str]]:
    """Yield what is wrong with a card, or unusual, without making it unreadable: level, field, expected, got, hint."""
    if not isinstance(card, Product):
        return
    ours = ", ".join(MARKETS)
    if not card.markets:
        yield "refuse", "markets", f"at least one market, of {ours}", "none", "Eaten at home, it is the market it is made in."
    for place, market in enumerate(card.markets):
        if market.lower() not in MARKETS:
            is_britain = market.lower() in ("uk", "england", "scotland", "wales")
            hint = "Great Britain is gb." if is_britain else "We have no rules for it: nothing is checked."
            yield "ask", f"markets[{place}]", f"one of {ours}", market, hint


def _check_allergens(part: Described, where: str) -> None:
    for place, allergen in enumerate(part.allergens):
        allergen_key(allergen, f"{where}allergens[{place}]")
    for place, inner in enumerate(part.components):
        _check_allergens(inner, f"{where}components[{place}].")


def _check_language(language: str, field: str) -> None:
    try:
        words_of(language.lower())
    except InputError as error:
        raise InputError(field, error.expected, language) from None
