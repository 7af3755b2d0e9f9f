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
from labelsvc.curing.reading import read_object, read_percent
from labelsvc.errors import InputError
from labelsvc.rules.finding import Finding
from labelsvc.units import plain, round_half_up

SATURATED_PERCENT = 26.4  # g of salt in 100 g of saturated brine at 25 C
_SALT_GRAMS_PER_MOLE = 58.443
_WATER_KG_PER_MOLE = 0.018015
_FINISHED = ("finished_water_percent", "finished_salt_percent")
_GREEN = ("water_percent", "salt_percent", "loss_percent")


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


def compute_water(request: Mapping[str, Any]) -> dict[str, Any]:
    """Answer the contract ``water``.

    Args:
        request: ``{finished_water_percent, finished_salt_percent}`` of the finished product, or
            ``{water_percent, salt_percent, loss_percent}`` of green weight, salt put on top of it; what is left weighs
            100 - loss, salt included.

    Returns:
        ``{water_phase_salt_percent, water_activity, finished_salt_percent, findings}``: percents with three places, the
        activity with four, half up; capped at saturation.

    Raises:
        InputError: a field cannot be read, or the numbers describe nothing that can exist.
    """
    if isinstance(request, Mapping) and any(name in request for name in _GREEN):
        water, salt = _from_green(request)
    else:
        water, salt = _from_finished(request)
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


def _from_finished(request: Mapping[str, Any]) -> tuple[Decimal, Decimal]:
    given = read_object(request, _FINISHED)
    water = read_percent(given[_FINISHED[0]], _FINISHED[0], more_than_nothing=True)
    salt = read_percent(given[_FINISHED[1]], _FINISHED[1])
    if water + salt > 100:
        raise InputError(_FINISHED[1], "water and salt of at most 100 percent together", f"{plain(water + salt)} percent")
    return water, salt


def _from_green(request: Mapping[str, Any]) -> tuple[Decimal, Decimal]:
    given = read_object(request, _GREEN)
    water, salt, loss = (read_percent(given[name], name) for name in _GREEN)
    # 100 + salt went in and 100 - loss is left, so loss + salt of water has gone.
    left = water - loss - salt
    if left <= 0:
        most = plain(max(water - salt, Decimal(0)))
        raise InputError("loss_percent", f"a loss that leaves some water, less than {most} percent", plain(loss))
    finished = 100 - loss
    return 100 * left / finished, 100 * salt / finished


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
