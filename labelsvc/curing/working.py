"""A calculation with its numbers in it, so that an inspector can follow it with a pencil."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal

from labelsvc.curing.amounts import Ingoing, rounded, shown
from labelsvc.curing.cure import Cure, ingoing_of
from labelsvc.curing.mix import MixLine
from labelsvc.curing.salts import NITRATE_ION, NITRITE_ION, SALT, Substance, molar_mass
from labelsvc.units import Mass, plain

_HANDBOOK = "FSIS Directive 7620.3"
# What of the mix counts as gone in, and where the formula stands.
_PORTION: Mapping[str, str] = {
    "dry": f"{_HANDBOOK}, page 24",
    "dry_excess": f"{_HANDBOOK}, page 24, as an upper bound",
    "comminuted": f"{_HANDBOOK}, page 12",
    "pumped": f"{_HANDBOOK}, page 19",
    "immersion_pickup": f"{_HANDBOOK}, page 21",
    "immersion_equilibrium": f"{_HANDBOOK}, page 22",
}


def working_of(cure: Cure) -> list[str]:
    """Return the sum of each salt of a cure, one line a step: grams in the mix, then ppm by the formula of the method."""
    ingoing = ingoing_of(cure)
    said = [f"{name}: its percent is not entered, so what it brings is in no sum" for name in ingoing.unchecked]
    for substance, ppm in ingoing.ppm:
        lines = [line for line in cure.mix if line.grams_of(substance)]
        grams = sum((line.grams_of(substance) for line in lines), Decimal(0))
        parts = " + ".join(f"{_grams(line.weight)} {line.name} × {_percent(line, substance)} %" for line in lines)
        said.append(f"{substance.name}: {parts} = {_exact(grams)} g")
        said.append(_by_method(cure, substance, grams, ppm, ingoing))
        ion = {"nitrite": NITRITE_ION, "nitrate": NITRATE_ION}.get(substance.agent)
        if ion is not None and ion != substance:
            as_ion = f"{plain(molar_mass(ion))} ÷ {plain(molar_mass(substance))}"
            said.append(f"as the ion: {shown(ppm)} × {as_ion} = {shown(ppm * molar_mass(ion) / molar_mass(substance))} mg/kg")
    return said


def _by_method(cure: Cure, substance: Substance, grams: Decimal, ppm: Decimal, ingoing: Ingoing) -> str:
    green, cite = _grams(cure.green), _PORTION[cure.method]
    times = "100" if substance == SALT else "1 000 000"
    up_to = "at most " if ingoing.upper_bound else ""
    result = f"{up_to}{shown(ppm)} ppm"
    if substance == SALT:
        result = f"{up_to}{shown(ppm / 10_000)} % of the green weight"
    mixed = "" if cure.applied == cure.mix_weight else f" × {_grams(cure.applied)} ÷ {_grams(cure.mix_weight)} of the mix"
    if cure.leftover.grams and cure.method in ("dry", "dry_excess", "comminuted"):
        mixed = f" × ({_grams(cure.applied)} put on − {_grams(cure.leftover)} weighed back) ÷ {_grams(cure.mix_weight)}"
    if cure.method in ("pumped", "immersion_pickup"):
        gain = f"{plain(cure.gain_percent)} % taken in"
        return f"{_exact(grams)} g{mixed} × {gain} × {times} ÷ {_grams(cure.pickle)} of pickle = {result} ({cite})"
    if cure.method == "immersion_equilibrium":
        whole = f"({green} meat + {_grams(cure.pickle)} pickle)"
        return f"{_exact(grams)} g{mixed} × {times} ÷ {whole} = {result} ({cite})"
    return f"{_exact(grams)} g{mixed} × {times} ÷ {green} green = {result} ({cite})"


def _percent(line: MixLine, substance: Substance) -> str:
    return plain(sum((percent for part, percent in line.contents if part == substance), Decimal(0)))


def _grams(weight: Mass) -> str:
    return f"{_exact(weight.grams)} g"


def _exact(grams: Decimal) -> str:
    return plain(rounded(grams, 6))
