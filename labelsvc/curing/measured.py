"""What was measured in the finished product, as the rules ask for it: of several values the worst one counts.

A second, lower value does not wipe out a first one that is over: who doubts a measurement corrects it.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from labelsvc.curing.salts import IONS, PURE, expressed_as
from labelsvc.facts import Measured
from labelsvc.units import plain

_SUBSTANCES = {substance.name: substance for substance in (*PURE, *IONS)}


def residue(measured: Sequence[Measured], agent: str, as_what: str | None = None) -> Decimal | None:
    """Return the highest residue that was measured, or None where none was.

    Args:
        measured: what was measured.
        agent: nitrite or nitrate.
        as_what: the substance to express it as; as the report says if None.

    Returns:
        mg per kg of the finished product.

    >>> residue([Measured("residual_nitrite", Decimal(80), "nitrite ion")], "nitrite", "sodium nitrite").__round__(2)
    Decimal('119.98')
    """
    values = [one for one in measured if one.what == f"residual_{agent}"]
    if as_what is None:
        return max((one.value for one in values), default=None)
    target = _SUBSTANCES[as_what]
    return max((expressed_as(one.value, _SUBSTANCES[one.expressed_as], target) for one in values), default=None)


def is_dry_enough(
    measured: Sequence[Measured], least_salt: Decimal | None, most_activity: Decimal | None
) -> tuple[bool | None, str]:
    """Tell whether a product is salty or dry enough by what was measured.

    Args:
        measured: what was measured.
        least_salt: least salt in its water phase, percent, or None where it is not asked for.
        most_activity: highest water activity, or None where it is not asked for.

    Returns:
        True where one of the two is met, False where both were measured and neither is, None where one is still lacking; and
        the values that decide it, in words.
    """
    salt = min((one.value for one in measured if one.what == "water_phase_salt_percent"), default=None)
    activity = max((one.value for one in measured if one.what == "water_activity"), default=None)
    said = [f"{plain(salt)} % salt in the water phase"] if salt is not None else []
    said += [f"water activity {plain(activity)}"] if activity is not None else []
    if salt is not None and least_salt is not None and salt >= least_salt:
        return True, said[0]
    if activity is not None and most_activity is not None and activity <= most_activity:
        return True, said[-1]
    return (False if len(said) == 2 else None), " and ".join(said)
