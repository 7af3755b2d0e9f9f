"""Water activity from salt alone: an estimate to plan with, never a test to release on. Floats are allowed here.

Pitzer's equation for sodium chloride at 25 C (parameters as in Robinson and Stokes' data): the salt is taken to be
dissolved in all of the water. Sugar, other salts and protein lower the true activity; measured dried sausage and beef
came out 0.04 to 0.17 lower.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from labelsvc.curing.advice import advice
from labelsvc.errors import InputError
from labelsvc.rules.finding import Finding
from labelsvc.shape import Percent, Shape, read_shape
from labelsvc.units import plain, round_half_up

SATURATED_PERCENT = 26.4  # g of salt in 100 g of saturated brine at 25 C
_SALT_GRAMS_PER_MOLE = 58.443
_WATER_KG_PER_MOLE = 0.018015


def water_activity(brine_percent: float) -> float:
    """Return the water activity of a brine of common salt at 25 C.

    Args:
        brine_percent: g of salt in 100 g of brine (salt / (salt + water)), 0 to saturation; more counts as saturated.

    Returns:
        0 to 1.

    >>> round(water_activity(22.61), 3)
    0.807
    """
    brine = min(brine_percent, SATURATED_PERCENT)
    molality = brine / (100 - brine) / _SALT_GRAMS_PER_MOLE * 1000
    root = math.sqrt(molality)
    osmotic = 1 - 0.3915 * root / (1 + 1.2 * root) + molality * (0.0765 + 0.2664 * math.exp(-2 * root)) + 0.00127 * molality**2
    return math.exp(-2 * molality * _WATER_KG_PER_MOLE * osmotic)


class OfFinished(Shape, frozen=True):
    """Water and salt of the finished product.

    Raises:
        InputError: no water, or more than 100 percent together.
    """

    finished_water_percent: Percent
    finished_salt_percent: Percent

    def __post_init__(self) -> None:
        if self.finished_water_percent == 0:
            raise InputError("finished_water_percent", "a percentage of more than 0", "0")
        total = self.finished_water_percent + self.finished_salt_percent
        if total > 100:
            raise InputError("finished_salt_percent", "water and salt of at most 100 percent together", f"{plain(total)} percent")

    @property
    def finished(self) -> tuple[Decimal, Decimal]:
        """Water and salt in percent of the finished product."""
        return self.finished_water_percent, self.finished_salt_percent


class OfGreen(Shape, frozen=True):
    """All of green weight, the salt put on top of it; what is left weighs 100 - loss, salt included.

    Raises:
        InputError: a loss that leaves no water.
    """

    water_percent: Percent
    salt_percent: Percent
    loss_percent: Percent

    def __post_init__(self) -> None:
        if self._water_left <= 0:
            most = plain(max(self.water_percent - self.salt_percent, Decimal(0)))
            expected = f"a loss that leaves some water, less than {most} percent"
            raise InputError("loss_percent", expected, plain(self.loss_percent))

    @property
    def _water_left(self) -> Decimal:
        # 100 + salt went in and 100 - loss is left, so loss + salt of water has gone.
        return self.water_percent - self.loss_percent - self.salt_percent

    @property
    def finished(self) -> tuple[Decimal, Decimal]:
        """Water and salt in percent of the finished product."""
        left = 100 - self.loss_percent
        return 100 * self._water_left / left, 100 * self.salt_percent / left


def compute_water(request: Mapping[str, Any]) -> dict[str, Any]:
    """Answer the contract ``water``.

    Args:
        request: the JSON object of an ``OfFinished`` or, where it has one of its fields, an ``OfGreen``.

    Returns:
        ``{water_phase_salt_percent, water_activity, finished_salt_percent, findings}``: percents with three places, the
        activity with four, half up; capped at saturation.

    Raises:
        InputError: a field cannot be read, or the numbers describe nothing that can exist.
    """
    of_green = isinstance(request, Mapping) and not request.keys().isdisjoint(OfGreen.__struct_fields__)
    asked = (
        read_shape(OfGreen, request, "water", strict=True) if of_green else read_shape(OfFinished, request, "water", strict=True)
    )
    water, salt = asked.finished
    brine = float(100 * salt / (salt + water))
    findings = [_never_a_test()]
    if brine > SATURATED_PERCENT:
        findings.append(_saturated(brine))
    return {
        "water_phase_salt_percent": _text(min(brine, SATURATED_PERCENT), 3),
        "water_activity": _text(water_activity(brine), 4),
        "finished_salt_percent": plain(round_half_up(salt, 3)),
        "findings": [finding.as_json() for finding in findings],
    }


def _never_a_test() -> Finding:
    return advice(
        "curing.water_is_estimate",
        "An estimate from salt alone at 25 C: it is never a release test; measure the product and use the measured value",
        severity="warn",
    )


def _saturated(brine: float) -> Finding:
    found = _text(brine, 3)
    message = f"{found} % salt in the water is more than dissolves: the value of saturated brine is given"
    return advice("curing.brine_saturated", message, severity="warn", found=found, unit="%")


def _text(value: float, places: int) -> str:
    return plain(round_half_up(Decimal(repr(value)), places))
