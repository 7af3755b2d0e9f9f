"""What a scale can make of a dose: whole steps, the least and the most that can go in, and whether the step is too coarse."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from decimal import ROUND_DOWN, ROUND_HALF_UP, Decimal, localcontext

from labelsvc.curing.advice import advice
from labelsvc.curing.amounts import Ingoing, amounts_on, shown
from labelsvc.curing.mix import MixLine, brings_curing_agent
from labelsvc.curing.salts import SODIUM_NITRITE
from labelsvc.rules.finding import Finding
from labelsvc.units import Mass, plain, ratio, round_half_up

LARGEST_SHIFT = Decimal("0.1")  # of the target; practice, not law: above it the scale is too coarse for this amount


def to_step(weight: Mass, step: Mass, rounding: str = ROUND_HALF_UP) -> Mass:
    """Return the weight in whole steps of the scale."""
    with localcontext() as context:
        context.prec = 60  # tonnes in steps of a thousandth of a milligram are absurd, but no reason to fail
        return Mass(ratio(weight.grams, step.grams).quantize(Decimal(1), rounding) * step.grams)


def on_scale(lines: Sequence[MixLine], step: Mass, is_allowed: Callable[[Sequence[MixLine]], bool]) -> list[MixLine]:
    """Return the lines in whole steps: the nearest, but the curing salts down where the nearest is not allowed."""
    nearest = [replace(line, weight=to_step(line.weight, step)) for line in lines]
    if is_allowed(nearest):
        return nearest
    return [
        replace(line, weight=to_step(line.weight, step, ROUND_DOWN)) if brings_curing_agent(line) else near
        for line, near in zip(lines, nearest, strict=True)
    ]


def worst_of(lines: Sequence[MixLine], green: Mass, step: Mass) -> tuple[Ingoing, Ingoing]:
    """Return the least and the most that can go in when the scale rounds each curing salt by half a step either way."""
    half = step.grams / 2
    curing = [line for line in lines if brings_curing_agent(line)]
    low = [replace(line, weight=Mass(max(line.weight.grams - half, Decimal(0)))) for line in curing]
    high = [replace(line, weight=Mass(line.weight.grams + half)) for line in curing]
    return amounts_on(green, low), amounts_on(green, high)


def remarks_on_scale(
    stops: Callable[[Ingoing], bool], ingoing: Ingoing, worst: tuple[Ingoing, Ingoing], target: Decimal
) -> list[Finding]:
    """Return what a person must know of a step that can pass the limit, or that moves the dose by more than a tenth.

    Args:
        stops: whether an amount is over a limit that stops.
        ingoing: what the weights in whole steps bring in.
        worst: the least and the most of it.
        target: ppm as sodium nitrite that were aimed at.
    """
    findings = []
    low, high = (one.as_salt(SODIUM_NITRITE) for one in worst)
    instead = "make the mix for a larger batch or take a weaker premix; a spoon is no way out"
    if stops(worst[1]) and not stops(ingoing):
        message = f"Half a step of this scale can take the dose over the limit: {instead}"
        findings.append(advice("curing.scale_over_limit", message, severity="warn", found=shown(high), unit="ppm"))
    shift = max(target - low, high - target)
    if shift > target * LARGEST_SHIFT:
        percent = plain(round_half_up(ratio(shift * 100, target), 1))
        message = f"This scale can move the dose by {percent} % from the target: {instead}"
        findings.append(advice("curing.scale_too_coarse", message, severity="warn", found=percent, unit="%"))
    return findings
