"""The grams that a recipe asks for: percent of the green weight, and for a curing salt as much as brings the same nitrite.

A recipe is written for the strength on the ingredient's card. From a bag of another strength as much is asked as brings the
same nitrite (or nitrate, where it carries no nitrite), and the salt that it brings more or less is taken off the plain salt.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from labelsvc.curing.mix import MixLine
from labelsvc.curing.salts import SALT, Agent
from labelsvc.errors import InputError
from labelsvc.units import Mass, plain, ratio


@dataclass(frozen=True)
class Asked:
    """One line of a recipe with its grams.

    Args:
        line: what to weigh out, as its container is.
        percent: of the green weight, as the recipe says.
        why: why the grams are not plain percent, in words; empty where they are.
    """

    line: MixLine
    percent: Decimal
    why: str = ""


@dataclass(frozen=True)
class Part:
    """One line of a recipe, and what it will be taken from.

    Args:
        percent: of the green weight.
        card: the ingredient as its card says; its weight is not looked at.
        bag: the container that was scanned, or None.
    """

    percent: Decimal
    card: MixLine
    bag: MixLine | None = None


def grams_asked(green: Mass, parts: Sequence[Part]) -> list[Asked]:
    """Return the grams of each line for so much meat.

    Raises:
        InputError: a bag without nitrite or nitrate for a line that brings it.

    >>> from labelsvc.curing.salts import SODIUM_NITRITE
    >>> card, bag = (MixLine("cure", Mass(Decimal(0)), ((SODIUM_NITRITE, Decimal(percent)),)) for percent in ("0.6", "0.5"))
    >>> str(grams_asked(Mass.parse("1 kg"), [Part(Decimal(2), card, bag)])[0].line.weight)
    '24 g'
    """
    asked = [_asked(green, part) for part in parts]
    brought = sum((one.line.grams_of(SALT) for one, part in zip(asked, parts, strict=True) if part.bag), Decimal(0))
    meant = sum((_meant(green, part).grams_of(SALT) for part in parts if part.bag), Decimal(0))
    plain_salt = next((i for i, part in enumerate(parts) if part.card.contents == ((SALT, Decimal(100)),)), None)
    if brought != meant and plain_salt is not None:
        asked[plain_salt] = _less(asked[plain_salt], brought - meant)
    return asked


def _meant(green: Mass, part: Part) -> MixLine:
    return replace(part.card, weight=Mass(green.grams * part.percent / 100))


def _asked(green: Mass, part: Part) -> Asked:
    meant = _meant(green, part)
    agent = next((agent for agent in _AGENTS if _share(part.card, agent)), None)
    if part.bag is None or agent is None:
        return Asked(replace(part.bag or part.card, weight=meant.weight), part.percent)
    wanted, found = _share(part.card, agent), _share(part.bag, agent)
    if found == 0:
        raise InputError(part.bag.name, f"a container that brings {agent}, as the recipe's does", "one that brings none")
    if found == wanted:
        return Asked(replace(part.bag, weight=meant.weight), part.percent)
    why = f"this bag is {plain(found)} % {agent}, the recipe is for {plain(wanted)} %"
    return Asked(replace(part.bag, weight=Mass(ratio(meant.weight.grams * wanted, found))), part.percent, why)


_AGENTS: tuple[Agent, ...] = ("nitrite", "nitrate")


def _share(line: MixLine, agent: Agent) -> Decimal:
    return sum((percent for substance, percent in line.contents if substance.agent == agent), Decimal(0))


def _less(salt: Asked, grams: Decimal) -> Asked:
    why = f"{plain(abs(grams))} g {'less' if grams > 0 else 'more'}: the curing salt of this bag brings so much salt"
    return replace(salt, line=replace(salt.line, weight=Mass(max(salt.line.weight.grams - grams, Decimal(0)))), why=why)
