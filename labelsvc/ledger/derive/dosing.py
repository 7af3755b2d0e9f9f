"""What a cure brought into a piece: the running total of what was put on, and the sums of its method."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from decimal import Decimal

import msgspec

from labelsvc.curing.amounts import Ingoing, added_up
from labelsvc.curing.cure import Cure, Method, ingoing_of
from labelsvc.curing.ingoing import remarks_on_mix
from labelsvc.curing.mix import MixLine
from labelsvc.facts import Ingredient
from labelsvc.ledger.state import LotState, PutOn
from labelsvc.rules.finding import Finding
from labelsvc.units import Mass, share_out

# How a method of curing in the ledger is computed; a method that needs a pump or pick-up percent, which no fact holds, counts
# everything put on as taken in: an upper bound.
METHODS: Mapping[str, Method] = {
    "dry": "dry",
    "comminuted": "comminuted",
    "dry_excess": "dry_excess",
    "brine": "immersion_equilibrium",
    "immersion_equilibrium": "immersion_equilibrium",
}


def put_on(piece: LotState, lines: Sequence[PutOn], milligrams: int) -> tuple[PutOn, ...]:
    """Return what is on a piece after its share of a mix: the running total of what is alike but for its weight.

    Args:
        piece: the piece.
        lines: the whole mix.
        milligrams: the piece's share of it.
    """
    total = {_of_weight(one, 0): one.milligrams for one in piece.put_on}
    shares = share_out(milligrams, [line.milligrams for line in lines])
    for line, share in zip(lines, shares, strict=True):
        total[_of_weight(line, 0)] = total.get(_of_weight(line, 0), 0) + share
    return tuple(_of_weight(one, weight) for one, weight in total.items())


def scraped(piece: LotState, milligrams: int) -> tuple[PutOn, ...]:
    """Return what is on a piece after some of it was scraped off, in the proportions in which it was put on."""
    weights = [one.milligrams for one in piece.put_on]
    left = max(sum(weights) - milligrams, 0)
    shares = share_out(left, weights) if any(weights) else weights
    return tuple(_of_weight(one, share) for one, share in zip(piece.put_on, shares, strict=True))


def _of_weight(one: PutOn, milligrams: int) -> PutOn:
    return msgspec.structs.replace(one, milligrams=milligrams)


def ingoing_into(piece: LotState, card_of: Callable[[str], Ingredient | None]) -> Ingoing:
    """Return nitrite, nitrate and salt that went into a piece, on its green weight, by the formula of its method.

    Args:
        piece: the piece.
        card_of: gives the card of an ingredient by name.
    """
    cures = cures_of(piece, card_of)
    if not cures:
        return Ingoing(())
    ingoing = added_up([ingoing_of(cure) for cure in cures])
    return ingoing if (piece.method or "dry") in METHODS else replace(ingoing, upper_bound=True)


def is_brined(piece: LotState) -> bool:
    """Tell whether a piece lies in a brine."""
    return METHODS.get(piece.method or "dry") == "immersion_equilibrium"


def cures_of(piece: LotState, card_of: Callable[[str], Ingredient | None]) -> tuple[Cure, ...]:
    """Return all that was put on a piece as cures: one by its method, and what was put on beside a brine as a dry one.

    What never was in the brine neither is thinned by it nor thins it: it counts whole, on green weight.

    Args:
        piece: the piece.
        card_of: gives the card of an ingredient by name.
    """
    green = Mass.from_milligrams(max(piece.green_milligrams, 1))
    method = METHODS.get(piece.method or "dry", "dry")
    parts: dict[Method, list[MixLine]] = {}
    for one in piece.put_on:
        if one.milligrams:
            how: Method = "dry" if is_brined(piece) and one.is_beside else method
            parts.setdefault(how, []).append(mix_line(one, card_of(one.ingredient)))
    return tuple(_cure(how, green, tuple(lines)) for how, lines in parts.items())


def _cure(method: Method, green: Mass, lines: tuple[MixLine, ...]) -> Cure:
    applied = Mass(sum((line.weight.grams for line in lines), Decimal(0)))
    pickle = applied if method == "immersion_equilibrium" else Mass(Decimal(0))
    return Cure(method, green, lines, applied, pickle=pickle)


def mix_line(one: PutOn, card: Ingredient | None) -> MixLine:
    """Return what was put on as a line of a mix: the strength of its bag goes before that of the ingredient's card."""
    said = msgspec.to_builtins(card, enc_hook=str) if card else {}
    parts = {key: said.get(key) for key in ("category", "additive")}
    line = MixLine.from_components(one.ingredient, Mass.from_milligrams(one.milligrams), said.get("components") or (), **parts)
    return line.with_strength(dict(one.strength)) if one.strength else line


def unchecked_on(piece: LotState, card_of: Callable[[str], Ingredient | None]) -> list[Finding]:
    """Return a finding for each ingredient that may carry nitrite or nitrate although no content is entered."""
    lines = [mix_line(one, card_of(one.ingredient)) for one in piece.put_on if one.milligrams]
    return [finding for finding in remarks_on_mix(lines) if finding.severity == "warn"]
