"""Shares and steps along the chain: how much of one lot is in another, and how many movements lie between them.

A lot is taken as well mixed: what leaves it carries its ancestors in the proportion in which they came in.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import NamedTuple

_FINE = 10**9  # parts of a milligram that a share is given in
_GUARD = 10**6  # further parts while walking, so that what each division leaves behind never shows


class Link(NamedTuple):
    """So many milligrams of one lot went into another; lots by number."""

    giver: int
    receiver: int
    milligrams: int


class Reached(NamedTuple):
    """One lot on the way: the fewest movements to it, and what it shares with the lots asked about in parts of a milligram."""

    steps: int
    fine: int

    @property
    def milligrams(self) -> int:
        """Whole milligrams, half up: the resolution of the ledger."""
        return (2 * self.fine + _FINE) // (2 * _FINE)

    def percent_of(self, milligrams: int) -> Decimal:
        """Return the share in so many milligrams, in percent to two places, half up; never over 100."""
        whole = milligrams * _FINE
        return Decimal(min((20_000 * self.fine + whole) // (2 * whole), 10_000)).scaleb(-2)


def forward(roots: Mapping[int, int], links: Iterable[Link], came_in: Mapping[int, int]) -> dict[int, Reached]:
    """Return every lot that something of some lots went into, these among them at 0 steps; their shares add up.

    Args:
        roots: the lots asked about, none made of another, with what each weighed in milligrams when it began.
        links: all links whose givers are the roots or reached from them; others do no harm.
        came_in: by lot number, all milligrams that ever went into each giver from anywhere.
    """
    near: dict[int, list[tuple[int, int]]] = defaultdict(list)
    for giver, receiver, milligrams in links:
        near[giver].append((receiver, milligrams))
    return _spread(roots, near, came_in)


def back(roots: Mapping[int, int], links: Iterable[Link], came_in: Mapping[int, int]) -> dict[int, Reached]:
    """Return every lot of which something is in some lots, these among them at 0 steps; their shares add up.

    Args:
        roots: the lots asked about, none made of another, with what each weighed in milligrams when it began.
        links: all links whose receivers are the roots or lead to them; others do no harm.
        came_in: by lot number, all milligrams that ever went into each receiver from anywhere.
    """
    near: dict[int, list[tuple[int, int]]] = defaultdict(list)
    for giver, receiver, milligrams in links:
        near[receiver].append((giver, milligrams))
    return _spread(roots, near, came_in)


def _spread(
    roots: Mapping[int, int], near: Mapping[int, list[tuple[int, int]]], came_in: Mapping[int, int]
) -> dict[int, Reached]:
    """Share the roots out, near end to far end: a link carries its part of all that came into the near lot."""
    steps = _steps(roots, near)
    waits = defaultdict[int, int](int)  # links that still have to bring their part
    for lot in steps:
        for far, _ in near.get(lot, ()):
            waits[far] += 1
    amounts = defaultdict[int, int](int, {root: milligrams * _FINE * _GUARD for root, milligrams in roots.items()})
    ready = [root for root in roots if not waits[root]]
    while ready:
        lot = ready.pop()
        amount, whole = amounts[lot], max(came_in.get(lot, 0), 1)
        for far, milligrams in near.get(lot, ()):
            amounts[far] += amount * milligrams // whole
            waits[far] -= 1
            if not waits[far]:
                ready.append(far)
    return {lot: Reached(count, (amounts[lot] + _GUARD // 2) // _GUARD) for lot, count in steps.items()}


def _steps(roots: Iterable[int], near: Mapping[int, list[tuple[int, int]]]) -> dict[int, int]:
    """Return the fewest movements to each lot, nearest first."""
    steps = dict.fromkeys(roots, 0)
    for lot in (order := list(steps)):  # it grows while it is read
        for far, _ in near.get(lot, ()):
            if far not in steps:
                steps[far] = steps[lot] + 1
                order.append(far)
    return steps
