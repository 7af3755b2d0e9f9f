"""Instants and days: the ledger keeps UTC, people think in days of the workshop's time zone."""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

from labelsvc.errors import InputError
from labelsvc.ledger.derive.bench import INSTANT

_FIRST, _LAST = dt.date(1900, 1, 1), dt.date(9000, 1, 1)  # of days that are looked for: no time zone leads out of the calendar
_EXPECTED = "a day such as 2026-03-02 or a time such as 2026-03-02T08:15"


def instant(moment: dt.datetime) -> str:
    """Return an instant in UTC with fixed width, so that text order is time order."""
    return moment.astimezone(dt.UTC).strftime(INSTANT)


def happened(at: str | None, now: dt.datetime, zone: ZoneInfo) -> tuple[str, dt.date]:
    """Return the instant and the workshop's day of a fact.

    A bare day that is today means now; a bare day in the past is its beginning (``recording`` puts it after what is known of
    that day).

    Args:
        at: ISO 8601 day or time, or None for now; a time without offset is the workshop's.
        now: the present, with a time zone.
        zone: the workshop's time zone.

    Raises:
        InputError: not a date, after today, or before this century.
    """
    today = now.astimezone(zone).date()
    if at is None:
        return instant(now), today
    moment = _moment(at.strip(), now, zone)
    day = moment.astimezone(zone).date()
    if day > today:
        raise InputError("at", f"no later than today, {today}", at)
    if day < dt.date(2000, 1, 1):
        raise InputError("at", "a day of this century", at)
    return instant(moment), day


def _beginning(day: dt.date, zone: ZoneInfo) -> dt.datetime:
    """The first moment that is that day both in the workshop and in UTC, so that an export shows the day that was said."""
    return max(dt.datetime.combine(day, dt.time(), one) for one in (zone, dt.UTC))


def bounds(day: dt.date, zone: ZoneInfo) -> tuple[str, str]:
    """Return the instants at which a day of the workshop begins and the next one begins."""
    day = min(max(day, _FIRST), _LAST)
    return instant(dt.datetime.combine(day, dt.time(), zone)), instant(
        dt.datetime.combine(day + dt.timedelta(days=1), dt.time(), zone)
    )


def is_bare_day(at: str) -> bool:
    """Tell whether a time is given as a day only."""
    return len(at.strip()) == len("2026-03-02")


def _moment(at: str, now: dt.datetime, zone: ZoneInfo) -> dt.datetime:
    try:
        moment = dt.datetime.fromisoformat(at)
    except ValueError:
        raise InputError("at", _EXPECTED, at) from None
    if not _FIRST <= moment.date() <= _LAST:
        raise InputError("at", "a day of this century", at)
    if is_bare_day(at):
        return now if moment.date() == now.astimezone(zone).date() else _beginning(moment.date(), zone)
    return moment if moment.tzinfo else moment.replace(tzinfo=zone)
