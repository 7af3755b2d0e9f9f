"""SQLite as the ledger needs it: every commit on the disk, one writer at a time, and never a file that is not there any more."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, event
from sqlalchemy.exc import DisconnectionError

from labelsvc.errors import StorageError

_PRAGMAS = ("journal_mode=WAL", "synchronous=FULL", "foreign_keys=ON", "busy_timeout=30000")


def file_of(engine: Engine) -> Path | None:
    """Return the file of an SQLite engine, or None: it is in memory, or no SQLite."""
    name = engine.url.database
    return Path(name) if engine.dialect.name == "sqlite" and name and name != ":memory:" else None


def queue_of(file: Path | None) -> Path | None:
    """Return the file whose lock is the queue of the writers. Never the database itself: closing it would drop SQLite's locks."""
    return file.with_name(f"{file.name}-turn") if file else None


def set_up(engine: Engine) -> None:
    """Make an engine's connections what the ledger needs."""
    file = file_of(engine)

    def connected(connection: Any, record: Any) -> None:
        connection.isolation_level = None  # the driver's own BEGIN would be deferred: a late lock is refused without waiting
        for pragma in _PRAGMAS:
            connection.execute(f"PRAGMA {pragma}")
        record.info["file"] = _identity(file)

    def checked_out(_connection: Any, record: Any, _proxy: Any) -> None:
        found = _identity(file)
        if file is not None and found is None:
            raise StorageError("database", f"the file {file}", "none: it was removed or its disk is gone")
        if found != record.info["file"]:
            raise DisconnectionError("the file was replaced, by a backup for example: open the new one")

    event.listen(engine, "connect", connected)
    event.listen(engine, "checkout", checked_out)
    event.listen(engine, "begin", _begin)


def must_exist(engine: Engine) -> None:
    """Never make a new, empty file in the place of one that was there: what is recorded in it would be lost."""
    file = file_of(engine)

    def connects(_dialect: Any, _record: Any, _arguments: Any, _keywords: Any) -> None:
        if file is not None and not file.exists():
            raise StorageError("database", f"the file {file}", "none: it was removed or its disk is gone")

    event.listen(engine, "do_connect", connects)


def _identity(file: Path | None) -> tuple[int, int] | None:
    try:
        status = file.stat() if file else None
    except OSError:
        return None
    return (status.st_dev, status.st_ino) if status else None


def _begin(connection: Connection) -> None:
    if connection.get_execution_options().get("labelsvc_bare"):
        return  # what packs the file must not stand in a transaction
    writes = connection.get_execution_options().get("labelsvc_writes")
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")
