"""One line of a cure mix: how much of what, and which salts it carries."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from labelsvc.curing.reading import read_choice, read_object, read_percent, read_text, read_weight
from labelsvc.curing.salts import PURE, SALT, Substance, find_substance, sounds_like_curing_salt
from labelsvc.errors import InputError
from labelsvc.units import Mass, decimal, plain

WHOLE = Decimal(100)
PERCENT_FIELDS: Mapping[str, str] = {
    "sodium_nitrite_percent": "sodium nitrite",
    "potassium_nitrite_percent": "potassium nitrite",
    "sodium_nitrate_percent": "sodium nitrate",
    "potassium_nitrate_percent": "potassium nitrate",
    "salt_percent": "sodium chloride",
}
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
    """

    name: str
    weight: Mass
    contents: tuple[tuple[Substance, Decimal], ...] = ()
    rest_is_salt: bool = False
    is_unchecked: bool = False

    def __post_init__(self) -> None:
        total = sum((percent for _, percent in self.contents), Decimal(0))
        if total > WHOLE:
            raise InputError(self.name, "contents of at most 100 percent together", f"{plain(total)} percent")

    @property
    def is_pure_nitrite(self) -> bool:
        """Whether the line is a nitrite not mixed with anything."""
        return any(substance.agent == "nitrite" and percent == WHOLE for substance, percent in self.contents)

    def grams_of(self, substance: Substance) -> Decimal:
        """Return exact grams of one salt in the line."""
        return sum((self.weight.grams * percent / 100 for part, percent in self.contents if part == substance), Decimal(0))

    @classmethod
    def from_components(cls, name: str, weight: Mass, components: Sequence[Mapping[str, Any]] = ()) -> MixLine:
        """Return the line of an ingredient of the ledger.

        Args:
            name: the ingredient's name; it alone tells what the ingredient is where no components are entered.
            weight: how much of it was put on.
            components: ``{name, percent?, additive?: {e_number?}}``; the E number goes before the name, and a nitrite or
                nitrate without a percent makes the line unchecked.

        Raises:
            InputError: a percent cannot be read, or they come to more than 100.
        """
        if not components:
            pure = find_substance(name)
            contents = ((pure, WHOLE),) if pure else ()
            return cls(name, weight, contents, is_unchecked=not pure and sounds_like_curing_salt(name))
        found: list[tuple[Substance, Decimal]] = []
        unchecked, listed = False, Decimal(0)
        for position, component in enumerate(components):
            substance = _component_substance(component)
            percent = component.get("percent")
            if percent is None or substance is None:
                unchecked = unchecked or _promises_curing(component, substance)
            amount = Decimal(0) if percent is None else decimal(percent, f"components[{position}].percent", maximum=100)
            listed += amount
            if substance is not None and percent is not None:
                found.append((substance, amount))
        return with_rest_as_salt(cls(name, weight, tuple(found), is_unchecked=unchecked), WHOLE - listed)


def read_mix_line(value: object, field: str) -> MixLine:
    """Return a line of the contract's ``mix``.

    Args:
        value: ``{name, weight, substance?, ..._percent?}``.
        field: where it stands, such as ``mix[0]``.

    Raises:
        InputError: an unknown field, a volume, percents over 100, both a substance and percents, or a curing salt without
            a percent of nitrite or nitrate.
    """
    given = read_object(value, ("name", "weight"), ("substance", *PERCENT_FIELDS), field)
    name = read_text(given["name"], f"{field}.name")
    weight = read_weight(given["weight"], f"{field}.weight")
    contents = read_contents(given, field)
    if "substance" in given:
        if contents:
            raise InputError(f"{field}.substance", "either a pure substance or percents of a mix", "both")
        substance = _SUBSTANCES[read_choice(given["substance"], f"{field}.substance", tuple(_SUBSTANCES))]
        return MixLine(name, weight, ((substance, WHOLE),))
    if contents:
        return with_rest_as_salt(MixLine(name, weight, contents), WHOLE, is_stated="salt_percent" in given)
    line = MixLine.from_components(name, weight)
    if line.is_unchecked:
        raise InputError(
            f"{field}.sodium_nitrite_percent", "the percent of nitrite or nitrate printed on the bag", "none", "Read the label"
        )
    return line


def read_contents(given: Mapping[str, Any], field: str) -> tuple[tuple[Substance, Decimal], ...]:
    """Return the salts that ``..._percent`` fields state, refusing more than 100 percent together."""
    contents = tuple(
        (_SUBSTANCES[substance], read_percent(given[key], f"{field}.{key}"))
        for key, substance in PERCENT_FIELDS.items()
        if key in given
    )
    total = sum((percent for _, percent in contents), Decimal(0))
    if total > WHOLE:
        raise InputError(field, "percents of at most 100 together", f"{plain(total)} percent")
    return contents


def _component_substance(component: Mapping[str, Any]) -> Substance | None:
    additive = component.get("additive") or {}
    by_number = find_substance(str(additive.get("e_number") or ""))
    return by_number or find_substance(str(component["name"]))


def _promises_curing(component: Mapping[str, Any], substance: Substance | None) -> bool:
    if substance is None:
        return sounds_like_curing_salt(str(component["name"]))
    return substance.agent in ("nitrite", "nitrate")


def with_rest_as_salt(line: MixLine, left: Decimal, *, is_stated: bool = False) -> MixLine:
    """Return the line with what a curing premix does not state counted as salt: it is the bulk of every premix.

    Args:
        line: the line as stated.
        left: percent of the line that nothing else is listed for.
        is_stated: the salt content was stated, so nothing is inferred.
    """
    agents = {substance.agent for substance, _ in line.contents}
    if is_stated or "salt" in agents or not agents & {"nitrite", "nitrate"}:
        return line
    rest = min(left, WHOLE - sum((percent for _, percent in line.contents), Decimal(0)))
    if rest <= 0:
        return line
    return MixLine(line.name, line.weight, (*line.contents, (SALT, rest)), rest_is_salt=True, is_unchecked=line.is_unchecked)
