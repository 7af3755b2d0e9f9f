"""A clock that was set back makes what happens now seem to happen before what it follows: said where it shows."""

from __future__ import annotations

import datetime as dt

from labelsvc.errors import InputError, StorageError
from labelsvc.ledger.append import last_recorded
from labelsvc.ledger.database import Connection
from labelsvc.operations.when import instant


def behind(connection: Connection, now: dt.datetime) -> str:
    """Return what to say where the clock of this machine is behind the last fact, or nothing."""
    last = last_recorded(connection)
    if last is None or last <= instant(now):
        return ""
    return (
        f"The clock of this machine says {instant(now)}, but the last fact was recorded at {last}: "
        "put the clock right, or say when it happened."
    )


def also(error: InputError, connection: Connection, now: dt.datetime) -> InputError:
    """Return the error with what is to be said of the clock."""
    if isinstance(error, StorageError):
        return error  # the database answers no more
    hint = f"{error.hint} {behind(connection, now)}".strip()
    return type(error)(error.field, error.expected, error.got, hint)
