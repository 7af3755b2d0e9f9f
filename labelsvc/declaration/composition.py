"""What a lot was made of, by weight at the time of use: the recipe travels with the mass through the postings.

The law counts ingredients as they were put in (Regulation (EU) 1169/2011 Art 18(1), Annex VIII point 3(a)): drying, drip and
brine, and differences found by weighing take nothing of the recipe with them. What is scraped off an excess cure never went
in. Whatever else leaves a piece, packs and trim alike, takes its share of what is in the piece at that moment.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from decimal import Decimal, localcontext
from typing import NamedTuple

LOSSES = frozenset({"drying", "drip and brine", "count difference"})
WASHED = "wash and rub-off"


class Line(NamedTuple):
    """One line of a flow: a lot by number (None for a named end), the account's kind, milligrams; negative gives."""

    lot: int | None
    kind: str
    milligrams: int


Recipe = dict[int, Decimal]


def contents_of(targets: Collection[int], flows: Iterable[Sequence[Line]], sources: Collection[int]) -> dict[int, Recipe]:
    """Return what some lots were made of.

    Args:
        targets: lots to answer for.
        flows: every flow that touches a target or a lot on the way to one, in the order in which they happened.
        sources: the lots at the beginning of the chain (animals, parts, ingredients as received): made of themselves.

    Returns:
        For each target, exact milligrams put into it in all, by source; what was washed off is taken out again.
    """
    work = _Work(frozenset(sources))
    with localcontext() as context:
        context.prec = 40
        for flow in flows:
            work.move(flow)
    return {target: {source: amount for source, amount in work.put_in[target].items() if amount > 0} for target in targets}


class _Work:
    """Balances and recipes of the lots while the flows go by."""

    def __init__(self, sources: frozenset[int]) -> None:
        self._sources = sources
        self._balance: dict[int, int] = defaultdict(int)
        self._inside: dict[int, Recipe] = defaultdict(lambda: defaultdict(Decimal))
        self.put_in: dict[int, Recipe] = defaultdict(lambda: defaultdict(Decimal))
        self._put_on: dict[int, Recipe] = defaultdict(lambda: defaultdict(Decimal))  # by others than meat: it can be washed off

    def move(self, flow: Sequence[Line]) -> None:
        """Carry out one flow."""
        ends = {line.kind for line in flow if line.lot is None}
        moved: Recipe = defaultdict(Decimal)
        for line in flow:
            if line.lot is not None and line.milligrams < 0:
                self._give(line.lot, -line.milligrams, ends, moved)
        received = sum(line.milligrams for line in flow if line.milligrams > 0)
        is_put_on = any(line.kind == "ingredient" for line in flow if line.milligrams < 0)
        for line in flow:
            if line.milligrams > 0:
                self._take(line, received, moved, is_put_on=is_put_on)

    def _give(self, lot: int, milligrams: int, ends: Collection[str], moved: Recipe) -> None:
        if lot in self._sources:
            moved[lot] += milligrams
            return
        if WASHED in ends:
            self._wash(lot, milligrams)
        elif LOSSES.isdisjoint(ends) and self._balance[lot] > 0:
            share = Decimal(milligrams) / self._balance[lot]
            for source, amount in self._inside[lot].items():
                moved[source] += amount * share
                self._inside[lot][source] = amount * (1 - share)
        self._balance[lot] -= milligrams

    def _take(self, line: Line, received: int, moved: Mapping[int, Decimal], *, is_put_on: bool) -> None:
        lot = line.lot
        if lot is None or lot in self._sources:
            return
        share = Decimal(line.milligrams) / received
        for source, amount in moved.items():
            self._inside[lot][source] += amount * share
            self.put_in[lot][source] += amount * share
            if is_put_on:
                self._put_on[lot][source] += amount * share
        self._balance[lot] += line.milligrams

    def _wash(self, lot: int, milligrams: int) -> None:
        """What comes off is cure, in the proportions in which it was put on; it cannot be more than was."""
        put_on = self._put_on[lot]
        whole = sum(put_on.values())
        if whole <= 0:
            return
        share = min(Decimal(milligrams) / whole, Decimal(1))
        for source, amount in put_on.items():
            for recipe in (self._inside[lot], self.put_in[lot]):
                recipe[source] = max(recipe[source] - amount * share, Decimal(0))
            put_on[source] = amount * (1 - share)
