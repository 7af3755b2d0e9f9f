"""What to weigh out for a target: the contract ``compute dose``.

Premix grams = target ppm * green weight / 1 000 000 / share of nitrite in the premix (FSIS Directive 7620.3, page 15,
turned round); the salt that the premix carries is taken off the salt to add.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import ROUND_DOWN, Decimal
from typing import Any

from labelsvc.curing.advice import advice, caution
from labelsvc.curing.amounts import Ingoing, amounts_on, shown
from labelsvc.curing.cure import Cure
from labelsvc.curing.ingoing import remarks_on_mix
from labelsvc.curing.intake import intake_said
from labelsvc.curing.limits import check_limits
from labelsvc.curing.mix import WHOLE, Bag, MixLine
from labelsvc.curing.salts import SALT, SODIUM_NITRITE
from labelsvc.curing.scale import on_scale, remarks_on_scale, to_step, worst_of
from labelsvc.curing.working import working_of
from labelsvc.errors import InputError
from labelsvc.rules.finding import Finding
from labelsvc.shape import Percent, Ppm, Shape, Weighed, read_shape
from labelsvc.units import Mass, plain, ratio

_FINEST = Mass(Decimal("0.0001"))  # printed where no scale step is given; no scale in a workshop shows less
_NOTHING = Mass(Decimal(0))


class Targets(Shape, frozen=True):
    """What the cure should bring in: ppm as sodium nitrite, salt (the premix's included) and sugar in percent of green weight."""

    nitrite_ppm: Ppm | None = None
    salt_percent: Percent | None = None
    sugar_percent: Percent | None = None

    def __post_init__(self) -> None:
        if self.nitrite_ppm is None and self.salt_percent is None and self.sugar_percent is None:
            raise InputError("", "at least one of nitrite_ppm, salt_percent, sugar_percent", "none")


class Premix(Bag, frozen=True, kw_only=True):
    """The curing salt to weigh out: a bag that states its sodium nitrite."""

    sodium_nitrite_percent: Percent


class DoseRequest(Shape, frozen=True, kw_only=True, rename={"class_": "class"}):
    """What the contract ``dose`` asks."""

    market: str
    class_: str
    on: dt.date
    green_weight: Weighed
    targets: Targets
    premix: Premix
    skin_on: bool | None = None
    scale_step: Mass | None = None

    def __post_init__(self) -> None:
        if self.scale_step is not None and self.scale_step < _FINEST:
            raise InputError("scale_step", "a step of at least 0.1 mg", str(self.scale_step))

    def check(self, ingoing: Ingoing) -> list[Finding]:
        """Return the findings for an amount."""
        return check_limits(ingoing, self.market, self.class_, self.on, skin_on=bool(self.skin_on))

    def stops(self, ingoing: Ingoing) -> bool:
        """Tell whether an amount is over a limit that stops."""
        return any(finding.severity == "stop" and finding.exceeded for finding in self.check(ingoing))


@dataclass(frozen=True)
class Dose:
    """What to weigh out.

    Args:
        premix: the curing salt with its weight.
        salt: plain salt.
        sugar: sugar.
        salt_over: grams of salt the premix brings beyond the target.
    """

    premix: MixLine
    salt: Mass
    sugar: Mass
    salt_over: Decimal = Decimal(0)

    def ingoing(self, green: Mass) -> Ingoing:
        """Return what the dose brings in."""
        return amounts_on(green, self._lines)

    def as_cure(self, green: Mass) -> Cure:
        """Return the dose as a dry cure of so much meat."""
        lines = tuple(line for line in self._lines if line.weight.grams)
        return Cure("dry", green, lines, Mass(self.weight))

    @property
    def weight(self) -> Decimal:
        """Grams of premix and salt together."""
        return sum((line.weight.grams for line in self._lines), Decimal(0))

    @property
    def _lines(self) -> list[MixLine]:
        return [self.premix, MixLine("salt", self.salt, ((SALT, WHOLE),))]


def dose_for(green: Mass, targets: Targets, premix: MixLine) -> Dose:
    """Return the exact dose for the targets.

    Args:
        green: weight of the untreated meat.
        targets: what should go in.
        premix: the curing salt; its weight is not looked at.

    Raises:
        InputError: nitrite is asked for and the premix has none, or so little that it would outweigh the meat.

    >>> dose = dose_for(Mass.parse("1 kg"), Targets(nitrite_ppm=Ppm(120)),
    ...                 MixLine("p", Mass(Decimal(0)), ((SODIUM_NITRITE, Decimal("6.25")),)))
    >>> str(dose.premix.weight)
    '1.92 g'
    """
    strength = sum((percent for part, percent in premix.contents if part == SODIUM_NITRITE), Decimal(0))
    grams = Decimal(0)
    if targets.nitrite_ppm:
        if strength == 0:
            raise InputError("premix.sodium_nitrite_percent", "more than 0 where nitrite is asked for", plain(strength))
        grams = ratio(targets.nitrite_ppm * green.grams, strength * 10_000)
        if grams > green.grams:
            raise InputError("targets.nitrite_ppm", "a target that needs less premix than meat", plain(targets.nitrite_ppm))
    weighed = _weighing(premix, Mass(grams))
    missing = green.grams * (targets.salt_percent or 0) / 100 - weighed.grams_of(SALT)
    is_over = missing < 0 and bool(targets.salt_percent)
    sugar = Mass(green.grams * (targets.sugar_percent or 0) / 100)
    return Dose(weighed, Mass(max(missing, Decimal(0))), sugar, -missing if is_over else Decimal(0))


def compute_dose(request: Mapping[str, Any]) -> dict[str, Any]:
    """Answer the contract ``dose``.

    Args:
        request: the JSON object of a ``DoseRequest``; weights are text with a unit, percents and ppm bare decimals.

    Returns:
        ``{weigh: [{name, weight}], ingoing, worst: {nitrite_ppm_low, nitrite_ppm_high}, findings, working}``. With a scale step
        the weights are whole steps and ``ingoing`` is what those weights bring in; without one they are cut to 0.1 mg and
        ``ingoing`` is exact.

    Raises:
        InputError: names the field, what was expected and what was given.
    """
    asked = read_shape(DoseRequest, request, "dose", strict=True)
    green, targets, step = asked.green_weight, asked.targets, asked.scale_step or _NOTHING
    dose = _on_scale(dose_for(green, targets, asked.premix.line(_NOTHING)), asked)
    low, high = worst_of([dose.premix], green, step) if targets.nitrite_ppm else (Ingoing(()), Ingoing(()))
    ingoing = dose.ingoing(green)
    limits = asked.check(ingoing)
    findings = limits + _remarks(dose, targets)
    if step.grams and targets.nitrite_ppm:
        findings += remarks_on_scale(asked.stops, ingoing, (low, high), targets.nitrite_ppm)
    return {
        "weigh": _weigh_list(dose, targets),
        "ingoing": {**ingoing.as_json(), "findings": [finding.as_json() for finding in limits]},
        "worst": {
            "nitrite_ppm_low": shown(low.as_salt(SODIUM_NITRITE)),
            "nitrite_ppm_high": shown(high.as_salt(SODIUM_NITRITE)),
        },
        "findings": [finding.as_json() for finding in findings],
        "working": [*_target_said(asked), *working_of(dose.as_cure(green)), *intake_said(ingoing, asked.on)]
        if dose.weight
        else [],
    }


def _on_scale(exact: Dose, asked: DoseRequest) -> Dose:
    """The dose in whole steps: the nearest, but the premix down where the nearest is stopped and the exact one is not."""
    step, green = asked.scale_step, asked.green_weight
    if step is None:
        return exact
    is_stopped = asked.stops(exact.ingoing(green))
    salt, sugar = to_step(exact.salt, step), to_step(exact.sugar, step)

    def is_allowed(lines: Sequence[MixLine]) -> bool:
        return is_stopped or not asked.stops(Dose(lines[0], salt, sugar).ingoing(green))

    return Dose(on_scale([exact.premix], step, is_allowed)[0], salt, sugar, exact.salt_over)


def _target_said(asked: DoseRequest) -> list[str]:
    """The formula turned round, with the numbers in it."""
    if not asked.targets.nitrite_ppm:
        return []
    strength, target = plain(asked.premix.sodium_nitrite_percent), plain(asked.targets.nitrite_ppm)
    exact = dose_for(asked.green_weight, asked.targets, asked.premix.line(_NOTHING)).premix.weight
    sum_said = f"{target} ppm × {plain(asked.green_weight.grams)} g ÷ 1 000 000 ÷ {strength} %"
    return [f"{asked.premix.name}: {sum_said} = {shown(exact.grams)} g (FSIS Directive 7620.3, page 15, turned round)"]


def _weighing(premix: MixLine, weight: Mass) -> MixLine:
    return MixLine(premix.name, weight, premix.contents, premix.rest_is_salt)


def _weigh_list(dose: Dose, targets: Targets) -> list[dict[str, str]]:
    parts = (
        (dose.premix.name, dose.premix.weight, targets.nitrite_ppm),
        ("salt", dose.salt, targets.salt_percent),
        ("sugar", dose.sugar, targets.sugar_percent),
    )
    # Cut, not rounded: what is printed never brings in more than what was calculated.
    return [{"name": name, "weight": str(to_step(weight, _FINEST, ROUND_DOWN))} for name, weight, asked in parts if asked]


def _remarks(dose: Dose, targets: Targets) -> list[Finding]:
    findings = [*remarks_on_mix([dose.premix]), caution()] if targets.nitrite_ppm else []
    if dose.salt_over:
        message = (
            f"The premix alone brings {shown(dose.salt_over)} g more salt than the target: nitrite and salt are locked together"
            " in it, so aim for less nitrite, for more salt, or take a stronger premix"
        )
        findings.append(advice("curing.salt_over_target", message, severity="warn", found=shown(dose.salt_over), unit="g"))
    return findings
