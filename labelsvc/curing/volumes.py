"""Spices by the spoon: accepted by an open table, warned about for salt, refused for anything that brings nitrite or nitrate.

The weights are those of the USDA (``volumes.toml``); a table is no scale, so the grams are called an estimate.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from decimal import Decimal
from functools import cache
from importlib import resources
from typing import Any

from labelsvc.curing.advice import advice
from labelsvc.curing.mix import MixLine, brings_curing_agent
from labelsvc.errors import InputError
from labelsvc.rules.finding import Finding
from labelsvc.shape import Shape, Text, read_shape
from labelsvc.units import Mass, plain, ratio

_VOLUME = re.compile(r"([0-9]+(?:[.,][0-9]+)?|[0-9]+/[0-9]+|[¼½¾])\s*([a-z]+)\.?", re.ASCII | re.IGNORECASE)
_SPOONS: Mapping[str, str] = {
    **dict.fromkeys(("tsp", "teaspoon", "teaspoons"), "teaspoon"),
    **dict.fromkeys(("tbsp", "tablespoon", "tablespoons"), "tablespoon"),
    **dict.fromkeys(("cup", "cups"), "cup"),
}
_TEASPOONS = {"teaspoon": 1, "tablespoon": 3, "cup": 48}
_FRACTIONS = {"¼": Decimal("0.25"), "½": Decimal("0.5"), "¾": Decimal("0.75")}
_WHY_NEVER = "Two sets of spoons differ by a quarter, and nitrite is poisonous in small amounts: put it on a scale"


class VolumeRequest(Shape, frozen=True):
    """What the contract ``volume`` asks: an ingredient by name, and how much of it by the spoon."""

    name: Text
    volume: Text


def compute_volume(request: Mapping[str, Any]) -> dict[str, Any]:
    """Answer the grams of a spice by the spoon.

    Args:
        request: ``{name, volume}``, such as black pepper and "2 tsp".

    Returns:
        ``{name, volume, weight, estimate: true, source, findings}``.

    Raises:
        InputError: a source of nitrite or nitrate, which is never measured by the spoon; an ingredient that the table does not
            have, or no volume.

    >>> compute_volume({"name": "black pepper", "volume": "2 tsp"})["weight"]
    '4.6 g'
    """
    asked = read_shape(VolumeRequest, request, "volume", strict=True)
    if brings_curing_agent(MixLine.from_components(asked.name, Mass(Decimal(0)))):
        raise InputError("volume", f"grams from a scale for {asked.name}, never a volume", asked.volume, _WHY_NEVER)
    food = _food(asked.name)
    if food is None:
        raise InputError("name", "an ingredient of the table of weights, or grams from a scale", asked.name)
    grams = _measured(food, asked.volume)
    source = f"USDA National Nutrient Database SR28, food {food['number']}"
    findings = [finding.as_json() for finding in _remarks(food)]
    return {"name": asked.name, "volume": asked.volume, "weight": f"{plain(grams)} g", "estimate": True, "source": source,
            "findings": findings}  # fmt: skip


def is_volume(text: str) -> bool:
    """Tell whether a text is so many spoons or cups.

    >>> is_volume("1/2 tsp"), is_volume("2 g")
    (True, False)
    """
    match = _VOLUME.fullmatch(text.strip())
    return match is not None and match[2].casefold() in _SPOONS


def by_volume(line: MixLine, volume: str) -> tuple[Mass, list[str]]:
    """Return the estimated grams of an ingredient by the spoon, and what must be said of them.

    Args:
        line: the ingredient, with what its card and its bag say that it carries.
        volume: such as "2 tsp".

    Raises:
        InputError: it brings nitrite or nitrate, or may; the table does not have it; no volume.
    """
    if brings_curing_agent(line):
        raise InputError("volume", f"grams from a scale for {line.name}, never a volume", volume, _WHY_NEVER)
    answer = compute_volume({"name": line.name, "volume": volume})
    return Mass.parse(answer["weight"]), [str(finding["message"]) for finding in answer["findings"]]


def _measured(food: Mapping[str, Any], volume: str) -> Decimal:
    match = _VOLUME.fullmatch(volume.strip())
    spoon = _SPOONS.get(match[2].casefold()) if match else None
    if match is None or spoon is None:
        raise InputError("volume", 'so many teaspoons, tablespoons or cups, such as "2 tsp" or "1/2 cup"', volume)
    count = _count(match[1])
    if spoon in food:
        return count * Decimal(food[spoon])
    known = next(name for name in _TEASPOONS if name in food)
    return ratio(count * Decimal(food[known]) * _TEASPOONS[spoon], _TEASPOONS[known])


def _count(text: str) -> Decimal:
    if text in _FRACTIONS:
        return _FRACTIONS[text]
    above, _, below = text.replace(",", ".").partition("/")
    if below and int(below) == 0:
        raise InputError("volume", "a part of something", text)
    return ratio(Decimal(above), Decimal(below or 1))


def _remarks(food: Mapping[str, Any]) -> list[Finding]:
    if not food.get("salt"):
        return [advice("curing.by_volume", "By the spoon it is an estimate: spoons and grains differ")]
    said = "Salt by the spoon can be off more than twofold by its grain: for a cure put it on a scale"
    return [advice("curing.salt_by_volume", said, severity="warn")]


def _food(name: str) -> Mapping[str, Any] | None:
    words = " ".join(name.casefold().split())
    named = sorted(((one, food) for food in _foods() for one in food["names"]), key=lambda pair: -len(pair[0]))
    return next((food for one, food in named if re.search(rf"\b{re.escape(one)}\b", words)), None)


@cache
def _foods() -> tuple[dict[str, Any], ...]:
    text = (resources.files("labelsvc.curing") / "volumes.toml").read_text(encoding="utf-8")
    return tuple(tomllib.loads(text)["food"])
