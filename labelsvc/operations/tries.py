"""Secrets that are typed are slowed down when wrong: some tries are free, then each wrong one waits longer.

A try is counted before it is looked at, so that many at once gain nothing; a right one sets the count back.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping

from labelsvc.errors import InputError
from labelsvc.ledger import tries
from labelsvc.ledger.database import Connection, Ledger
from labelsvc.ledger.tries import Tries

FREE_TRIES = 5  # wrong ones of a person before the first wait
FREE_FROM_ADDRESS = 20  # wrong ones from one address, behind which a whole workshop may stand
FIRST_WAIT = dt.timedelta(seconds=30)  # doubled with each further wrong one, up to the longest
LONGEST_WAIT = dt.timedelta(minutes=15)


def count_try(connection: Connection, field: str, keys: Mapping[str, int], now: dt.datetime, instead: str) -> dt.timedelta | None:
    """Count a try as wrong.

    Args:
        connection: the writer's; what it writes must be kept before the secret is looked at.
        field: what is typed, for the error.
        keys: who and from where, each with the number of its free tries.
        now: the present, with a time zone.
        instead: what else the person may do, such as "or scan the badge".

    Returns:
        How long the next one waits if this one is wrong, or None.

    Raises:
        InputError: too early.
    """
    before = {key: tries.tries_of(connection, key) for key in keys}
    for one in before.values():
        if one.wait_until is not None and now < one.wait_until:
            hint = f"{one.wrong} wrong {'PIN' if field == 'pin' else field}s: wait{instead}."
            raise InputError(field, f"a try in {said(one.wait_until - now)}", "one now", hint)
    waits = {key: _wait_after(before[key].wrong + 1, free) for key, free in keys.items()}
    for key, wait in waits.items():
        tries.keep_tries(connection, key, now, Tries(before[key].wrong + 1, now + wait if wait else None))
    return max((wait for wait in waits.values() if wait), default=None)


def set_back(ledger: Ledger, *keys: str) -> None:
    """Begin to count anew, after a right one."""
    with ledger.writing() as connection:
        tries.forget_tries(connection, keys)


def said(wait: dt.timedelta) -> str:
    """Return a wait in words."""
    seconds = max(1, round(wait.total_seconds()))
    if seconds < 90:
        return f"{seconds} second{'' if seconds == 1 else 's'}"
    return f"{round(seconds / 60)} minutes"


def _wait_after(wrong: int, free: int) -> dt.timedelta | None:
    doublings = wrong - free
    return min(FIRST_WAIT * 2 ** min(doublings, 10), LONGEST_WAIT) if doublings >= 0 else None
