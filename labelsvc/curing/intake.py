"""What a person may take in of nitrite or nitrate a day, beside what a cure puts in: a yardstick, never a test for release.

EFSA ANS Panel (2017) and JECFA (2002): mg of the ion per kg of body weight, every day for a lifetime, from all food and water.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from decimal import Decimal
from typing import Any, Literal

from labelsvc.curing.amounts import Ingoing, shown
from labelsvc.curing.salts import NITRATE_ION, NITRITE_ION, SODIUM_NITRATE, SODIUM_NITRITE, Substance, expressed_as
from labelsvc.errors import InputError
from labelsvc.rules.load import PRACTICE, Rule, rules_of
from labelsvc.shape import Exact, Shape, Weighed, read_shape
from labelsvc.units import Mass, plain, ratio, round_half_up

_ION: Mapping[str, Substance] = {"nitrite": NITRITE_ION, "nitrate": NITRATE_ION}
_SALT: Mapping[str, Substance] = {"nitrite": SODIUM_NITRITE, "nitrate": SODIUM_NITRATE}
_NO_TEST = (
    "A yardstick for a lifetime, from all food and water: no limit of a food, and never a test for release. Children weigh less;"
    " infants are the most sensitive"
)


class IntakeRequest(Shape, frozen=True, kw_only=True):
    """What is asked: of which ion, for which body weight, and how much of it a food holds."""

    agent: Literal["nitrite", "nitrate"]
    on: dt.date
    body_weight: Weighed
    mg_per_kg_as_ion: Exact | None = None


def compute_intake(request: Mapping[str, Any]) -> dict[str, Any]:
    """Answer the contract ``intake``.

    Args:
        request: ``{agent: "nitrite"|"nitrate", on, body_weight, mg_per_kg_as_ion?}``; the last is what the food holds.

    Returns:
        ``{mg_a_day_as_ion, mg_a_day_as_sodium_salt, food_grams_a_day, working, findings}``; food_grams_a_day is None where it
        is not said what the food holds, or it holds nothing.

    Raises:
        InputError: names the field, what was expected and what was given.
    """
    asked = read_shape(IntakeRequest, request, "intake", strict=True)
    rule = _rule(asked.agent, asked.on)
    ion, salt = _ION[asked.agent], _SALT[asked.agent]
    most = daily_intake(rule, asked.body_weight)
    holds = asked.mg_per_kg_as_ion
    food = food_of(most, holds) if holds else None
    working = [
        f"{rule.value} {rule.unit} × {plain(asked.body_weight.grams / 1000)} kg = {shown(most)} mg of {ion.name} a day"
        f" ({rule.citation})"
    ]
    if food is not None and holds is not None:
        working.append(f"{shown(most)} mg ÷ {plain(holds)} mg/kg = {shown(food.grams)} g of the food a day")
    return {
        "mg_a_day_as_ion": shown(most),
        "mg_a_day_as_sodium_salt": shown(expressed_as(most, ion, salt)),
        "food_grams_a_day": None if food is None else shown(food.grams),
        "working": working,
        "findings": [rule.found(None, f"{rule.title}: {_NO_TEST}", exceeded=False).as_json()],
    }


def daily_intake(rule: Rule, body_weight: Mass) -> Decimal:
    """Return mg of the ion that a person of a body weight may take in a day.

    Args:
        rule: ``practice.intake.nitrite`` or ``practice.intake.nitrate``, mg per kg of body weight.
        body_weight: of the person.

    >>> rule = rules_of(PRACTICE, dt.date(2026, 1, 5))["practice.intake.nitrate"]
    >>> daily_intake(rule, Mass.parse("60 kg"))
    Decimal('222')
    """
    return Decimal(plain((rule.value or Decimal(0)) * body_weight.grams / 1000))


def food_of(most: Decimal, holds: Decimal) -> Mass:
    """Return how much of a food brings so much.

    Args:
        most: mg of the ion.
        holds: mg of the ion per kg of the food, more than 0.
    """
    return Mass(ratio(most * 1000, holds))


def intake_said(ingoing: Ingoing, on: dt.date) -> list[str]:
    """Return, for the working of a dose, how much of the meat as it goes into the cure would bring a day's intake.

    Args:
        ingoing: what goes in, on green weight.
        on: the day whose figures count.

    Returns:
        One line for nitrite and one for nitrate, as far as they go in; none on a day before the figures were set.
    """
    rules = rules_of(PRACTICE, on)
    if "practice.intake.body_weight" not in rules or ingoing.unchecked:
        return []
    body = Mass(Decimal(plain((rules["practice.intake.body_weight"].value or Decimal(0)) * 1000)))
    said = []
    for agent, ion in _ION.items():
        holds, rule = ingoing.as_salt(ion), rules[f"practice.intake.{agent}"]
        if holds:
            most = daily_intake(rule, body)
            food = plain(round_half_up(food_of(most, holds).grams, 0))
            said.append(
                f"to compare, no test for release: at {shown(holds)} mg/kg as {ion.name}, were all of it still there, {food} g of"
                f" green meat bring the {shown(most)} mg that someone of {plain(body.grams / 1000)} kg may take in every day"
                f" ({rule.citation})"
            )
    return said


def _rule(agent: str, on: dt.date) -> Rule:
    rule = rules_of(PRACTICE, on).get(f"practice.intake.{agent}")
    if rule is None:
        raise InputError("on", "a day on which the intake was set already", on.isoformat())
    return rule
