"""One line of a cure mix: how much of what, and which salts it carries."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any

from labelsvc.curing.salts import (
    IONS,
    PURE,
    SALT,
    Substance,
    find_substance,
    sounds_like_curing_salt,
    sounds_like_plant_source,
)
from labelsvc.errors import InputError
from labelsvc.shape import Percent, Shape, Text
from labelsvc.units import Mass, decimal, plain

WHOLE = Decimal(100)
PERCENT_FIELDS: Mapping[str, str] = {
    "sodium_nitrite_percent": "sodium nitrite",
    "potassium_nitrite_percent": "potassium nitrite",
    "sodium_nitrate_percent": "sodium nitrate",
    "potassium_nitrate_percent": "potassium nitrate",
    "salt_percent": "sodium chloride",
}
PLANT_CATEGORIES = ("vegetable nitrate source", "plant nitrate source", "nitrate source")
_SUBSTANCES = {substance.name: substance for substance in PURE}


@dataclass(frozen=True)
class MixLine:
    """An ingredient of a mix with its weight.

    Args:
        name: as on the bag.
        weight: how much of it is in the mix.
        contents: salts it carries, each with its percent by weight of the line.
        rest_is_salt: the salt content was not stated and is taken as all that is left.
        is_unchecked: the name promises nitrite or nitrate, but no content is stated.
        is_plant: its nitrite or nitrate is a plant's own: a source that cures in the place of curing salt.
        other_percent: percent of the line that is listed as something else, such as sugar.
    """

    name: str
    weight: Mass
    contents: tuple[tuple[Substance, Decimal], ...] = ()
    rest_is_salt: bool = False
    is_unchecked: bool = False
    is_plant: bool = False
    other_percent: Decimal = Decimal(0)

    def __post_init__(self) -> None:
        total = sum((percent for _, percent in self.contents), Decimal(0))
        if total > WHOLE:
            raise InputError(self.name, "contents of at most 100 percent together", f"{plain(total)} percent")

    @property
    def is_pure_nitrite(self) -> bool:
        """Whether the line is a nitrite not mixed with anything."""
        return any(substance.agent == "nitrite" and percent == WHOLE for substance, percent in self.contents)

    @property
    def is_of_plants(self) -> bool:
        """Whether a plant may bring its nitrite or nitrate: its category or its name says so."""
        return self.is_plant or sounds_like_plant_source(self.name)

    def grams_of(self, substance: Substance) -> Decimal:
        """Return exact grams of one salt in the line."""
        return sum((self.weight.grams * percent / 100 for part, percent in self.contents if part == substance), Decimal(0))

    def with_strength(self, strength: Mapping[str, Decimal]) -> MixLine:
        """Return the line with what its own bag states in the place of what the card says of the same substance.

        What the bag does not state stays as on the card, and so does that something is unchecked until the bag states a nitrite
        or nitrate: the salt of a bag tells nothing of what else is in it. Salt fills up what is left.

        Args:
            strength: substances by name with their percent of the bag.
        """
        stated = {_SUBSTANCES[name]: percent for name, percent in strength.items()}
        on_card = [(part, percent) for part, percent in self.contents if part not in stated and part is not SALT]
        room, contents = WHOLE, []
        for substance, percent in sorted([*stated.items(), *on_card], key=lambda pair: pair[0] is SALT):
            contents.append((substance, min(percent, room)))
            room -= contents[-1][1]
        settles = any(substance.agent in ("nitrite", "nitrate") for substance in stated)
        unchecked = self.is_unchecked and not settles
        line = MixLine(self.name, self.weight, tuple(contents), is_unchecked=unchecked, is_plant=self.is_plant)
        return with_rest_as_salt(line, room - self.other_percent)

    @classmethod
    def from_components(
        cls,
        name: str,
        weight: Mass,
        components: Sequence[Mapping[str, Any]] = (),
        category: str | None = None,
        additive: Mapping[str, Any] | None = None,
    ) -> MixLine:
        """Return the line of an ingredient of the ledger.

        Args:
            name: the ingredient's name; with the additive it tells what the ingredient is where no components are entered.
            weight: how much of it was put on.
            components: its parts, each ``{name, percent?, additive?, category?, components?}`` with the percent of what it is a
                part of; what brings nitrite or nitrate without a percent makes the line unchecked.
            category: what kind of ingredient it is; "vegetable nitrate source" says that a plant cures.
            additive: ``{e_number?, name?}`` where it is an additive itself; it goes before the name.

        Raises:
            InputError: a percent cannot be read, or they come to more than 100.
        """
        is_named = " ".join((category or "").casefold().replace("_", " ").split()) in PLANT_CATEGORIES
        said = [str((additive or {}).get(key) or "") for key in ("e_number", "name")] + [name]
        if not components:
            pure = next((one for one in map(find_substance, said) if one), None)
            unknown = not pure and (any(map(sounds_like_curing_salt, said)) or sounds_like_plant_source(name) or is_named)
            return cls(name, weight, ((pure, WHOLE),) if pure else (), is_unchecked=unknown, is_plant=is_named)
        found: list[tuple[Substance, Decimal]] = []
        unchecked, listed, is_plant = False, Decimal(0), is_named
        for position, part in enumerate(components):
            inner = cls.from_components(
                str(part["name"]), weight, part.get("components") or (), part.get("category"), part.get("additive")
            )
            is_plant = is_plant or inner.is_plant
            if part.get("percent") is None:
                unchecked = unchecked or brings_curing_agent(inner)
                continue
            percent = decimal(part["percent"], f"components[{position}].percent", maximum=100)
            unchecked, listed = unchecked or inner.is_unchecked, listed + percent
            found += [(substance, percent * share / WHOLE) for substance, share in inner.contents]
        is_plant = is_plant or (sounds_like_plant_source(name) and any(substance in IONS for substance, _ in found))
        # what a plant brings is not counted, so a nitrate that was added beside it could not be told from it
        unchecked = unchecked or (is_plant and any(one.agent == "nitrate" and one not in IONS for one, _ in found))
        other = listed - sum((percent for _, percent in found), Decimal(0))
        line = cls(name, weight, tuple(found), is_unchecked=unchecked, is_plant=is_plant, other_percent=other)
        return line if is_plant else with_rest_as_salt(line, WHOLE - listed)


class Bag(Shape, frozen=True, kw_only=True):
    """An ingredient of a mix as a request gives it: its name, and the salts that the bag states.

    Raises:
        InputError: percents over 100 together.
    """

    name: Text
    sodium_nitrite_percent: Percent | None = None
    sodium_nitrate_percent: Percent | None = None
    potassium_nitrate_percent: Percent | None = None
    salt_percent: Percent | None = None

    def __post_init__(self) -> None:
        total = sum((percent for _, percent in self.contents), Decimal(0))
        if total > WHOLE:
            raise InputError("", "percents of at most 100 together", f"{plain(total)} percent")

    @property
    def contents(self) -> tuple[tuple[Substance, Decimal], ...]:
        """The salts with their percents."""
        stated = ((_SUBSTANCES[substance], getattr(self, key, None)) for key, substance in PERCENT_FIELDS.items())
        return tuple((substance, percent) for substance, percent in stated if percent is not None)

    def line(self, weight: Mass) -> MixLine:
        """Return the line of a mix with so much of it, the rest of a curing premix counted as salt."""
        return with_rest_as_salt(MixLine(self.name, weight, self.contents), WHOLE)


class MixItem(Bag, frozen=True, kw_only=True):
    """A line of the contract's ``mix``.

    Raises:
        InputError: an unknown substance, or both a substance and percents.
    """

    weight: Mass
    substance: Text | None = None
    category: Text | None = None
    potassium_nitrite_percent: Percent | None = None

    def __post_init__(self) -> None:
        super().__post_init__()
        if self.substance is not None and self.substance not in _SUBSTANCES:
            raise InputError("substance", f"one of {', '.join(_SUBSTANCES)}", self.substance)
        if self.substance is not None and self.contents:
            raise InputError("substance", "either a pure substance or percents of a mix", "both")

    def as_line(self) -> MixLine:
        """Return the line: by its substance, by its percents, or by its name alone."""
        if self.substance is not None:
            return MixLine(self.name, self.weight, ((_SUBSTANCES[self.substance], WHOLE),))
        if not self.contents or (self.category is not None):
            parts = [{"name": substance.name, "percent": percent} for substance, percent in self.contents]
            return MixLine.from_components(self.name, self.weight, parts, self.category)
        return self.line(self.weight)


def brings_curing_agent(line: MixLine) -> bool:
    """Tell whether a line brings nitrite or nitrate, or may do so unchecked."""
    return line.is_unchecked or line.is_plant or any(part.agent in ("nitrite", "nitrate") for part, _ in line.contents)


def with_rest_as_salt(line: MixLine, left: Decimal) -> MixLine:
    """Return the line with what a curing premix does not state counted as salt: it is the bulk of every premix.

    Args:
        line: the line as stated.
        left: percent of the line that nothing else is listed for.
    """
    agents = {substance.agent for substance, _ in line.contents}
    if "salt" in agents or not agents & {"nitrite", "nitrate"}:
        return line
    rest = min(left, WHOLE - sum((percent for _, percent in line.contents), Decimal(0)))
    if rest <= 0:
        return line
    return replace(line, contents=(*line.contents, (SALT, rest)), rest_is_salt=True)
