"""The nutrition declaration of 100 g, calculated from the ingredients: exact first, rounded last.

Regulation (EU) 1169/2011, Articles 29 to 35, Annexes I, XIV and XV; rounding by the Commission's guidance of 2012.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal, localcontext
from typing import Any

from msgspec import structs

from labelsvc.declaration.context import figure, labelling_rule
from labelsvc.declaration.words import Words, number_text
from labelsvc.errors import InputError
from labelsvc.recipe import Per100g
from labelsvc.rules.load import Rule, RuleSet, rules_of
from labelsvc.shape import Shape, Text
from labelsvc.units import Mass, plain, ratio, round_half_up

_ORDER = ("fat", "saturates", "carbohydrate", "sugars", "fibre", "protein", "salt")


class NutritionLine(Shape, frozen=True):
    """One ingredient with its weight at the time of use and what 100 g of it hold."""

    name: Text
    weight: Mass
    per_100g: Per100g

    @property
    def amounts(self) -> dict[str, Decimal]:
        """What is given of 100 g by name."""
        return {name: amount for name, amount in structs.asdict(self.per_100g).items() if amount is not None}


@dataclass(frozen=True)
class Nutrition:
    """A nutrition declaration.

    Args:
        per_100g: exact values; energy in kJ and kcal, the rest in grams, in the order of Annex XV.
        declared: the same as printed, with units.
    """

    per_100g: Mapping[str, Decimal]
    declared: Mapping[str, str]

    def as_json(self) -> dict[str, Any]:
        """Return the contract's object; exact values to ten decimals."""
        exact = {name: plain(round_half_up(value, 10)) for name, value in self.per_100g.items()}
        return {"per_100g": exact, "declared": dict(self.declared)}


def nutrition_declaration(
    lines: Sequence[NutritionLine], *, market: str, finished_weight: Mass, on: dt.date = dt.date.max
) -> Nutrition:
    """Return the nutrition declaration of 100 g of finished product.

    Args:
        lines: what was used; drying takes water only, so what they held is in the finished product.
        market: ``eu`` or ``gb``.
        finished_weight: of the product, more than 0 g and not less than what the ingredients hold besides water.
        on: the day whose rules apply; by default the latest we know.

    Raises:
        InputError: a market whose panel we do not make, or a finished weight that cannot be.

    Source: Regulation (EU) 1169/2011, Annex I, XIV and XV.
    """
    if market == "us":
        raise InputError("market", "eu or gb", "us", "The US panel has its own form and rounding and is not made here.")
    rules = rules_of(market, on)
    with localcontext() as decimals:
        decimals.prec = 50
        exact = _per_100g(lines, finished_weight.grams, rules)
        return Nutrition(exact, {name: _printed(name, value, rules) for name, value in exact.items()})


def energy(amounts: Mapping[str, Decimal], rule: Rule) -> tuple[Decimal, Decimal]:
    """Return the energy of 100 g in kJ and kcal from unrounded grams.

    Args:
        amounts: grams by nutrient.
        rule: ``labelling.energy``.

    Source: Regulation (EU) 1169/2011, Annex XIV.
    """
    grams = [(amounts.get(row["nutrient"], Decimal(0)), row) for row in rule.table]
    return sum((amount * row["kj"] for amount, row in grams), Decimal(0)), sum(
        (amount * row["kcal"] for amount, row in grams), Decimal(0)
    )


def rounded(name: str, grams: Decimal, rule: Rule) -> str:
    """Return a nutrient as printed, such as ``"9.5 g"`` or ``"<0.5 g"``.

    Args:
        name: of the nutrient.
        grams: exact grams in 100 g.
        rule: ``labelling.nutrition_rounding``: decimal places from an amount upwards, words below the first.
    """
    row = next(row for row in rule.table if name in row["nutrients"])
    steps = [(Decimal(start), places) for start, places in row["places"]]
    if grams < steps[0][0]:
        return str(row["below"]) if grams else "0 g"
    places = [places for start, places in steps if grams >= start][-1]
    value = round_half_up(grams, places)
    # 9.96 g rounds to 10: from there on the coarser step applies
    coarser = [places for start, places in steps if max(value, grams) >= start][-1]
    return f"{round_half_up(value, coarser):f} g"


def control_range_of_fat(declared: Decimal, rule: Rule) -> tuple[Decimal, Decimal]:
    """Return between which fat contents in g per 100 g a declared one stands (guidance of 2012).

    Args:
        declared: grams in 100 g as printed.
        rule: ``labelling.nutrition_tolerance_fat``.
    """
    row = next(row for row in rule.table if _is_within(declared, row))
    margin = declared * row["percent"] / 100 if "percent" in row else Decimal(row["grams"])
    return max(declared - margin, Decimal(0)), declared + margin


def _is_within(declared: Decimal, row: Mapping[str, Any]) -> bool:
    return bool(declared < row["under"] if "under" in row else declared <= row.get("up_to", declared))


def amounts_of_100g(lines: Sequence[NutritionLine], finished: Decimal) -> dict[str, Decimal]:
    """Return exact grams of each nutrient in 100 g of finished product, sodium in milligrams; drying takes water only.

    Args:
        lines: what was used.
        finished: grams of the product.

    Raises:
        InputError: no finished weight.
    """
    if finished <= 0:
        raise InputError("finished_weight", "a weight of more than 0 g", f"{plain(finished)} g")
    held = [(line.weight.grams, line.amounts) for line in lines]
    names = {name for _, amounts in held for name in amounts}
    sums = {name: sum((grams * amounts.get(name, 0) for grams, amounts in held), Decimal(0)) for name in names}
    return {name: ratio(total, finished, 50) for name, total in sums.items()}


def _per_100g(lines: Sequence[NutritionLine], finished: Decimal, rules: RuleSet) -> dict[str, Decimal]:
    amounts = amounts_of_100g(lines, finished)
    amounts["salt"] = amounts.pop("sodium_mg") / 1000 * figure(labelling_rule(rules, "salt_from_sodium"))
    solids = sum((amounts[name] for name in ("fat", "carbohydrate", "protein", "salt")), amounts.get("fibre", Decimal(0)))
    if solids > 100:
        least = plain(round_half_up(solids * finished / 100, 1))
        raise InputError(
            "finished_weight", f"at least the {least} g that fat, carbohydrate, protein and salt weigh", f"{plain(finished)} g"
        )
    kj, kcal = energy(amounts, labelling_rule(rules, "energy"))
    return {"energy_kj": kj, "energy_kcal": kcal, **{name: amounts[name] for name in _ORDER if name in amounts}}


def _printed(name: str, value: Decimal, rules: RuleSet) -> str:
    if name in ("energy_kj", "energy_kcal"):
        return f"{round_half_up(value):f} {'kJ' if name == 'energy_kj' else 'kcal'}"
    return rounded(name, value, labelling_rule(rules, "nutrition_rounding"))


def printed_line(declared: Mapping[str, str], words: Words) -> str:
    """Return the declaration in one line, as where there is no room for a table (Art 34(2)), in the order of Annex XV."""
    names = words["nutrition"]
    parts = [f"{names['energy']} {declared['energy_kj']} / {declared['energy_kcal']}"]
    order = ("fat", "saturates", "carbohydrate", "sugars", "fibre", "protein", "salt")
    parts += [f"{names[name]} {number_text(declared[name], words)}" for name in order if name in declared]
    return f"{names['heading']}: {', '.join(parts)}"
