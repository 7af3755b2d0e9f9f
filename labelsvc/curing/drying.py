"""When will a hanging piece be ready: the contract ``compute drying``. An estimate, refitted at each weighing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any, Self

from labelsvc.curing.drying_fit import forecast, quantile
from labelsvc.errors import InputError
from labelsvc.shape import Percent, Shape, read_shape
from labelsvc.units import Mass, decimal, plain, ratio

_NOTHING = Mass(Decimal(0))
LATEST_DAY = 3650  # ten years: catches a slip of the date
_HELD = (0.1, 0.5, 0.9)  # low and high hold the truth four times in five
_WIDEST = 6  # high over low; a wider range says nothing
_MOST_DOUBT = 0.5  # of belief that the target is never reached; above it no day is named


class Day(int):
    """Whole days after hanging."""

    @classmethod
    def read(cls, value: object) -> Self:
        """Return the day of a JSON value."""
        number = decimal(value, "", maximum=LATEST_DAY)
        if number % 1:
            raise InputError("", f"whole days after hanging, 0 to {LATEST_DAY}", str(value))
        return cls(number)


class Weighing(Shape, frozen=True):
    """One weighing: the day and the gross weight."""

    day: Day
    weight: Mass


class DryingRequest(Shape, frozen=True, kw_only=True):
    """What the contract ``drying`` asks: gross weights, the tare (string, net, hook) within them; the hang day is day 0.

    Raises:
        InputError: a weight that is not above the tare, or a target that is not a part of the net weight at hanging.
    """

    hang_weight: Mass
    target_loss_percent: Percent
    weighings: tuple[Weighing, ...]
    tare: Mass | None = None

    def __post_init__(self) -> None:
        gross = [("hang_weight", self.hang_weight)]
        gross += [(f"weighings[{position}].weight", weighing.weight) for position, weighing in enumerate(self.weighings)]
        for field, weight in gross:
            if weight <= (self.tare or _NOTHING):
                raise InputError(field, f"a gross weight above the tare of {self.tare or _NOTHING}", str(weight))
        if not 0 < self.target_loss_percent < 100:
            raise InputError("target_loss_percent", "a loss above 0 and below 100 percent", plain(self.target_loss_percent))

    @property
    def points(self) -> list[tuple[int, float]]:
        """Days with the loss as a fraction of the net weight at hanging, in order."""
        hung = self.hang_weight.grams
        net = hung - (self.tare or _NOTHING).grams
        return sorted((one.day, float(ratio(hung - one.weight.grams, net))) for one in self.weighings)


def compute_drying(request: Mapping[str, Any]) -> dict[str, Any]:
    """Answer the contract ``drying``.

    Args:
        request: the JSON object of a ``DryingRequest``.

    Returns:
        ``{ready_day: {low, likely, high}}`` in days after hanging with one decimal place, or ``{ready_day: null, reason}``
        where the weighings do not say.

    Raises:
        InputError: names the field, what was expected and what was given.
    """
    asked = read_shape(DryingRequest, request, "drying", strict=True)
    return ready_day(asked.points, float(asked.target_loss_percent) / 100)


def ready_day(points: Sequence[tuple[int, float]], target: float) -> dict[str, Any]:
    """Return the day or the reason why there is none.

    Args:
        points: day and loss as a fraction of net hang weight, in order of days.
        target: loss to reach, as a fraction.
    """
    reached = next((position for position, (_, loss) in enumerate(points) if loss >= target), None)
    if reached is not None:
        return _already(points, reached, target)
    later = [(day, loss) for day, loss in points if day > 0]
    if len({day for day, _ in later}) < 2:
        return _unknown("weigh the piece on at least two days after hanging: one weighing does not show how it slows down")
    if later[-1][1] <= 0:
        return _unknown("the piece has not lost weight since hanging, so no day can be foreseen")
    forecasts, doubt = forecast(later, target)
    if doubt > _MOST_DOUBT:
        loss = plain(ratio(round(max(loss for _, loss in later) * 1000), 10))
        return _unknown(f"the weight is levelling off at about {loss} % loss: the target may never be reached")
    low, likely, high = (quantile(forecasts, share, later[-1][0]) for share in _HELD)
    if high > low * _WIDEST:
        return _unknown("the weighings scatter or the loss is still too small to foresee a day: weigh again in some days")
    return _day(low, likely, high)


def _already(points: Sequence[tuple[int, float]], position: int, target: float) -> dict[str, Any]:
    """Between the last weighing short of the target and the first past it, in a straight line."""
    day, loss = points[position]
    before, loss_before = points[position - 1] if position else (0, 0.0)
    likely = before + (day - before) * (target - loss_before) / (loss - loss_before)
    return _day(before, likely, day)


def _day(low: float, likely: float, high: float) -> dict[str, Any]:
    return {"ready_day": {"low": _text(low), "likely": _text(likely), "high": _text(high)}}


def _text(day: float) -> str:
    return plain(ratio(round(day * 10), 10))


def _unknown(reason: str) -> dict[str, Any]:
    return {"ready_day": None, "reason": reason}
