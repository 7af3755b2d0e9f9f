"""Which lots met: the same tub, room, packing session or machine, at the same time or between two cleanings."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import Any, NamedTuple

from sqlalchemy import ColumnElement, Connection, and_, func, or_, select

from labelsvc.ledger.among import among
from labelsvc.ledger.tables import contacts, effective, timeline


class Met(NamedTuple):
    """A lot that was in the same tub, room or session as another, at the same time."""

    number: int
    thing: str
    kind: str
    begins: str
    ends: str | None


def met(
    connection: Connection,
    numbers: Collection[int],
    kinds: Sequence[str] = ("tub", "room", "session", "slicer", "machine"),
    ends_at: str = "",
) -> list[Met]:
    """Return the lots that were where one of these lots was, at the same time; the lots themselves left out.

    Args:
        connection: where to look.
        numbers: the lots.
        kinds: of the things they may have met at.
        ends_at: ``clean`` or ``allergen-clean``: what stays on a slicer reaches everything on it until it is next cleaned so,
            and may itself be from before. Nothing: only the very same moment counts.
    """
    theirs = contacts.alias()
    overlap = and_(
        or_(theirs.c.ends.is_(None), theirs.c.ends >= contacts.c.begins),
        or_(contacts.c.ends.is_(None), contacts.c.ends >= theirs.c.begins),
    )
    if ends_at:
        carries = contacts.c.kind.in_(("slicer", "machine"))
        last, following = (_cleaned(contacts, ends_at, is_before=before) for before in (True, False))
        one_run = and_(or_(last.is_(None), theirs.c.begins >= last), or_(following.is_(None), theirs.c.begins < following))
        overlap = or_(and_(~carries, overlap), and_(carries, one_run))
    rows = (
        select(theirs.c.lot, theirs.c.thing, theirs.c.kind, theirs.c.begins, theirs.c.ends)
        .select_from(contacts)
        .join(theirs, and_(theirs.c.kind == contacts.c.kind, theirs.c.thing == contacts.c.thing, overlap))
        .where(among(contacts.c.lot, numbers), ~among(theirs.c.lot, numbers), _unindexed(contacts.c.kind).in_(kinds))
        .distinct()
        .order_by(theirs.c.lot, theirs.c.begins)
    )
    return [Met(*row) for row in connection.execute(rows)]


def _unindexed(column: ColumnElement[str]) -> ColumnElement[str]:
    """A column that looks different to a planner: a few kinds are a poor place to start a search from."""
    return column + ""


def _cleaned(stay: Any, how: str, *, is_before: bool) -> ColumnElement[str | None]:
    """When the thing of a stay was last cleaned before it, or next cleaned after it."""
    nearest = func.max if is_before else func.min
    of_thing = and_(timeline.c.subject == "watch/" + stay.c.thing, effective.c.kind == "clean")
    side = timeline.c.at <= stay.c.begins if is_before else timeline.c.at > stay.c.begins
    cleanings = select(nearest(timeline.c.at)).join(effective, effective.c.fact == timeline.c.fact).where(of_thing, side)
    if how == "allergen-clean":
        cleanings = cleanings.where(effective.c.body.contains('"allergen_clean":true'))
    return cleanings.correlate(stay).scalar_subquery()
