"""What a database driver says when it cannot go on, in words a person can act on."""

from __future__ import annotations

from typing import Any

from sqlalchemy.engine import ExceptionContext

from labelsvc.errors import LabelsvcError, LedgerIntegrityError, StorageError

AGAIN = "Nothing half is kept: send it again once that is put right."
# Part of what the driver says, what is expected, and what is found instead.
_TROUBLES = (
    ("disk is full", "a disk with room to write", "a full disk"),
    ("No space left on device", "a disk with room to write", "a full disk"),
    ("readonly database", "a database that can be written", "a read-only one"),
    ("read-only transaction", "a database that can be written", "a read-only one"),
    (
        "unable to open database file",
        "a database that can be opened",
        "one whose file or folder is missing, read-only or closed to us",
    ),
    ("no such table", "a database with a ledger in it", "one without its tables"),
    ("database is locked", "a free database", "one that another program has locked for too long"),
    ("lock timeout", "a free database", "one that another station has kept busy for too long"),
    ("disk I/O error", "a disk that can be read and written", "a disk error"),
)
_DAMAGED = ("malformed", "not a database")


def told(driver_says: str, *, is_gone: bool = False) -> LabelsvcError | None:
    """Return the error a person should read, or None where the driver's own one is a mistake of the program.

    Args:
        driver_says: the driver's message.
        is_gone: whether the driver lost the database.
    """
    if any(word in driver_says for word in _DAMAGED):
        return LedgerIntegrityError(
            f"the database is damaged: expected one that can be read, got {_line(driver_says)}. Restore a backup."
        )
    for word, expected, got in _TROUBLES:
        if word in driver_says:
            return StorageError("database", expected, got, AGAIN)
    if is_gone:
        return StorageError("database", "a database that answers", f"none ({_line(driver_says)})", AGAIN)
    return None


def translate(context: ExceptionContext) -> None:
    """Raise the error a person should read in the place of the driver's (an SQLAlchemy ``handle_error`` listener)."""
    if context.is_pre_ping:
        return  # the pool only tries whether a connection still lives, and takes a new one where it does not
    original: Any = context.original_exception
    lost = type(original).__module__.startswith("psycopg") and isinstance(original, context.dialect.loaded_dbapi.OperationalError)
    error = told(str(original), is_gone=context.is_disconnect or lost)
    if error is not None:
        raise error from original


def _line(text: str) -> str:
    return " ".join(text.split())[:200]
