"""Instants and days: the ledger keeps UTC, people think in days of the workshop's time zone."""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

from labelsvc.errors import InputError
from labelsvc.ledger.derive.bench import INSTANT

_EXPECTED = "a day such as 2026-03-02 or a time such as 2026-03-02T08:15"


def instant(moment: dt.datetime) -> str:
    """Return an instant in UTC with fixed width, so that text order is time order."""
    return moment.astimezone(dt.UTC).strftime(INSTANT)


def happened(at: str | None, now: dt.datetime, zone: ZoneInfo) -> tuple[str, dt.date]:
    """Return the instant and the workshop's day of a fact.

    A bare day that is today means now. A bare day in the past stands at the end of that day, so that it follows what was
    recorded on the day itself; several such facts keep the order in which they were recorded.

    Args:
        at: ISO 8601 day or time, or None for now; a time without offset is the workshop's.
        now: the present, with a time zone.
        zone: the workshop's time zone.

    Raises:
        InputError: not a date, or after today.
    """
    today = now.astimezone(zone).date()
    if at is None:
        return instant(now), today
    moment = _moment(at.strip(), now, zone)
    day = moment.astimezone(zone).date()
    if day > today:
        raise InputError("at", f"no later than today, {today}", at)
    return instant(moment), day


def _moment(at: str, now: dt.datetime, zone: ZoneInfo) -> dt.datetime:
    try:
        if len(at) == 10:
            day = dt.date.fromisoformat(at)
            if day == now.astimezone(zone).date():
                return now
            return dt.datetime.combine(day, dt.time(23, 59, 59, 999_000), zone)
        moment = dt.datetime.fromisoformat(at)
    except ValueError:
        raise InputError("at", _EXPECTED, at) from None
    return moment if moment.tzinfo else moment.replace(tzinfo=zone)
