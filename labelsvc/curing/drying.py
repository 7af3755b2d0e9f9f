"""When will a hanging piece be ready: the contract ``compute drying``. An estimate, refitted at each weighing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from labelsvc.curing.drying_fit import forecast, quantile
from labelsvc.curing.reading import read_list, read_object, read_percent, read_weight
from labelsvc.errors import InputError
from labelsvc.units import Mass, plain, ratio

LATEST_DAY = 3650  # ten years: catches a slip of the date
_HELD = (0.1, 0.5, 0.9)  # low and high hold the truth four times in five
_WIDEST = 6  # high over low; a wider range says nothing
_MOST_DOUBT = 0.5  # of belief that the target is never reached; above it no day is named


def compute_drying(request: Mapping[str, Any]) -> dict[str, Any]:
    """Answer the contract ``drying``.

    Args:
        request: ``{hang_weight, tare?, target_loss_percent, weighings: [{day, weight}]}``: gross weights, the tare (string,
            net, hook) within them; the hang day is day 0; the loss is of the net weight at hanging.

    Returns:
        ``{ready_day: {low, likely, high}}`` in days after hanging with one decimal place, or ``{ready_day: null, reason}``
        where the weighings do not say.

    Raises:
        InputError: names the field, what was expected and what was given.
    """
    given = read_object(request, ("hang_weight", "target_loss_percent", "weighings"), ("tare",))
    hung = read_weight(given["hang_weight"], "hang_weight")
    tare = read_weight(given.get("tare", "0 g"), "tare")
    if hung <= tare:
        raise InputError("hang_weight", f"a gross weight above the tare of {tare}", str(hung))
    target = read_percent(given["target_loss_percent"], "target_loss_percent", more_than_nothing=True)
    if target == 100:
        raise InputError("target_loss_percent", "a loss of less than 100 percent", plain(target))
    points = _read_weighings(given["weighings"], hung, tare)
    return ready_day(points, float(target) / 100)


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


def _read_weighings(value: object, hung: Mass, tare: Mass) -> list[tuple[int, float]]:
    points = []
    net = hung.grams - tare.grams
    for position, item in enumerate(read_list(value, "weighings")):
        field = f"weighings[{position}]"
        given = read_object(item, ("day", "weight"), field=field)
        weight = read_weight(given["weight"], f"{field}.weight")
        if weight <= tare:
            raise InputError(f"{field}.weight", f"a gross weight above the tare of {tare}", str(weight))
        points.append((_read_whole_day(given["day"], f"{field}.day"), float(ratio(hung.grams - weight.grams, net))))
    return sorted(points)


def _read_whole_day(value: object, field: str) -> int:
    text = str(value) if isinstance(value, int | str) and not isinstance(value, bool) else ""
    if not (text.isascii() and text.isdigit()) or int(text) > LATEST_DAY:
        raise InputError(field, f"whole days after hanging, 0 to {LATEST_DAY}", value)
    return int(text)


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
