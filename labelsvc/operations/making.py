"""What a lot was made of, read from the ledger: ingredients by weight at use, allergens, and the doses of each piece."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from itertools import groupby
from typing import Any, cast

import msgspec

from labelsvc import facts
from labelsvc.curing.amounts import Ingoing
from labelsvc.curing.limits import FigureOf
from labelsvc.curing.salts import SALT, Substance, find_substance
from labelsvc.curing.too_little import check_too_little
from labelsvc.curing.working import working_of
from labelsvc.declaration.composition import Line, contents_of
from labelsvc.declaration.foods import meat_shares
from labelsvc.declaration.ingredient_use import IngredientUse
from labelsvc.ledger import flows, read
from labelsvc.ledger.asof import AsOf
from labelsvc.ledger.database import Connection
from labelsvc.ledger.derive.dosing import cures_of, ingoing_into, unchecked_on
from labelsvc.ledger.derive.lawful import law_on
from labelsvc.ledger.read import LotRow
from labelsvc.ledger.state import LotState, Strength
from labelsvc.recipe import Additive, Component
from labelsvc.rules.finding import Finding
from labelsvc.shape import Percent, Text
from labelsvc.units import Mass, plain


@dataclass(frozen=True)
class Used:
    """One lot at the beginning of the chain, and how much of it was used.

    Args:
        lot: the animal, part or ingredient lot.
        milligrams: exact, at the time of use.
        card: the ingredient as recorded; None for meat.
    """

    lot: LotState
    milligrams: Decimal
    card: facts.Ingredient | None

    @property
    def weight(self) -> Mass:
        """The weight used."""
        return Mass((self.milligrams / 1000).quantize(Decimal("0.000001")))

    @property
    def components(self) -> list[dict[str, Any]]:
        """The parts of a premix or compound as plain JSON."""
        return [msgspec.to_builtins(part, enc_hook=str) for part in self.card.components] if self.card else []


@dataclass(frozen=True)
class Dose:
    """What the cure brought into one piece, what the rules say to that, and the sums with their numbers."""

    piece: LotState
    ingoing: Ingoing
    findings: tuple[Finding, ...]
    working: tuple[str, ...] = ()


def made_of(connection: Connection, lots: Sequence[LotRow]) -> list[Used]:
    """Return what some lots were made of together, the most first."""
    return together(made_each(connection, [lot.number for lot in lots]).values())


def together(made: Iterable[Sequence[Used]]) -> list[Used]:
    """Add up what several lots were made of, the most first."""
    total: dict[str, Used] = {}
    for used in made:
        for one in used:
            known = total.get(one.lot.code)
            total[one.lot.code] = replace(one, milligrams=one.milligrams + known.milligrams) if known else one
    return sorted(total.values(), key=lambda one: (-one.milligrams, one.lot.code))


def made_each(connection: Connection, numbers: Sequence[int]) -> dict[int, list[Used]]:
    """Return what each of some lots was made of, by number."""
    links = flows.links_back(connection, numbers)
    rows = {row.number: row.state for row in read.lots_of(connection, {*numbers, *(link.giver for link in links)})}
    made = {link.receiver for link in links}
    lookup = AsOf(connection, read.END_OF_TIME)
    cards = {number: ingredient_of(lookup, rows[number]) for number in rows.keys() - made}
    return {
        # the plus rounds to the usual 28 digits: a third of a thing shared out and put together again is the thing
        target: [Used(rows[number], +milligrams, cards[number]) for number, milligrams in recipe.items()]
        for target, recipe in contents_of(numbers, _flows(connection, sorted(made)), rows.keys() - made).items()
    }


def use_of(one: Used, product: facts.Product | None) -> IngredientUse:
    """Return one lot as the declaration takes it: meat by its species and the product's card, an ingredient by its own."""
    weight = f"{plain(one.weight.grams)} g"
    if one.card is not None:
        return use_of_card(one.card, weight, one.lot.code)
    species = one.lot.species or one.lot.name
    shares = meat_shares(product.meat if product else None)
    given = {"name": species, "weight": weight, "category": "meat", "species": species}
    return IngredientUse.from_json({**given, **{name: plain(value) for name, value in shares.items()}}, one.lot.code)


def use_of_card(card: facts.Ingredient, weight: str, field: str = "ingredient") -> IngredientUse:
    """Return an ingredient as the declaration takes it, by its card.

    Raises:
        InputError: something on the card that cannot be read; named under ``field``.
    """
    given: dict[str, Any] = msgspec.to_builtins(card, enc_hook=str)
    for only_nutrition in ("per_100g", "food"):
        given.pop(only_nutrition, None)
    return IngredientUse.from_json({**given, "weight": weight}, field)


def _flows(connection: Connection, numbers: Sequence[int]) -> Iterator[list[Line]]:
    """Yield the flows that touch some lots, in the order in which they happened."""
    for _, lines in groupby(flows.lines_touching(connection, numbers), key=lambda line: (line.fact, line.flow)):
        yield [Line(line.lot, line.kind, line.milligrams) for line in lines]


def ingredient_of(lookup: AsOf, lot: LotState) -> facts.Ingredient | None:
    """Return the card of an ingredient lot as it stands; None for meat."""
    if lot.ingredient is None:
        return None
    card = lookup.card("ingredient", lot.ingredient)
    if not isinstance(card, facts.Ingredient):
        return None
    return msgspec.structs.replace(card, components=as_stated(card.components, lot.strength)) if lot.strength else card


def as_stated(components: Sequence[Component], strength: Strength) -> tuple[Component, ...]:
    """Return the parts of a curing salt with what its bag states in their place; salt makes up the whole where it states none."""
    stated = {substance: percent for name, percent in strength if (substance := find_substance(name)) is not None}
    parts = [part for part in components if _substance_of(part) not in (SALT, *stated)]
    for substance, percent in stated.items():
        if substance is not SALT:
            additive = Additive(substance.name, "preservative", f"E {substance.e_number.removeprefix('E')}")
            parts.append(Component(name=Text(substance.name), percent=Percent(percent), additive=additive))
    left = max(100 - sum((part.percent for part in parts), Decimal(0)), Decimal(0))
    return (Component(name=Text("salt"), percent=Percent(min(stated.get(SALT, left), left))), *parts)


def _substance_of(part: Component) -> Substance | None:
    return find_substance((part.additive and part.additive.e_number) or part.name)


def doses_of(
    connection: Connection,
    pieces: Sequence[LotRow],
    market: str | None,
    days: Sequence[dt.date],
    measured: Sequence[facts.Measured] = (),
) -> list[Dose]:
    """Return the doses of pieces, checked against a market's rules on each of some days.

    Args:
        connection: where.
        pieces: pieces; what was put on each counts, on its green weight.
        market: eu, gb, us, or None for all markets of the product.
        days: today, the packing day: the law of each must hold.
        measured: what was measured of the packs, beside what was measured of each piece.
    """
    lookup = AsOf(connection, read.END_OF_TIME)
    return [_dose(connection, lookup, piece, market, days, (*piece.state.measured, *measured)) for piece in pieces]


def _dose(
    connection: Connection,
    lookup: AsOf,
    piece: LotRow,
    market: str | None,
    days: Sequence[dt.date],
    measured: Sequence[facts.Measured],
) -> Dose:
    product = lookup.card("product", piece.state.product or "")

    def card_of(name: str) -> facts.Ingredient | None:
        return cast("facts.Ingredient | None", lookup.card("ingredient", name))

    state, cures = piece.state, cures_of(piece.state, card_of)
    ingoing, unchecked = ingoing_into(state, card_of), unchecked_on(state, card_of)
    if not cures:
        return Dose(state, ingoing, tuple(unchecked))
    markets = [market] if market else product.markets if isinstance(product, facts.Product) else []
    law = [
        one
        for each in markets
        if isinstance(product, facts.Product)
        for one in law_on(ingoing, each, product, days, method=state.method, measured=measured, figure_of=figure_of(connection))
    ]
    findings = dict.fromkeys([*unchecked, *law, *_too_little(ingoing, state)])
    return Dose(state, ingoing, tuple(findings), tuple(said for cure in cures for said in working_of(cure)))


def _too_little(ingoing: Ingoing, piece: LotState) -> list[Finding]:
    on = piece.cured_on or piece.born
    days = (piece.planned_out - on).days if piece.planned_out and piece.cured_on else None
    sealed = None if piece.bag is None else piece.bag == "sealed"
    return check_too_little(ingoing, on, days=days, temperature_c=piece.temperature_c, is_sealed=sealed)


def figure_of(connection: Connection) -> FigureOf:
    """Return how the workshop's own figure of a rule is found."""
    lookup = AsOf(connection, read.END_OF_TIME)
    return lambda rule: cast("facts.Figure | None", lookup.card("figure", rule))
