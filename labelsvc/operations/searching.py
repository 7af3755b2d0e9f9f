"""What a recall search starts from: any suspicion in the trade's words, and any number of them together."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal, cast

from labelsvc import facts
from labelsvc.codes.scanned import lot_code_in
from labelsvc.curing.salts import SODIUM_NITRITE
from labelsvc.errors import InputError
from labelsvc.ledger import flows, read, search
from labelsvc.ledger.asof import AsOf
from labelsvc.ledger.database import Connection
from labelsvc.ledger.derive.dosing import ingoing_into
from labelsvc.operations.recording import zone_of
from labelsvc.operations.undeclared import packs_not_declaring
from labelsvc.operations.when import bounds

Reach = Literal["mass", "tub", "slicer", "room"]


@dataclass(frozen=True)
class Suspicion:
    """What a recall search starts from; at least one of all but the last two.

    Args:
        lots: codes, markers, numbers or scanned symbols of lots.
        supplier: name of a supplier.
        ingredient: name of an ingredient.
        first: first day.
        last: last day, inclusive.
        place: a room, tub, packing session or slicer.
        undeclared: an allergen that went in although the label did not say so.
        customer: someone who had packs of it.
        recipe: a recipe that pieces were cured by.
        mark: an ear tag, herd mark or delivery number, which may lead to several lots.
        rule: a rule that labels relied on, by its id.
        dose_above: nitrite that went into a piece, as sodium nitrite in mg per kg of green weight.
        since_cleaning: of a place: only what was there since it was last cleaned (before ``last``).
        recipe_version: of a recipe: only what was cured by what it said then, 1 for its first version.
        reach: how far the search goes beyond the same mass.
    """

    lots: tuple[str, ...] = ()
    supplier: str | None = None
    ingredient: str | None = None
    first: dt.date | None = None
    last: dt.date | None = None
    place: str | None = None
    undeclared: str | None = None
    reach: Reach = "mass"
    customer: str | None = None
    recipe: str | None = None
    mark: str | None = None
    rule: str | None = None
    dose_above: Decimal | None = None
    since_cleaning: bool = False
    recipe_version: int | None = None

    def __post_init__(self) -> None:
        if not any(self._parts()) and self.dose_above is None:
            raise InputError("recall", "a lot, supplier, ingredient, place, allergen or dates to start from", "nothing")
        if self.first and self.last and self.last < self.first:
            raise InputError("to", f"a day not before {self.first}", str(self.last))
        if self.since_cleaning and not self.place:
            raise InputError("place", "the slicer or other thing that was cleaned", "nothing")
        if self.recipe_version is not None and not self.recipe:
            raise InputError("recipe", "the recipe whose version is asked for", "nothing")
        if self.recipe_version is not None and self.recipe_version < 1:
            raise InputError("recipe_version", "a number from 1 on, 1 for the first version", str(self.recipe_version))

    def _parts(self) -> tuple[object, ...]:
        named = (self.supplier, self.ingredient, self.place, self.undeclared, self.customer, self.recipe, self.mark, self.rule)
        return (self.lots, self.first, self.last, *named)


def fitting(connection: Connection, parts: Sequence[Sequence[int]]) -> list[int]:
    """Return the numbers of the lots that fit every part of a suspicion.

    Where it has several parts, a lot fits a part if the part names it or it was made of what the part names: "this salt, to
    that customer" are the packs that customer had with that salt in them.
    """
    if len(parts) == 1:
        return list(parts[0])
    reached = [downstream(connection, part) for part in parts]
    return sorted(set.intersection(*reached))


def downstream(connection: Connection, numbers: Collection[int]) -> set[int]:
    """Return lots with everything that was made of them."""
    return set(numbers).union(link.receiver for link in flows.links_forward(connection, sorted(numbers))) if numbers else set()


def notes(connection: Connection, suspicion: Suspicion, *, has_several_parts: bool) -> list[str]:
    """Say where nothing found may be a slip of the pen, or a search that asks for too much at once."""
    lookup = AsOf(connection, read.END_OF_TIME)
    named = (
        ("supplier", suspicion.supplier), ("ingredient", suspicion.ingredient), ("customer", suspicion.customer),
        ("recipe", suspicion.recipe),
    )  # fmt: skip
    said = [
        f"No {kind} of the name {name} is recorded: check the spelling."
        for kind, name in named
        if name and not lookup.card(kind, name)
    ]
    if suspicion.place and not read.matching(connection, place=suspicion.place):
        said.append(f"Nothing was ever at {suspicion.place}: check the spelling.")
    elif suspicion.since_cleaning and _cleaned(connection, suspicion) is None:
        said.append(f"No cleaning of {suspicion.place} is recorded: everything that ever was there is searched.")
    if suspicion.recipe:
        said += _versions(connection, suspicion.recipe)
    if has_several_parts:
        said.append("Only what fits every part of the search is its start: leave a part out to search wider.")
    return said


def _versions(connection: Connection, recipe: str) -> list[str]:
    """Say which versions of a recipe there are, so that one of them can be asked for."""
    known = search.versions_of(connection, recipe)
    since = ", ".join(f"{number} since {version.day}" for number, version in enumerate(known, start=1))
    return [f"{recipe} has {len(known)} versions: {since}."] if len(known) > 1 else []


def parts_of(connection: Connection, suspicion: Suspicion) -> Iterator[list[int]]:
    """Yield the numbers of the lots that each part of a suspicion names.

    Raises:
        CodeError, NotFoundError: no such lot; InputError: no allergen of the law.
    """
    if suspicion.lots:
        found = [read.find(connection, lot_code_in(text), "lot") for text in suspicion.lots]
        yield [unit.number for lot in found for unit in read.units_of(connection, lot)]
    if suspicion.undeclared is not None:
        yield packs_not_declaring(connection, suspicion.undeclared)
    yield from _received_or_placed(connection, suspicion)
    for text, find in (
        (suspicion.customer, search.went_to), (suspicion.mark, search.marked), (suspicion.rule, search.relied_on),
    ):  # fmt: skip
        if text:
            yield find(connection, text)
    if suspicion.recipe:
        yield search.cured_by(connection, suspicion.recipe, suspicion.recipe_version)
    if suspicion.dose_above is not None:
        yield _dosed_above(connection, suspicion.dose_above)


def _received_or_placed(connection: Connection, suspicion: Suspicion) -> Iterator[list[int]]:
    """Supplier and ingredient together name one delivery; dates are those of the place where one is given."""
    begins, ends = _instants(connection, suspicion)
    delivery = {"supplier": suspicion.supplier, "ingredient": suspicion.ingredient}
    if suspicion.place:
        if any(delivery.values()):
            yield read.matching(connection, **delivery)
        begins = (_cleaned(connection, suspicion) or begins) if suspicion.since_cleaning else begins
        yield read.matching(connection, place=suspicion.place, begins=begins, ends=ends)
    elif any((*delivery.values(), begins, ends)):
        yield read.matching(connection, **delivery, begins=begins, ends=ends)


def _cleaned(connection: Connection, suspicion: Suspicion) -> str | None:
    return search.last_cleaned(connection, suspicion.place or "", _instants(connection, suspicion)[1])


def _instants(connection: Connection, suspicion: Suspicion) -> tuple[str | None, str | None]:
    zone = zone_of(connection)
    begins = bounds(suspicion.first, zone)[0] if suspicion.first else None
    return begins, bounds(suspicion.last, zone)[1] if suspicion.last else None


def _dosed_above(connection: Connection, limit: Decimal) -> list[int]:
    lookup = AsOf(connection, read.END_OF_TIME)

    def card_of(name: str) -> facts.Ingredient | None:
        return cast("facts.Ingredient | None", lookup.card("ingredient", name))

    return [
        piece.number
        for piece in search.cured_pieces(connection)
        if ingoing_into(piece.state, card_of).as_salt(SODIUM_NITRITE) > limit
    ]
