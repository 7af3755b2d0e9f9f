"""What the label of a pack says, from the ledger: its pieces, their average, what was measured, and what was decided."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from msgspec import structs

from labelsvc import facts
from labelsvc.declaration.allergens import all_allergens
from labelsvc.declaration.context import context_for
from labelsvc.declaration.declare import Declaration, declare
from labelsvc.declaration.foods import composition_of
from labelsvc.declaration.ingredient_use import IngredientUse
from labelsvc.declaration.label import Label, Made, label_of
from labelsvc.declaration.naming import food_name
from labelsvc.declaration.nutrition import NutritionLine
from labelsvc.declaration.packing import Measured, Packing
from labelsvc.declaration.words import Words
from labelsvc.errors import ConflictError
from labelsvc.ledger import around, read
from labelsvc.ledger.database import Connection
from labelsvc.ledger.read import LotRow
from labelsvc.ledger.state import LotState
from labelsvc.operations.average import Average, average_of, stray_findings
from labelsvc.operations.cross_contact import findings_of
from labelsvc.operations.making import made_of, use_of
from labelsvc.rules.finding import Finding
from labelsvc.shape import Percent, Text, Weighed
from labelsvc.units import GRAMS_IN, Mass

INEDIBLE = ("netting", "packaging")  # categories of what is on the piece and is no ingredient: only its allergens count
# What a label's rules ask for: under which name it is recorded, and which of several pieces is the least favourable. What the
# US calls the brine of a product is the salt in its water phase.
_AS_RECORDED: dict[str, tuple[str, Callable[[Iterable[Decimal]], Decimal]]] = {
    "water_activity": ("water_activity", max),
    "ph": ("ph", max),
    "water_phase_salt": ("water_phase_salt_percent", min),
    "brine_percent": ("water_phase_salt_percent", min),
    "protein_fat_free": ("protein_fat_free", min),
}


@dataclass(frozen=True)
class Labelled:
    """What the label of one pack says.

    Args:
        label: its particulars and findings.
        declaration: ingredients, allergens and quantities.
        average: what quantities and nutrition rest on.
    """

    label: Label
    declaration: Declaration
    average: Average


def labels_of(
    connection: Connection, units: Sequence[LotRow], product: facts.Product, workshop: facts.Workshop
) -> list[Labelled]:
    """Return what the labels of packs of one packing say; they differ in their weights only.

    Args:
        connection: where.
        units: packs of one pack lot, at least one.
        product: its card.
        workshop: who makes it.

    Raises:
        ConflictError: not a pack.
        InputError: a market or language we have no words for, or a card that cannot be read.
    """
    first = units[0]
    packing, average = _packing(connection, first), average_of(connection, first, product)
    found = []
    one = _labelled(connection, units, product, workshop, packing, average)
    for unit in units:
        weighed = structs.replace(packing, weight=_weight(unit.state.made_milligrams))
        label = label_of(product, workshop, weighed, one.made)
        found.append(Labelled(replace(label, findings=(*label.findings, *one.more)), one.made.declaration, average))
    return found


def label_of_piece(
    connection: Connection, piece: LotRow, product: facts.Product, workshop: facts.Workshop, packing: Packing
) -> Labelled:
    """Return what the label would say if a piece were packed as it is, to see what is missing before that.

    Args:
        connection: where.
        piece: a piece of which something is left.
        product: its card.
        workshop: who makes it.
        packing: market, language, day and form; what else is known of the piece is filled in.
    """
    state = piece.state
    known = structs.replace(
        _with_days(packing, [state]),
        weight=_weight(state.milligrams),
        origins=state.origins,
        measured=_measured(state, [state]),
    )
    average = Average(tuple(made_of(connection, [piece])), Mass(known.weight.grams), 1, {}, state.method == "dry_excess")
    one = _labelled(connection, [piece], product, workshop, known, average)
    label = label_of(product, workshop, known, one.made)
    return Labelled(replace(label, findings=(*label.findings, *one.more)), one.made.declaration, average)


@dataclass(frozen=True)
class _Made:
    made: Made
    more: Sequence[Finding]


def _labelled(
    connection: Connection,
    lots: Sequence[LotRow],
    product: facts.Product,
    workshop: facts.Workshop,
    packing: Packing,
    average: Average,
) -> _Made:
    """What lots of one packing are made of, declared by their average, and what was found beside the label itself."""
    weight = Mass.from_milligrams(lots[0].state.made_milligrams if lots[0].state.kind == "pack" else lots[0].state.milligrams)
    uses = [_eaten(use_of(one, product), product) for one in made_of(connection, [lots[0]])]
    declaration = _declared(uses, weight, product, packing, average)
    context = context_for(packing.market, packing.language, packing.on, weight.grams)
    lines, unknown = _composed(average, product, context.words)
    own = all_allergens([use for use, _ in uses], context_for("eu", "en", packing.on, weight.grams))
    more = [*stray_findings(average, context), *findings_of(connection, lots, own, context)]
    return _Made(Made(declaration, weight, average.finished, lines, unknown, average.pieces), more)


def _packing(connection: Connection, unit: LotRow) -> Packing:
    state = unit.state
    if state.kind != "pack" or state.packed_on is None or state.best_before is None or state.market is None:
        raise ConflictError("code", "a pack", f"{state.code}, of kind {state.kind}")
    pieces = [row.state for row in read.lots_of(connection, around.gave_to(connection, unit.number)) if row.state.kind == "piece"]
    packing = Packing(
        market=Text(state.market.lower()),
        language=Text((state.language or "en").lower()),
        on=state.packed_on,
        weight=_weight(state.made_milligrams),
        form=Text(state.form or "prepacked"),
        country=facts.Country(state.country) if state.country else None,
        best_before=state.best_before,
        origins=state.origins,
        may_contain=tuple(Text(one) for one in state.may_contain or ()),
        measured=_measured(state, pieces),
        lot=state.code.partition("/")[0],
    )
    return _with_days(packing, pieces)


def _with_days(packing: Packing, pieces: Sequence[LotState]) -> Packing:
    """Say the fewest days that any piece lay in the cure, and had in all; nothing where one of them has no such days."""
    spans: list[tuple[int, int]] = []
    for piece in pieces:
        if piece.cured_on is None or piece.strung_on is None:
            return packing
        spans.append(((piece.strung_on - piece.cured_on).days, (packing.on - piece.cured_on).days))
    if not spans:
        return packing
    return structs.replace(packing, cured_days=min(cured for cured, _ in spans), total_days=min(total for _, total in spans))


def _weight(milligrams: int) -> Weighed:
    """Return the weight that whole milligrams of the ledger stand for: the tenths of an ounce that it cut off its end from.

    A pack of 1 lb, 453.59237 g, is 453592 mg in the ledger; rounded down from there its label would lack a tenth of an ounce.
    """
    kept = Mass.from_milligrams(milligrams)
    tenth = GRAMS_IN["oz"] / 10
    weighed = Mass((kept.grams / tenth).to_integral_value() * tenth)
    return Weighed(weighed.grams if weighed > kept and weighed.milligrams == milligrams else kept.grams)


def _measured(state: LotState, pieces: Sequence[LotState]) -> Measured:
    """Return what was measured: of the packs, else the least favourable of the pieces where each was measured."""
    values: dict[str, Decimal] = {}
    for what, (name, worst) in _AS_RECORDED.items():
        own = [one.value for one in state.measured if one.what == name]
        each = [[one.value for one in piece.measured if one.what == name][-1:] for piece in pieces]
        if own:
            values[what] = worst(own)  # a second, better value does not wipe out the first: who doubts one corrects it
        elif each and all(each):
            values[what] = worst(value for (value,) in each)
    return Measured(**{what: Percent(value) for what, value in values.items()})


def _eaten(use: IngredientUse, product: facts.Product) -> tuple[IngredientUse, bool]:
    """An ingredient, and whether it is eaten: netting is not, nor is a casing that the product's card calls inedible."""
    is_casing = use.category == "casing" and "casing" in product.inedible
    return use, not (is_casing or use.category in INEDIBLE)


def _declared(
    uses: Sequence[tuple[IngredientUse, bool]], weight: Mass, product: facts.Product, packing: Packing, average: Average
) -> Declaration:
    """Declare the pack's own ingredients with the average's quantities; what is not eaten adds its allergens only."""
    name = food_name(product, packing.language)
    same = dict(
        market=packing.market, language=packing.language, on=packing.on, food_name=name, measured=packing.measured,
        is_preparation=product.is_preparation,
    )  # fmt: skip
    pooled = [use for use, is_eaten in (_eaten(use_of(one, product), product) for one in average.used) if is_eaten]
    quantities = declare(pooled, finished_weight=average.finished, **same).quantities  # type: ignore[arg-type]
    eaten = [use for use, is_eaten in uses if is_eaten]
    beside = [use for use, is_eaten in uses if not is_eaten]
    return declare(eaten, finished_weight=weight, average=quantities, not_eaten=beside, **same)  # type: ignore[arg-type]


def _composed(average: Average, product: facts.Product, words: Words) -> tuple[list[NutritionLine], list[str]]:
    """The average's ingredients with their composition, and why nutrition cannot be computed, where it cannot."""
    lines, unknown = [], []
    if average.method_gives_no_salt:
        unknown.append("how much a piece took up of a cure in excess salt is not known; it takes an analysis")
    for one in average.used:
        use, is_eaten = _eaten(use_of(one, product), product)
        if not is_eaten:
            continue
        found = composition_of(one.card, one.card) if one.card else composition_of(product.meat) if product.meat else None
        if found is None:
            of = f"{use.name} is not known" if one.card else f"the meat is not on the card of {product.name}"
            unknown.append(f"the composition of {of}")
        else:
            name = words["species"].get(use.species, use.name)
            lines.append(NutritionLine(name=Text(name), weight=one.weight, per_100g=found.per_100g))
    return _merged(lines), list(dict.fromkeys(unknown))


def _merged(lines: Sequence[NutritionLine]) -> list[NutritionLine]:
    """Lots of one ingredient as one line, so that the working can be read."""
    found: dict[tuple[str, str], NutritionLine] = {}
    for line in lines:
        key = (line.name, repr(line.per_100g))
        known = found.get(key)
        weight = Mass(line.weight.grams + (known.weight.grams if known else 0))
        found[key] = NutritionLine(name=line.name, weight=weight, per_100g=line.per_100g)
    return list(found.values())
