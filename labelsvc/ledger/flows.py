"""Reads what flowed: links walked from some lots, what went in and out of them, and who got it; one query a question."""

from __future__ import annotations

import datetime as dt
import json
from collections import Counter
from collections.abc import Collection, Sequence
from typing import Any, cast

from sqlalchemy import (
    CTE,
    ColumnElement,
    CompoundSelect,
    Connection,
    Row,
    Select,
    and_,
    case,
    func,
    not_,
    null,
    or_,
    select,
    union_all,
)

from labelsvc.ledger.among import among, among_given
from labelsvc.ledger.derive.bench import card_key, card_subject
from labelsvc.ledger.tables import effective, handed_over, links, lots, postings, timeline
from labelsvc.trace.balance import Line
from labelsvc.trace.walk import Link


def links_forward(connection: Connection, seeds: Collection[int]) -> list[Link]:
    """Return every link whose giver is one of the lots or reached from them."""
    return cast("list[Link]", connection.execute(_FORWARD, {"seeds": seeds}).all())  # its rows read like links


def links_back(connection: Connection, seeds: Collection[int]) -> list[Link]:
    """Return every link whose receiver is one of the lots or leads to them."""
    return cast("list[Link]", connection.execute(_BACK, {"seeds": seeds}).all())


def reached_forward(connection: Connection, seeds: Collection[int]) -> list[int]:
    """Return the numbers of some lots and of all that was made of them, oldest first."""
    return sorted(connection.execute(_REACHED, {"seeds": seeds}).scalars()) if seeds else []


def ingredient_cards_behind(connection: Connection, codes: Collection[str]) -> list[dict[str, Any]]:
    """Return the cards, as they stand, of the ingredients that went into some lots."""
    rows = connection.execute(_CARDS_BEHIND, {"codes": codes})
    return [json.loads(state) for state in {row.subject: row.state for row in rows}.values()]


def made_of(connection: Connection, numbers: Collection[int], givers: Collection[int]) -> set[int]:
    """Return those of some lots that one of the givers went into directly."""
    return set(connection.execute(_MADE_OF, {"numbers": numbers, "givers": givers}).scalars()) if numbers else set()


def takers_of(connection: Connection, numbers: Collection[int]) -> Sequence[Row[Any]]:
    """Return who still has something of some lots: kind and name of the end, packs, milligrams, first and last day."""
    return connection.execute(_TAKERS, {"numbers": numbers}).all() if numbers else ()


def moved(connection: Connection, numbers: Collection[int]) -> tuple[int, dict[str, int]]:
    """Return what came into a set of lots by the flows that added to it, and what left it by the others, by kind of end.

    Both in milligrams, over everything that ever happened; with nothing kept from each flow but its sum, however many there are.
    """
    rows = connection.execute(_MOVED, {"numbers": numbers, "others": numbers}).all() if numbers else ()
    found = Counter[str | None]()
    for kind, milligrams in rows:
        found[kind] += int(milligrams or 0)
    return found.pop(None, 0), {str(kind): milligrams for kind, milligrams in found.items()}


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


def handed_over_of(connection: Connection, numbers: Collection[int]) -> Sequence[Row[*tuple[Any, ...]]]:
    """Return who got which of the lots, in time order.

    Returns:
        Rows of lot, account, kind and name of the end, milligrams (negative came back), day, document and number of the fact.
    """
    return connection.execute(_HANDED_OVER_OF, {"numbers": numbers}).all() if numbers else ()


def every_handing_over(
    connection: Connection, *, name: str | None = None, days: tuple[dt.date, dt.date] | None = None
) -> Sequence[Row[*tuple[Any, ...]]]:
    """Return who got which of all lots, in time order: rows as of ``handed_over_of``.

    Args:
        connection: where.
        name: only what went to that name, however it is written.
        days: only what went from the first to the last of these days.
    """
    wanted = _HANDED_OVER if name is None else _HANDED_OVER.where(handed_over.c.name_key == card_key(name))
    if days is not None:
        first, last = days
        wanted = wanted.where(handed_over.c.day >= first.isoformat(), handed_over.c.day <= last.isoformat())
    return connection.execute(wanted).all()


def _takers() -> Select[Any]:
    """What came back is taken off again, pack by pack."""
    packs = func.sum(case((handed_over.c.milligrams > 0, 1), else_=-1))
    left = func.sum(handed_over.c.milligrams)
    days = func.min(handed_over.c.day), func.max(handed_over.c.day)
    rows = select(handed_over.c.kind, handed_over.c.name, packs, left, *days).where(among_given(handed_over.c.lot, "numbers"))
    return rows.group_by(handed_over.c.kind, handed_over.c.name).having(left > 0).order_by(left.desc(), handed_over.c.name)


def _reached(near: ColumnElement[int], far: ColumnElement[int]) -> Select[Any]:
    """The links that lead on from the given seeds, each once."""
    reach = _reach(near, far)
    return select(links.c.giver, links.c.receiver, links.c.milligrams).join(reach, near == reach.c.id)


def _reach(near: ColumnElement[int], far: ColumnElement[int]) -> CTE:
    start = select(lots.c.id).where(among_given(lots.c.id, "seeds")).cte("reach", recursive=True)
    return start.union(select(far).join(start, near == start.c.id))


def _cards_behind() -> Select[Any]:
    start = select(lots.c.id).where(among_given(lots.c.code, "codes")).cte("reach", recursive=True)
    reach = start.union(select(links.c.giver).join(start, links.c.receiver == start.c.id))
    names = select(card_subject("ingredient", "") + lots.c.ingredient_key).join(reach, lots.c.id == reach.c.id)
    mine = and_(timeline.c.subject.in_(names.where(lots.c.ingredient_key.is_not(None))), timeline.c.state.is_not(None))
    return select(timeline.c.subject, timeline.c.state).where(mine).order_by(timeline.c.at, timeline.c.fact)


def _moved() -> CompoundSelect[Any]:
    """Rows of a kind and a sum: without a kind what came in, else what went to that kind of end.

    A flow of one lot and one end counts as it stands; of a flow that more take part in, what the lots gave and got is netted.
    """
    mine, milligrams, end = among_given(postings.c.lot, "numbers"), postings.c.milligrams, postings.c.alone_with
    is_alone = end.is_not(None)
    alone = [
        select(null(), func.sum(milligrams)).where(mine, is_alone, milligrams > 0),
        select(end, -func.sum(milligrams)).where(mine, is_alone, milligrams < 0).group_by(end),
    ]
    flow = postings.c.fact, postings.c.flow
    net = func.sum(milligrams).label("net")
    shared = select(*flow, net).where(mine, end.is_(None)).group_by(*flow).cte("shared")
    others = postings.alias("others")
    is_other = or_(others.c.lot.is_(None), not_(among_given(others.c.lot, "others")))
    left = (
        select(others.c.kind, func.sum(others.c.milligrams))
        .join(shared, and_(shared.c.fact == others.c.fact, shared.c.flow == others.c.flow))
        .where(shared.c.net < 0, is_other)
        .group_by(others.c.kind)
    )
    return union_all(*alone, select(null(), func.sum(shared.c.net)).where(shared.c.net > 0), left)


# Made once: putting a statement together costs as much as a small answer.
_FORWARD = _reached(links.c.giver, links.c.receiver)
_BACK = _reached(links.c.receiver, links.c.giver)
_REACHED = select(_reach(links.c.giver, links.c.receiver).c.id)
_MADE_OF = (
    select(links.c.receiver).where(among_given(links.c.receiver, "numbers"), among_given(links.c.giver, "givers")).distinct()
)
_CARDS_BEHIND = _cards_behind()
_MOVED = _moved()
_TAKERS = _takers()
_HANDED_OVER: Select[Any] = select(
    handed_over.c.lot, handed_over.c.account, handed_over.c.kind, handed_over.c.name, handed_over.c.milligrams,
    handed_over.c.day, handed_over.c.document, handed_over.c.fact,
).order_by(handed_over.c.at, handed_over.c.fact, handed_over.c.lot)  # fmt: skip
_HANDED_OVER_OF = _HANDED_OVER.where(among_given(handed_over.c.lot, "numbers"))
