"""What a cure puts into a piece: mg per kg of green weight of each salt, and how well that is known."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal, localcontext
from typing import Any

from labelsvc.curing.mix import MixLine
from labelsvc.curing.salts import (
    IONS,
    NITRATE_ION,
    NITRITE_ION,
    POTASSIUM_NITRATE,
    PURE,
    SODIUM_NITRATE,
    SODIUM_NITRITE,
    Agent,
    Substance,
    expressed_as,
)
from labelsvc.errors import InputError
from labelsvc.units import Mass, plain, ratio, round_half_up

PLACES = 4  # of a printed ppm or percent, half up
_DIGITS = 60
_COMPARED_PLACES = 10  # far below any scale; takes away the last digit of a division that does not end


@dataclass(frozen=True)
class Ingoing:
    """Amounts that go in, per green weight.

    Args:
        ppm: each pure salt with its mg per kg of green weight, as weighed (not converted).
        upper_bound: true where less may have been taken up.
        salt_is_known: false where the salt taken up cannot be calculated.
        has_pure_nitrite: some of the nitrite was not mixed with salt.
        plants: the names of plant extracts that bring nitrate or nitrite.
        unchecked: the names of curing salts whose contents nobody entered: what they bring is in none of the numbers.
    """

    ppm: tuple[tuple[Substance, Decimal], ...]
    upper_bound: bool = False
    salt_is_known: bool = True
    has_pure_nitrite: bool = False
    plants: tuple[str, ...] = ()
    unchecked: tuple[str, ...] = ()

    def as_salt(self, target: Substance) -> Decimal:
        """Return mg per kg of all salts of one ion, expressed as one of them or as the ion."""
        parts = (expressed_as(ppm, substance, target) for substance, ppm in self.ppm if substance.agent == target.agent)
        return rounded(sum(parts, Decimal(0)), _COMPARED_PLACES)

    def by_weight(self, agent: Agent) -> Decimal:
        """Return mg per kg of the salts of one agent, by the weight of the salts themselves."""
        return rounded(sum((ppm for substance, ppm in self.ppm if substance.agent == agent), Decimal(0)), _COMPARED_PLACES)

    @property
    def salt_percent(self) -> Decimal | None:
        """Common salt in percent of green weight, or None where it is not known."""
        return self.by_weight("salt") / 10_000 if self.salt_is_known and not self.unchecked else None

    def in_words(self) -> str:
        """Return the amounts as a person reads them; what nobody can know is said so."""
        limit = "at most " if self.upper_bound else ""
        salt = self.salt_percent
        salted = "salt not known, it must be measured" if salt is None else f"salt {shown(salt)} % of green weight"
        if self.unchecked:
            return f"nitrite and nitrate not known, {salted}"
        nitrite, nitrate = shown(self.as_salt(SODIUM_NITRITE)), shown(self.as_salt(SODIUM_NITRATE))
        return f"nitrite {limit}{nitrite} ppm as sodium nitrite, nitrate {limit}{nitrate} ppm as sodium nitrate, {salted}"

    def as_json(self) -> dict[str, Any]:
        """Return the contract's amounts: plain decimals with at most four places, half up; None where nobody can know them."""
        salt = self.salt_percent

        def amount(target: Substance) -> str | None:
            return None if self.unchecked else shown(self.as_salt(target))

        return {
            "nitrite": {
                "ppm_as_sodium_nitrite": amount(SODIUM_NITRITE),
                "mg_per_kg_as_ion": amount(NITRITE_ION),
            },
            "nitrate": {
                "ppm_as_sodium_nitrate": amount(SODIUM_NITRATE),
                "ppm_as_potassium_nitrate": amount(POTASSIUM_NITRATE),
                "mg_per_kg_as_ion": amount(NITRATE_ION),
            },
            "salt_percent": None if salt is None else shown(salt),
            "upper_bound": self.upper_bound,
        }


def amounts_on(green: Mass, lines: Sequence[MixLine], portion: Decimal = Decimal(1)) -> Ingoing:
    """Return what a mix put on a piece brings in, per green weight.

    FSIS Directive 7620.3: ppm = salt * 1 000 000 / green weight, in any one unit of weight.

    Args:
        green: weight of the untreated meat.
        lines: the mix.
        portion: the part of the mix that counts as taken in; 1 where all of it is on the meat.

    Returns:
        mg per kg of each salt.

    Raises:
        InputError: no green weight.

    >>> line = MixLine("sodium nitrite", Mass.parse("1 oz"), ((SODIUM_NITRITE, Decimal(100)),))
    >>> amounts_on(Mass.parse("100 lb"), [line]).as_json()["nitrite"]["ppm_as_sodium_nitrite"]
    '625'
    """
    if green.grams == 0:
        raise InputError("green_weight", "a weight of more than 0 g", str(green))
    ppm: list[tuple[Substance, Decimal]] = []
    with localcontext() as context:
        context.prec = _DIGITS  # products stay exact; only the last division rounds
        for substance in (*PURE, *IONS):
            # A plant's nitrate differs by batch: it is said, never counted; nitrite made of it is counted as stated.
            counted = [line for line in lines if not (line.is_plant and substance.agent == "nitrate")]
            grams = sum((line.grams_of(substance) for line in counted), Decimal(0))
            if grams:
                ppm.append((substance, ratio(grams * portion * 1_000_000, green.grams)))
    put_on = [line for line in lines if line.weight.grams]
    plants = tuple(dict.fromkeys(line.name for line in put_on if line.is_plant))
    unchecked = tuple(dict.fromkeys(line.name for line in put_on if line.is_unchecked and not line.is_of_plants))
    return Ingoing(tuple(ppm), has_pure_nitrite=any(line.is_pure_nitrite for line in put_on), plants=plants, unchecked=unchecked)


def added_up(parts: Sequence[Ingoing]) -> Ingoing:
    """Return what several cures of one piece bring in together, each on its green weight; known no better than the worst."""
    ppm: dict[Substance, Decimal] = {}
    for part in parts:
        for substance, amount in part.ppm:
            ppm[substance] = ppm.get(substance, Decimal(0)) + amount
    return Ingoing(
        tuple(ppm.items()),
        upper_bound=any(part.upper_bound for part in parts),
        salt_is_known=all(part.salt_is_known for part in parts),
        has_pure_nitrite=any(part.has_pure_nitrite for part in parts),
        plants=tuple(dict.fromkeys(plant for part in parts for plant in part.plants)),
        unchecked=tuple(dict.fromkeys(name for part in parts for name in part.unchecked)),
    )


def shown(value: Decimal) -> str:
    """Return a plain decimal with at most four places, half up."""
    return plain(rounded(value, PLACES))


def rounded(value: Decimal, places: int) -> Decimal:
    """Return a value rounded half up, also where an absurd input makes it longer than 28 digits."""
    with localcontext() as context:
        context.prec = _DIGITS
        return round_half_up(value, places)
