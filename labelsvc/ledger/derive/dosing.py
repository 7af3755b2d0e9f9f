"""What a cure brought into a piece, and the holds that follow from the law: derived with everything else, never overridden.

A limit is checked at the tub for that day and for the planned packing day, and again at packing for the market of the packs.
A correction that puts a piece over a limit holds it and the packs made of it, sold ones included; one that brings it under
the limit lets it go.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import replace
from decimal import Decimal
from typing import cast

import msgspec

from labelsvc.curing.advice import advice
from labelsvc.curing.amounts import Ingoing, amounts_on
from labelsvc.curing.ingoing import Cure, Method, ingoing_of, remarks_on_mix
from labelsvc.curing.limits import check_highest, check_limits, classes_of
from labelsvc.curing.mix import MixLine
from labelsvc.errors import InputError
from labelsvc.facts import Ingredient, Product
from labelsvc.ledger.derive.bench import Bench
from labelsvc.ledger.state import HeldFor, LotState, PutOn
from labelsvc.rules.finding import Finding
from labelsvc.units import Mass, share_out

# How a method of curing in the ledger is computed; a method that needs a pump or pick-up percent, which no fact holds, counts
# everything put on as taken in: an upper bound.
_METHODS = {
    "dry": "dry",
    "comminuted": "comminuted",
    "dry_excess": "dry_excess",
    "brine": "immersion_equilibrium",
    "immersion_equilibrium": "immersion_equilibrium",
}


def put_on(piece: LotState, lines: Sequence[tuple[str, int]], milligrams: int) -> tuple[PutOn, ...]:
    """Return what is on a piece after its share of a mix: the running total by ingredient.

    Args:
        piece: the piece.
        lines: ingredient and milligrams of each line of the whole mix.
        milligrams: the piece's share of it.
    """
    total = {one.ingredient: one.milligrams for one in piece.put_on}
    shares = share_out(milligrams, [weight for _, weight in lines])
    for (ingredient, _), share in zip(lines, shares, strict=True):
        total[ingredient] = total.get(ingredient, 0) + share
    return tuple(PutOn(ingredient, weight) for ingredient, weight in total.items())


def scraped(piece: LotState, milligrams: int) -> tuple[PutOn, ...]:
    """Return what is on a piece after some of it was scraped off, in the proportions in which it was put on."""
    weights = [one.milligrams for one in piece.put_on]
    left = max(sum(weights) - milligrams, 0)
    shares = share_out(left, weights) if any(weights) else weights
    return tuple(PutOn(one.ingredient, share) for one, share in zip(piece.put_on, shares, strict=True))


def ingoing_into(piece: LotState, card_of: Callable[[str], Ingredient | None]) -> Ingoing:
    """Return nitrite, nitrate and salt that went into a piece, on its green weight, by the formula of its method.

    Args:
        piece: the piece.
        card_of: gives the card of an ingredient by name.
    """
    green = Mass.from_milligrams(max(piece.green_milligrams, 1))
    lines = [_line(one, card_of(one.ingredient)) for one in piece.put_on if one.milligrams]
    method = _METHODS.get(piece.method or "dry")
    if not lines or method is None:
        return replace(amounts_on(green, lines), upper_bound=bool(lines))
    applied = Mass(sum((line.weight.grams for line in lines), Decimal(0)))
    pickle = applied if method == "immersion_equilibrium" else Mass(Decimal(0))
    return ingoing_of(Cure(cast(Method, method), green, tuple(lines), applied, pickle=pickle))


def _line(one: PutOn, card: Ingredient | None) -> MixLine:
    components = [msgspec.to_builtins(part, enc_hook=str) for part in card.components] if card else []
    return MixLine.from_components(one.ingredient, Mass.from_milligrams(one.milligrams), components)


def law_on(ingoing: Ingoing, market: str, product_class: str, days: Sequence[dt.date]) -> list[Finding]:
    """Return what a market's rules say to an amount on some days.

    A class that the market does not know is checked as its most cautious one. A market that we do not know is called
    unchecked; over the highest figure in any of our rules it stops all the same.
    """
    place = market.lower()
    try:
        known = product_class in classes_of(place)
        checked_as = product_class if known else _CAUTIOUS[place]
        found = [one for day in dict.fromkeys(days) for one in check_limits(ingoing, place, checked_as, day)]
    except (InputError, KeyError):
        unchecked = advice("curing.unchecked", f"No legal check was made for {market}: we have no rules for it", severity="warn")
        return [unchecked, *check_highest(ingoing)]
    if not known:
        said = f"{product_class} is no class of {market}: checked as {checked_as}, the most cautious one"
        found.append(advice("curing.class_unknown", said, severity="warn"))
    return list(dict.fromkeys(found))


# What a product is taken for where its class is none of the market's: rows of no named product (EU and GB category 08.3.1),
# and bacon in the US, where nitrate is not allowed at all.
_CAUTIOUS = {"eu": "non_heat_treated", "gb": "non_heat_treated", "us": "dry_cured_bacon"}


def unchecked_on(piece: LotState, card_of: Callable[[str], Ingredient | None]) -> list[Finding]:
    """Return a finding for each ingredient that may carry nitrite or nitrate although no content is entered."""
    lines = [_line(one, card_of(one.ingredient)) for one in piece.put_on if one.milligrams]
    return [finding for finding in remarks_on_mix(lines) if finding.severity == "warn"]


def hold_by_law(bench: Bench, piece: LotState, markets: Sequence[str], days: Sequence[dt.date]) -> LotState:
    """Put the piece's legal holds in line with its dose: held where no market of these would allow it."""
    product = bench.card(Product, piece.product or "", "piece")
    own = tuple(held for held in bench.now(piece).held_for if held.finding is None)
    found = legal_holds(bench, bench.now(piece), product, markets, days)
    for held in found:
        hint = "It is held: destroy it, or correct the fact if it was typed wrong."
        bench.issue("note", "mix", f"a dose for {piece.code} that is allowed in {' or '.join(markets)}", held.reason, hint)
    for finding in unchecked_on(bench.now(piece), lambda name: bench.find_card(Ingredient, name)):
        bench.issue("note", "mix", "ingredients whose nitrite and nitrate are entered", finding.message)
    return bench.change(piece, held_for=(*own, *found))


def legal_holds(
    bench: Bench, piece: LotState, product: Product, markets: Sequence[str], days: Sequence[dt.date]
) -> tuple[HeldFor, ...]:
    """Return the holds of a piece for a sale in any of some markets; none where one of them allows its dose."""
    if not piece.put_on:
        return ()
    ingoing = ingoing_into(piece, lambda name: bench.find_card(Ingredient, name))
    stops = [[one for one in law_on(ingoing, market, product.class_, days) if _stops(one)] for market in markets]
    if not stops or not all(stops):
        return ()
    return tuple(HeldFor(bench.fact.seq, one.message, one.as_json()) for one in dict.fromkeys(stops[0]))


def _stops(finding: Finding) -> bool:
    return finding.severity == "stop" and finding.exceeded
