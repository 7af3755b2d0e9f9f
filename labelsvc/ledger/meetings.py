"""Which lots met: the same tub, room, packing session or machine, at the same time or between two cleanings."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from functools import cache
from typing import Any, NamedTuple

from sqlalchemy import ColumnElement, CompoundSelect, Connection, Select, and_, func, not_, or_, select, union

from labelsvc.ledger.among import among_given
from labelsvc.ledger.tables import contacts, effective, timeline

_FOR_EVER = 4_000_000  # days: past the year 9999
_THEIRS = contacts.alias("theirs")


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
    asked = _meeting(tuple(kinds), ends_at)
    own = set(numbers)
    found = {Met(*row) for row in connection.execute(asked, {"numbers": numbers}).all() if row[0] not in own}
    return sorted(found, key=lambda one: (one.number, one.begins))


@cache
def _meeting(kinds: tuple[str, ...], ends_at: str) -> CompoundSelect[Any]:
    """The question, put together once: that takes as long as a small answer."""
    mine = (
        select(contacts.c.kind, contacts.c.thing, contacts.c.begins, contacts.c.ends, contacts.c.first_day, contacts.c.days)
        .where(among_given(contacts.c.lot, "numbers"), _unindexed(contacts.c.kind).in_(kinds))
        .distinct()
        .subquery("mine")
    )
    carries = mine.c.kind.in_(("slicer", "machine"))
    ways = [_ended(mine), _lasting(mine)]
    if ends_at:
        ways = [*(way.where(not_(carries)) for way in ways), _one_run(mine, ends_at).where(carries)]
    return union(*ways)


def _at_the_same(mine: Any, *when: ColumnElement[bool]) -> Select[Any]:
    """The stays at the things of ours, as far as they fit."""
    theirs = _THEIRS.c
    rows = select(theirs.lot, theirs.thing, theirs.kind, theirs.begins, theirs.ends).select_from(mine)
    return rows.join(_THEIRS, and_(theirs.kind == mine.c.kind, theirs.thing == mine.c.thing, *when))


def _ended(mine: Any) -> Select[Any]:
    """Stays that are over and met one of ours: none began longer before it than the longest stay at that thing lasted."""
    stay = contacts.alias()
    longest = select(func.max(stay.c.days)).where(stay.c.kind == mine.c.kind, stay.c.thing == mine.c.thing)
    return _at_the_same(
        mine,
        _THEIRS.c.first_day >= mine.c.first_day - longest.correlate(mine).scalar_subquery(),
        _THEIRS.c.first_day <= mine.c.first_day + func.coalesce(mine.c.days, _FOR_EVER),
        _THEIRS.c.ends >= mine.c.begins,
        or_(mine.c.ends.is_(None), mine.c.ends >= _THEIRS.c.begins),
    )


def _lasting(mine: Any) -> Select[Any]:
    """Stays that last, and had begun before ours ended."""
    return _at_the_same(mine, _THEIRS.c.ends.is_(None), or_(mine.c.ends.is_(None), mine.c.ends >= _THEIRS.c.begins))


def _one_run(mine: Any, how: str) -> Select[Any]:
    """What was on a machine between the same two cleanings."""
    last, following = (_cleaned(mine, how, is_before=before) for before in (True, False))
    since = _THEIRS.c.begins >= func.coalesce(last, "")
    return _at_the_same(mine, since, or_(following.is_(None), _THEIRS.c.begins < following))


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
