"""Shares and steps along the chain: how much of one lot is in another, and how many movements lie between them.

A lot is taken as well mixed: what leaves it carries its ancestors in the proportion in which they came in.
"""

from __future__ import annotations

from collections import defaultdict, deque
from collections.abc import Callable, Iterable, Mapping, Sequence
from decimal import Decimal, localcontext
from typing import NamedTuple


class Link(NamedTuple):
    """So many milligrams of one lot went into another; lots by number."""

    giver: int
    receiver: int
    milligrams: int


_ABOVE = 0  # stands over several roots; lots are numbered from 1
_End = Callable[[Link], int]


class Reached(NamedTuple):
    """One lot on the way: the fewest movements to it, and the milligrams shared with the lot asked about."""

    steps: int
    milligrams: Decimal


def forward(root: int, root_milligrams: int, links: Sequence[Link], came_in: Mapping[int, int]) -> dict[int, Reached]:
    """Return every lot that something of the root went into.

    Args:
        root: the lot asked about.
        root_milligrams: what it weighed when it began.
        links: all links whose givers are the root or reached from it.
        came_in: for the root and each receiver, all milligrams that ever went into it from anywhere.

    Returns:
        By lot number: steps, and milligrams of the root in it; the root left out.
    """
    return _spread(root, root_milligrams, links, came_in, lambda link: link.giver, lambda link: link.receiver)


def back(root: int, root_milligrams: int, links: Sequence[Link], came_in: Mapping[int, int]) -> dict[int, Reached]:
    """Return every lot of which something is in the root.

    Args:
        root: the lot asked about.
        root_milligrams: what it weighed when it began.
        links: all links whose receivers are the root or lead to it.
        came_in: for each receiver, all milligrams that ever went into it from anywhere.

    Returns:
        By lot number: steps, and milligrams of that lot in the root; the root left out.
    """
    return _spread(root, root_milligrams, links, came_in, lambda link: link.receiver, lambda link: link.giver)


def from_several(roots: Mapping[int, int], links: Sequence[Link], came_in: Mapping[int, int]) -> dict[int, Reached]:
    """Return every lot that something of several lots went into, these among them at 0 steps; their shares add up.

    Args:
        roots: the lots asked about, none made of another, with what each weighed in milligrams when it began.
        links: all links whose givers are the roots or reached from them.
        came_in: for the roots and each receiver, all milligrams that ever went into it from anywhere.
    """
    above = [Link(_ABOVE, root, milligrams) for root, milligrams in roots.items()]
    total = sum(roots.values())
    reached = forward(_ABOVE, total, [*above, *links], {**came_in, _ABOVE: total})
    return {lot: Reached(one.steps - 1, one.milligrams) for lot, one in reached.items()}


def _spread(
    root: int, root_milligrams: int, links: Sequence[Link], came_in: Mapping[int, int], near: _End, far: _End
) -> dict[int, Reached]:
    """Share the root out over the links, near end to far end: a link carries its part of all that came into the near lot."""
    amounts: dict[int, Decimal] = defaultdict(Decimal, {root: Decimal(root_milligrams)})
    by_near = _grouped(links, near)
    with localcontext() as context:
        context.prec = 40
        for lot in _in_order(root, by_near, far):
            for link in by_near.get(lot, ()):
                amounts[far(link)] += amounts[lot] * link.milligrams / max(came_in[lot], 1)
    steps = _steps(root, by_near, far)
    return {lot: Reached(steps[lot], amounts[lot]) for lot in steps if lot != root}


def _grouped(links: Iterable[Link], key: _End) -> dict[int, list[Link]]:
    groups: dict[int, list[Link]] = defaultdict(list)
    for link in links:
        groups[key(link)].append(link)
    return groups


def _in_order(root: int, groups: Mapping[int, Sequence[Link]], far: _End) -> list[int]:
    """Return the lots so that each comes after all that lead to it (reverse of the finishing order, without recursion)."""
    done: dict[int, None] = {}
    seen = {root}
    stack = [(root, iter(groups.get(root, ())))]
    while stack:
        lot, rest = stack[-1]
        following = next((far(link) for link in rest if far(link) not in seen), None)
        if following is None:
            done[lot] = None
            stack.pop()
        else:
            seen.add(following)
            stack.append((following, iter(groups.get(following, ()))))
    return list(reversed(done))


def _steps(root: int, groups: Mapping[int, Sequence[Link]], far: _End) -> dict[int, int]:
    steps = {root: 0}
    queue = deque([root])
    while queue:
        lot = queue.popleft()
        for link in groups.get(lot, ()):
            if far(link) not in steps:
                steps[far(link)] = steps[lot] + 1
                queue.append(far(link))
    return steps
