"""Ingoing nitrite, nitrate and salt by the method of cure: the contract ``compute ingoing``."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Annotated, Any

from labelsvc.curing.advice import advice
from labelsvc.curing.cure import NEEDS, NOTHING, Cure, Method, ingoing_of
from labelsvc.curing.limits import check_limits
from labelsvc.curing.mix import MixItem, MixLine
from labelsvc.curing.too_little import check_too_little
from labelsvc.curing.working import working_of
from labelsvc.errors import InputError
from labelsvc.rules.finding import Finding
from labelsvc.shape import AtLeastOne, Exact, Percent, Shape, Weighed, read_shape
from labelsvc.units import Mass, plain

UNCHECKED_CONTENT = "curing.unchecked_content"  # the rule of a finding that says whose nitrite cannot be known


class IngoingRequest(Shape, frozen=True, kw_only=True, rename={"class_": "class"}):
    """What the contract ``ingoing`` asks.

    Raises:
        InputError: a field that the method needs is missing, or one is there that it has no use for.
    """

    market: str
    class_: str
    method: Method
    on: dt.date
    green_weight: Weighed
    mix: Annotated[tuple[MixItem, ...], AtLeastOne]
    skin_on: bool | None = None
    mix_applied: Mass | None = None
    leftover: Mass | None = None
    pickle_weight: Weighed | None = None
    pump_percent: Percent | None = None
    pickup_percent: Percent | None = None
    days_in_cure: int | None = None
    temperature_c: Exact | None = None
    sealed: bool | None = None

    def __post_init__(self) -> None:
        needed = NEEDS.get(self.method, ())
        for name in ("pickle_weight", "pump_percent", "pickup_percent"):
            given = getattr(self, name)
            if given is None and name in needed:
                raise InputError(name, f"a value, which the method {self.method} needs", "none")
            if given is not None and name not in needed:
                raise InputError(name, f"no such field with the method {self.method}", str(given))

    @property
    def cure(self) -> Cure:
        """The cure that is asked about."""
        mix = tuple(item.as_line() for item in self.mix)
        listed = Mass(sum((line.weight.grams for line in mix), Decimal(0)))
        return Cure(
            self.method,
            self.green_weight,
            mix,
            self.mix_applied or listed,
            self.leftover or NOTHING,
            self.pickle_weight or NOTHING,
            self.pump_percent or self.pickup_percent or Decimal(0),
        )


def compute_ingoing(request: Mapping[str, Any]) -> dict[str, Any]:
    """Answer the contract ``ingoing``: amounts per green weight, and findings of the market's law.

    Args:
        request: the JSON object of an ``IngoingRequest``; weights are text with a unit, percents bare decimals.

    Returns:
        ``{nitrite, nitrate, salt_percent, upper_bound, findings, working}``; numbers are text with at most four places, half up.
        A curing salt without its percent makes them None, with the finding that says what is missing.

    Raises:
        InputError: names the field, what was expected and what was given.
    """
    asked = read_shape(IngoingRequest, request, "ingoing", strict=True)
    cure = asked.cure
    ingoing = ingoing_of(cure)
    findings = check_limits(
        ingoing,
        asked.market,
        asked.class_,
        asked.on,
        skin_on=bool(asked.skin_on),
        method=cure.method,
    )
    findings += remarks_on_mix(cure.mix) + _remarks_on_cure(cure)
    findings += check_too_little(
        ingoing, asked.on, days=asked.days_in_cure, temperature_c=asked.temperature_c, is_sealed=asked.sealed
    )
    said = [finding.as_json() for finding in findings]
    return {**ingoing.as_json(), "findings": said, "working": working_of(cure)}


def remarks_on_mix(mix: Sequence[MixLine]) -> list[Finding]:
    """Return what a reader of the numbers must know about the mix: salt that was inferred, curing salt without a percent."""
    findings = []
    for line in mix:
        if line.rest_is_salt:
            salt = next(percent for substance, percent in line.contents if substance.agent == "salt")
            message = f"The salt in {line.name!r} is not stated: the rest, {plain(salt)} %, is counted as salt"
            findings.append(advice("curing.rest_is_salt", message, found=plain(salt), unit="%"))
        if line.is_unchecked:
            findings.append(_unchecked_content(line))
    return findings


def _unchecked_content(line: MixLine) -> Finding:
    missing = "percent of sodium nitrite or nitrate that its bag states"
    message = (
        f"{line.name!r} may carry nitrite or nitrate, but the {missing} is not entered: it is unchecked, not free of it; a piece"
        " it is on is held until it is"
    )
    return advice(UNCHECKED_CONTENT, message, severity="warn", unit="%")


def _remarks_on_cure(cure: Cure) -> list[Finding]:
    findings = []
    if cure.method == "dry_excess":
        message = "How much an excess cure gives off is not known: the amounts are upper bounds, and the salt must be measured"
        findings.append(advice("curing.upper_bound", message))
    if cure.leftover.grams and cure.method in NEEDS:
        message = "What is left of a pickle does not enter the formula of this method"
        findings.append(advice("curing.leftover", message, found=plain(cure.leftover.grams), unit="g"))
    elif cure.leftover.grams:
        message = "The mix weighed back counts as mix of the same make-up; juice in it makes the true amount higher"
        findings.append(advice("curing.leftover", message, found=plain(cure.leftover.grams), unit="g"))
    if cure.method.startswith("immersion"):
        message = "Uptake from a cover pickle is not predictable: the amounts follow the handbook's formula for this method"
        findings.append(advice("curing.immersion", message))
    return findings
