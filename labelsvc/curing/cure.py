"""One cure of one piece or lot, and what it brings in by the formula of its method."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Literal

from labelsvc.curing.amounts import Ingoing, amounts_on
from labelsvc.curing.dry import portion_applied
from labelsvc.curing.immersion import portion_at_equilibrium, portion_picked_up
from labelsvc.curing.mix import MixLine
from labelsvc.curing.pumped import portion_carried
from labelsvc.errors import InputError
from labelsvc.units import Mass

Method = Literal["dry", "dry_excess", "comminuted", "pumped", "immersion_pickup", "immersion_equilibrium"]
# What a method needs beside the mix; a field that a method has no use for is refused, so that none is silently ignored.
NEEDS: Mapping[str, tuple[str, ...]] = {
    "pumped": ("pickle_weight", "pump_percent"),
    "immersion_pickup": ("pickle_weight", "pickup_percent"),
    "immersion_equilibrium": ("pickle_weight",),
}
NOTHING = Mass(Decimal(0))


@dataclass(frozen=True)
class Cure:
    """One cure of one piece or lot.

    Args:
        method: how it is cured.
        green: weight of the untreated meat.
        mix: the lines of the mix; they give the proportions.
        applied: weight of that mix put on the meat, or in the whole pickle.
        leftover: weight of mix taken off again (dry methods).
        pickle: weight of the whole pickle, mix included (wet methods).
        gain_percent: pump or pick-up, percent of green weight.
    """

    method: Method
    green: Mass
    mix: tuple[MixLine, ...]
    applied: Mass
    leftover: Mass = NOTHING
    pickle: Mass = NOTHING
    gain_percent: Decimal = Decimal(0)

    def __post_init__(self) -> None:
        if self.green.grams == 0:
            raise InputError("green_weight", "a weight of more than 0 g", str(self.green))
        if self.mix_weight.grams == 0:
            raise InputError("mix", "a mix that weighs more than 0 g", str(self.mix_weight))
        if self.method in NEEDS and self.pickle < self.applied:
            raise InputError("pickle_weight", f"the whole pickle, at least its mix of {self.applied}", str(self.pickle))

    @property
    def mix_weight(self) -> Mass:
        """Weight of the mix as listed."""
        return Mass(sum((line.weight.grams for line in self.mix), Decimal(0)))


def ingoing_of(cure: Cure) -> Ingoing:
    """Return what a cure brings in by the formula of its method (FSIS Directive 7620.3, pages 12 to 24).

    Returns:
        mg per kg of green weight. For an excess cure (salt box) it is an upper bound for nitrite and nitrate, and the
        salt is not known.

    Raises:
        InputError: more left over than was put on.
    """
    amounts = amounts_on(cure.green, cure.mix, _portion(cure))
    return replace(amounts, upper_bound=True, salt_is_known=False) if cure.method == "dry_excess" else amounts


def _portion(cure: Cure) -> Decimal:
    mix, applied = cure.mix_weight, cure.applied
    if cure.method == "pumped":
        return portion_carried(mix, applied, cure.green, cure.pickle, cure.gain_percent)
    if cure.method == "immersion_pickup":
        return portion_picked_up(mix, applied, cure.green, cure.pickle, cure.gain_percent)
    if cure.method == "immersion_equilibrium":
        return portion_at_equilibrium(mix, applied, cure.green, cure.pickle)
    return portion_applied(mix, applied, cure.leftover)
