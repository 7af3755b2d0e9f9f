"""The amounts of a serving for the nutrition facts panel of the United States, as far as a composition tells them.

9 CFR 317.309 with the increments of 21 CFR 101.9(c). It is no whole panel: what it lacks is said beside it.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal, localcontext
from typing import Any

from labelsvc.declaration.context import labelling_rule
from labelsvc.declaration.nutrition import NutritionLine, amounts_of_100g
from labelsvc.errors import InputError
from labelsvc.rules.finding import Finding
from labelsvc.rules.load import Rule, RuleSet, rules_of
from labelsvc.units import Mass, plain, round_half_up

_MILLIGRAMS = "sodium_mg"
_LACKS = (
    "No whole panel: the serving in a household measure and the number of servings, trans fat, cholesterol, added sugars,"
    " vitamins and minerals are not known here, and the form of the panel is the agency's."
)


@dataclass(frozen=True)
class Serving:
    """The amounts of a serving.

    Args:
        per_100g: exact grams in 100 g; sodium in milligrams, calories in kcal.
        per_serving: the same in a serving.
        declared: as printed, with units.
        daily_values: percent of the daily value, whole numbers, of the exact amounts.
        findings: what the panel needs besides.
    """

    per_100g: Mapping[str, Decimal]
    per_serving: Mapping[str, Decimal]
    declared: Mapping[str, str]
    daily_values: Mapping[str, str]
    findings: tuple[Finding, ...]

    def as_json(self) -> dict[str, Any]:
        """Return JSON values; exact ones to ten decimals."""
        return {
            "per_100g": {name: plain(round_half_up(value, 10)) for name, value in self.per_100g.items()},
            "per_serving": {name: plain(round_half_up(value, 10)) for name, value in self.per_serving.items()},
            "declared": dict(self.declared),
            "daily_values": dict(self.daily_values),
            "findings": [one.as_json() for one in self.findings],
        }


def serving_of(
    lines: Sequence[NutritionLine], *, finished_weight: Mass, serving: Mass | None, on: dt.date = dt.date.max
) -> Serving:
    """Return what a serving holds and how that is printed.

    Args:
        lines: what was used; drying takes water only.
        finished_weight: of the product, more than 0 g.
        serving: weight of a serving, which the panel is for.
        on: the day whose rules apply; by default the latest we know.

    Raises:
        InputError: no serving, or a finished weight that cannot be.

    Source: 9 CFR 317.309(c); carbohydrate there is all of it, fibre included.
    """
    if serving is None or not serving.grams:
        hint = "With the weight of a serving its amounts are given; the whole panel is not made here."
        raise InputError("market", "eu or gb, or us with a serving", "us", hint)
    rules = rules_of("us", on)
    with localcontext() as decimals:
        decimals.prec = 50
        held = amounts_of_100g(lines, finished_weight.grams)
        fibre = held.get("fibre", Decimal(0))
        solids = held["fat"] + held["carbohydrate"] + fibre + held["protein"]
        if solids > 100:
            least = plain(round_half_up(solids * finished_weight.grams / 100, 1))
            expected = f"at least the {least} g that fat, carbohydrate and protein weigh"
            raise InputError("finished_weight", expected, f"{plain(finished_weight.grams)} g")
        exact = {
            "total_fat": held["fat"],
            "saturated_fat": held["saturates"],
            _MILLIGRAMS: held["sodium_mg"],
            "total_carbohydrate": held["carbohydrate"] + fibre,
            "dietary_fiber": fibre,
            "sugars": held["sugars"],
            "protein": held["protein"],
        }
        exact = {"calories": _calories(exact, labelling_rule(rules, "energy")), **exact}
        amounts = {name: value * serving.grams / 100 for name, value in exact.items()}
        return _serving(exact, amounts, rules)


def increment(name: str, amount: Decimal, rule: Rule) -> str:
    """Return an amount as the panel prints it, such as ``"4.5 g"``, ``"less than 1 g"`` or ``"0 mg"``.

    Args:
        name: of the nutrient.
        amount: exact, of a serving.
        rule: ``us.labelling.nutrition_rounding``.
    """
    row = next(row for row in rule.table if name in row["nutrients"])
    unit = {"calories": "", _MILLIGRAMS: " mg"}.get(name, " g")
    if amount < Decimal(row["none_below"]):
        return f"0{unit}"
    if "less_than" in row and amount < Decimal(row["less_than"]):
        return f"less than {row['less_than']}{unit}"
    nearest = next(Decimal(step["nearest"]) for step in row["steps"] if _is_in(amount, step))
    return f"{plain(round_half_up(amount / nearest) * nearest)}{unit}"


def _is_in(amount: Decimal, step: Mapping[str, str]) -> bool:
    if "below" in step:
        return amount < Decimal(step["below"])
    return "up_to" not in step or amount <= Decimal(step["up_to"])


def _calories(exact: Mapping[str, Decimal], rule: Rule) -> Decimal:
    return sum((exact[row["nutrient"]] * Decimal(row["kcal"]) for row in rule.table), Decimal(0))


def _serving(exact: Mapping[str, Decimal], amounts: Mapping[str, Decimal], rules: RuleSet) -> Serving:
    rounding, values = labelling_rule(rules, "nutrition_rounding"), labelling_rule(rules, "daily_values")
    declared = {name: increment(name, amount, rounding) for name, amount in amounts.items()}
    shares = {row["nutrient"]: 100 * amounts[row["nutrient"]] / Decimal(row["amount"]) for row in values.table}
    percents = {name: f"{plain(round_half_up(share))}%" for name, share in shares.items()}
    lacking = labelling_rule(rules, "nutrition").found(None, _LACKS, exceeded=False)
    return Serving(exact, amounts, declared, percents, (lacking,))
