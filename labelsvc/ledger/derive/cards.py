"""What can be checked of a card when it is written down, so that a slip does not come up weeks later at the printer."""

from __future__ import annotations

from collections.abc import Iterator

from labelsvc.codes.article_number import case_gtin, gtin
from labelsvc.codes.in_store import in_store_layout
from labelsvc.codes.link import base_address
from labelsvc.curing.limits import classes_of
from labelsvc.declaration.words import allergen_key, words_of
from labelsvc.errors import InputError
from labelsvc.facts import Ingredient, Product, Workshop
from labelsvc.ledger.derive.bench import THE_WORKSHOP, Bench
from labelsvc.recipe import Described
from labelsvc.rules.load import MARKETS
from labelsvc.shape import Shape


def keep_card(bench: Bench) -> None:
    """Keep the fact's body as the card of its name; a field that cannot be right is refused while it is written down."""
    card = bench.fact.body
    try:
        _check(card)
    except InputError as error:
        bench.issue("refuse", error.field, error.expected, error.got, error.hint)
    for doubt in _doubts_about(card):
        bench.issue(*doubt)
    bench.keep(THE_WORKSHOP if isinstance(card, Workshop) else str(getattr(card, "name", "")))


def _check(card: Shape) -> None:
    if isinstance(card, Workshop) and card.base_url is not None:
        base_address(card.base_url)
    elif isinstance(card, Ingredient):
        _check_allergens(card, "")
    elif isinstance(card, Product):
        _check_numbers(card)
        for place, language in enumerate(card.languages):
            _check_language(language, f"languages[{place}]")
        for market, named in card.classes.items():
            if market not in MARKETS:
                raise InputError("classes", f"markets of {', '.join(MARKETS)}", market)
            if named not in classes_of(market):
                raise InputError(f"classes.{market}", f"one of {', '.join(classes_of(market))}", named)


def _doubts_about(card: Shape) -> Iterator[tuple[str, str, str, str, str]]:
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
            yield "note", f"markets[{place}]", f"one of {ours}", market, hint


def _check_numbers(card: Product) -> None:
    if card.gtin is not None:
        gtin(card.gtin)
    if card.case_gtin is not None:
        case_gtin(card.case_gtin)
    if card.in_store is not None:
        in_store_layout(card.in_store)


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
