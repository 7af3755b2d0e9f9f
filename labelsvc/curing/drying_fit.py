"""Fits drying curves to weighings and says on which day a loss will be reached. Floats: everything here is an estimate.

A curve is loss = end * (1 - exp(-(rate * day) ** bend)). While the loss is far from its end this is the power law
loss = a * day ** bend, which follows the first weeks of a hanging piece best; near the end it flattens as pieces do.
Nobody knows the end of a piece in advance, so many curves are fitted and each counts by how well it fits.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

SCALE_NOISE = 0.005  # of hang weight: how far single weighings lie off a smooth curve (a published series has 0.004)
BENDS = tuple(0.45 + 0.05 * step for step in range(14))  # 0.45 to 1.10; published shapes run from 0.53 to 0.89
ENDS = tuple(0.08 * 1.13**step for step in range(20))  # losses a piece may stop at, 8 % to 82 %
STRAIGHT = 5.0  # an end beyond reach: the pure power law
# Belief before any weighing. Chosen so that over simulated pieces (power law, exponential, stretched exponential, slab
# diffusion, a change of climate, scale noise) the range held the true day about four times in five.
_STRAIGHT_BELIEF = 12  # as often as any one end
_BEND_MEAN, _BEND_SPREAD = 0.78, 0.15
_NEGLIGIBLE = 1e-5  # of the weight of the likeliest curve
_QUANTILE_STEPS = 40


@dataclass(frozen=True)
class Forecast:
    """One curve's day: log-normal around ``day``, with the weight the curve has among all.

    Args:
        day: when the curve reaches the target.
        spread: standard deviation of the natural logarithm of the day.
        weight: share of belief, not normalised.
    """

    day: float
    spread: float
    weight: float


def forecast(points: Sequence[tuple[int, float]], target: float) -> tuple[list[Forecast], float]:
    """Return each curve's forecast and the share of belief that the target is never reached.

    Args:
        points: day (1 or more) and loss as a fraction of hang weight.
        target: loss to reach, as a fraction.
    """
    fits = [(end, bend, *_fit(points, end, bend)) for end in (*ENDS, STRAIGHT) for bend in BENDS]
    fits = [fit for fit in fits if fit[2] > 0]
    if not fits:
        return [], 1.0
    best = min(fit[4] for fit in fits)
    noise = max(SCALE_NOISE**2, best / max(len(points) - 2, 1))
    reached, never, total = [], 0.0, 0.0
    for end, bend, rate, leverage, misfit in fits:
        weight = math.exp(-(misfit - best) / (2 * noise) - ((bend - _BEND_MEAN) / _BEND_SPREAD) ** 2 / 2)
        weight *= _STRAIGHT_BELIEF if end == STRAIGHT else 1
        total += weight
        if target >= end:
            never += weight
            continue
        day = (-math.log(1 - target / end) / rate) ** (1 / bend)
        reached.append(Forecast(day, math.sqrt(noise / leverage) / rate / bend, weight))
    heaviest = max((one.weight for one in reached), default=0.0)
    return [one for one in reached if one.weight > heaviest * _NEGLIGIBLE], never / total


def quantile(forecasts: Sequence[Forecast], share: float, not_before: float) -> float:
    """Return the day before which a share of the belief lies, given that it has not come by ``not_before``."""
    start = _belief_before(forecasts, not_before)
    wanted = start + share * (1 - start)
    low, high = math.log(max(not_before, 0.1)), math.log(max(not_before, 1)) + 9
    for _ in range(_QUANTILE_STEPS):
        middle = (low + high) / 2
        low, high = (middle, high) if _belief_before(forecasts, math.exp(middle)) < wanted else (low, middle)
    return math.exp(high)


def _belief_before(forecasts: Sequence[Forecast], day: float) -> float:
    total = sum(one.weight for one in forecasts)
    at = math.log(max(day, 1e-9))
    return sum(one.weight * _normal((at - math.log(one.day)) / max(one.spread, 1e-6)) for one in forecasts) / total


def _normal(z: float) -> float:
    return (1 + math.erf(z / math.sqrt(2))) / 2


def _fit(points: Sequence[tuple[int, float]], end: float, bend: float) -> tuple[float, float, float]:
    """Fit one curve by weighted least squares of -log(1 - loss / end) on day ** bend; return rate, leverage and misfit.

    A loss at or past the end of the curve is put just below it, which makes that curve fit badly, as it should.
    """
    top = bottom = 0.0
    for day, loss in points:
        share = min(max(loss, 0.0) / end, 0.98)
        pull = (end * (1 - share)) ** 2
        top += pull * -math.log(1 - share) * day**bend
        bottom += pull * day ** (2 * bend)
    rate = top / bottom
    misfit = sum((loss - end * (1 - math.exp(-rate * day**bend))) ** 2 for day, loss in points)
    return rate, bottom, misfit
