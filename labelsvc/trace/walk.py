"""Shares and steps along the chain: how much of one lot is in another, and how many movements lie between them.

A lot is taken as well mixed: what leaves it carries its ancestors in the proportion in which they came in.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from typing import NamedTuple

_FINE = 10**9  # parts of a milligram that a share is given in
_ALL = 10_000  # hundredths of a percent
_HALF = 10**6 // 2  # of it, to round by
_GUARD = 10**6  # further parts while walking, so that what each division leaves behind never shows


class Link(NamedTuple):
    """So many milligrams of one lot went into another; lots by number."""

    giver: int
    receiver: int
    milligrams: int


class Reached(NamedTuple):
    """One lot on the way: the fewest movements to it, and what it shares with the lots asked about.

    Args:
        steps: movements.
        milligrams: shared, whole ones, half up: the resolution of the ledger.
        hundredths: the same in hundredths of a percent of all that came into it, half up; never over 10,000, and that
            where nothing came in.
    """

    steps: int
    milligrams: int
    hundredths: int


def forward(roots: Mapping[int, int], links: Iterable[Link], came_in: Mapping[int, int]) -> dict[int, Reached]:
    """Return every lot that something of some lots went into, these among them at 0 steps; their shares add up.

    Args:
        roots: the lots asked about, none made of another, with all milligrams that ever went into each.
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
        roots: the lots asked about, none made of another, with all milligrams that ever went into each.
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
    steps = dict.fromkeys(roots, 0)
    waits = dict.fromkeys(roots, 0)  # links that still have to bring their part
    for lot in (order := list(steps)):  # nearest first; it grows while it is read
        for far, _ in near.get(lot, ()):
            if far in steps:
                waits[far] += 1
            else:
                steps[far], waits[far] = steps[lot] + 1, 1
                order.append(far)
    amounts = dict.fromkeys(order, 0) | {root: milligrams * _FINE * _GUARD for root, milligrams in roots.items()}
    ready = [root for root in roots if not waits[root]]
    while ready:
        lot = ready.pop()
        amount, whole = amounts[lot], max(came_in.get(lot, 0), 1)
        for far, milligrams in near.get(lot, ()):
            amounts[far] += amount * milligrams // whole
            waits[far] -= 1
            if not waits[far]:
                ready.append(far)
    return {lot: _reached(count, (amounts[lot] + _HALF) // _GUARD, came_in.get(lot, 0) * _FINE) for lot, count in steps.items()}


def _reached(steps: int, fine: int, whole: int) -> Reached:
    """Round what was shared, in parts of a milligram, of so many parts of a milligram that came in."""
    hundredths = min((2 * _ALL * fine + whole) // (2 * whole), _ALL) if whole else _ALL
    return Reached(steps, (2 * fine + _FINE) // (2 * _FINE), hundredths)
