"""Reads what flowed: links walked from some lots, what went in and out of them, and who got it; one query a question."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

from sqlalchemy import (
    ColumnElement,
    CompoundSelect,
    Connection,
    Row,
    Select,
    and_,
    func,
    not_,
    null,
    or_,
    select,
    union_all,
)

from labelsvc.ledger.among import among, among_given
from labelsvc.ledger.tables import effective, links, lots, postings
from labelsvc.trace.balance import Line
from labelsvc.trace.walk import Link


def links_forward(connection: Connection, seeds: Collection[int]) -> list[Link]:
    """Return every link whose giver is one of the lots or reached from them."""
    return [Link(*row) for row in connection.execute(_FORWARD, {"seeds": seeds}).all()]


def links_back(connection: Connection, seeds: Collection[int]) -> list[Link]:
    """Return every link whose receiver is one of the lots or leads to them."""
    return [Link(*row) for row in connection.execute(_BACK, {"seeds": seeds}).all()]


def came_in(connection: Connection, numbers: Collection[int]) -> dict[int, int]:
    """Return all milligrams that ever went into each lot: from suppliers, from other lots, and found by weighing.

    What comes back from a buyer went in before, when the pack was made.
    """
    rows = connection.execute(_CAME_IN, {"numbers": numbers}).all() if numbers else ()
    return {number: int(milligrams) for number, milligrams in rows}


def moved(connection: Connection, numbers: Collection[int]) -> tuple[int, dict[str, int]]:
    """Return what came into a set of lots by the flows that added to it, and what left it by the others, by kind of end.

    Both in milligrams, over everything that ever happened; with nothing kept from each flow but its sum, however many there are.
    """
    rows = connection.execute(_MOVED, {"numbers": numbers, "others": numbers}).all() if numbers else ()
    found = {kind: int(milligrams or 0) for kind, milligrams in rows}
    return found.pop(None, 0), found


def lines_touching(connection: Connection, numbers: Collection[int]) -> list[Line]:
    """Return every posting of every flow that touches one of the lots, in the order in which things happened."""
    touched = select(postings.c.fact, postings.c.flow).where(among(postings.c.lot, numbers)).distinct().subquery()
    rows = (
        select(postings.c.fact, postings.c.flow, postings.c.kind, postings.c.lot, postings.c.milligrams)
        .join(touched, and_(postings.c.fact == touched.c.fact, postings.c.flow == touched.c.flow))
        .join(effective, effective.c.fact == postings.c.fact)
        .order_by(effective.c.at, postings.c.fact, postings.c.flow, postings.c.id)
    )
    return [Line(*row) for row in connection.execute(rows)]


def handed_over(connection: Connection, numbers: Collection[int] | None) -> list[Row[Any]]:
    """Return who got which of the lots (of all lots where None), in time order.

    Returns:
        Rows of lot, account, kind and name of the end, milligrams (negative came back), day, body and number of the fact.
    """
    if numbers is None:
        return list(connection.execute(_HANDED_OVER.where(postings.c.lot.is_not(None))).all())
    return list(connection.execute(_HANDED_OVER_OF, {"numbers": numbers}).all()) if numbers else []


def _handed_over() -> Select[Any]:
    ends = postings.alias()
    return (
        select(
            postings.c.lot, postings.c.account, ends.c.kind, ends.c.account.label("name"),
            (-postings.c.milligrams).label("milligrams"),
            effective.c.day, effective.c.body, effective.c.fact,
        )
        .join(ends, and_(ends.c.fact == postings.c.fact, ends.c.flow == postings.c.flow))
        .join(effective, effective.c.fact == postings.c.fact)
        .where(ends.c.kind.in_(("customer", "gift", "own use", "sample")))
        .order_by(effective.c.at, effective.c.fact, postings.c.lot)
    )  # fmt: skip


def _reached(near: ColumnElement[int], far: ColumnElement[int]) -> Select[Any]:
    """The links that lead on from the given seeds, each once."""
    start = select(lots.c.id).where(among_given(lots.c.id, "seeds")).cte("reach", recursive=True)
    reach = start.union(select(far).join(start, near == start.c.id))
    return select(links.c.giver, links.c.receiver, links.c.milligrams).join(reach, near == reach.c.id)


def _came_in() -> Select[Any]:
    lines = postings.alias()
    same_flow = and_(lines.c.fact == postings.c.fact, lines.c.flow == postings.c.flow)
    from_buyer = and_(lines.c.kind.in_(("customer", "gift")), lines.c.milligrams < 0)
    returned = select(lines.c.id).where(same_flow, from_buyer)
    mine = and_(among_given(postings.c.lot, "numbers"), postings.c.milligrams > 0, ~returned.exists())
    return select(postings.c.lot, func.sum(postings.c.milligrams)).where(mine).group_by(postings.c.lot)


def _moved() -> CompoundSelect[Any]:
    """One row without a kind for what came in, and one for each kind of end that something went to."""
    net = func.sum(postings.c.milligrams).label("net")
    mine = among_given(postings.c.lot, "numbers")
    flows = select(postings.c.fact, postings.c.flow, net).where(mine).group_by(postings.c.fact, postings.c.flow).cte("flows")
    is_end = or_(postings.c.lot.is_(None), not_(among_given(postings.c.lot, "others")))
    left = (
        select(postings.c.kind, func.sum(postings.c.milligrams))
        .join(flows, and_(flows.c.fact == postings.c.fact, flows.c.flow == postings.c.flow))
        .where(flows.c.net < 0, is_end)
        .group_by(postings.c.kind)
    )
    return union_all(select(null(), func.sum(flows.c.net)).where(flows.c.net > 0), left)


# Made once: putting a statement together costs as much as a small answer.
_FORWARD = _reached(links.c.giver, links.c.receiver)
_BACK = _reached(links.c.receiver, links.c.giver)
_CAME_IN = _came_in()
_MOVED = _moved()
_HANDED_OVER = _handed_over()
_HANDED_OVER_OF = _HANDED_OVER.where(among_given(postings.c.lot, "numbers"))
