"""A line of the ingredient list before it is written out."""

from __future__ import annotations

from dataclasses import dataclass, replace
from decimal import Decimal


@dataclass(frozen=True)
class Line:
    """One entry of the list.

    Args:
        name: as printed.
        weight: grams at the time of use; of added water, in the finished product.
        kind: ``meat``, ``fat``, ``spice``, ``herb``, ``water``, ``additive`` or ``other``.
        allergens: keys of what this entry must declare.
        function: class word of an additive (our English key), else empty.
        parts: parts of a compound ingredient, printed in brackets behind it.
        quantify: whether a person asked for its quantity, or asked for none.
        key: what makes two lines one; lines of one key are added up.
        percent: the quantity to print beside it, as plain digits, else empty.
    """

    name: str
    weight: Decimal
    kind: str = "other"
    allergens: frozenset[str] = frozenset()
    function: str = ""
    parts: tuple[Line, ...] = ()
    quantify: bool | None = None
    key: str = ""
    percent: str = ""

    @property
    def identity(self) -> tuple[str, str]:
        """What makes two lines one: the key and, for an additive, its class."""
        return (self.key or self.name.casefold(), self.function)


def merge(lines: list[Line], shared_names: dict[str, str]) -> list[Line]:
    """Add up lines of the same ingredient.

    Args:
        lines: in any order.
        shared_names: for a key, the name that covers lines of it with different names (``salt`` for sea salt and salt).

    Returns:
        One line an ingredient; independent of the order given.
    """
    groups: dict[tuple[str, str], list[Line]] = {}
    for line in lines:
        groups.setdefault(line.identity, []).append(line)
    return [_added_up(group, shared_names) for group in groups.values()]


def _added_up(group: list[Line], shared_names: dict[str, str]) -> Line:
    names = sorted({line.name for line in group})
    first = min(group, key=lambda line: line.name)
    asked = {line.quantify for line in group}
    return replace(
        first,
        name=names[0] if len({name.casefold() for name in names}) == 1 else shared_names.get(first.key, names[0]),
        weight=sum((line.weight for line in group), Decimal(0)),
        kind=min(line.kind for line in group),
        allergens=frozenset().union(*(line.allergens for line in group)),
        parts=tuple(merge([part for line in group for part in line.parts], shared_names)),
        quantify=True if True in asked else (False if False in asked else None),
    )
