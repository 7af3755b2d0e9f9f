"""Opens the database, brings its tables up to date, and gives transactions: one writer at a time, readers beside it."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from sqlalchemy import URL, Connection, Engine, create_engine, event, make_url, text
from sqlalchemy.exc import ArgumentError, DBAPIError, NoSuchModuleError

from labelsvc.errors import InputError, StorageError
from labelsvc.ledger import sqlite
from labelsvc.ledger.trouble import translate
from labelsvc.ledger.turns import PATIENCE, turn

__all__ = ["Connection", "Ledger", "open_ledger"]

HEAD = "0014"  # the newest migration; a test holds it against the migrations folder
_WRITER_LOCK = 4_711_952  # one number for PostgreSQL's advisory lock: appending reads the head, so writers queue


class Ledger:
    """A database with a ledger in it.

    Args:
        url: ``sqlite:///file.db``, ``postgresql+psycopg://...``, or a file name for SQLite.
    """

    def __init__(self, url: str) -> None:
        self.url = _url(url)
        self.engine = _engine(self.url)
        self._queue = sqlite.queue_of(sqlite.file_of(self.engine))
        # SQLite's transactions read one moment anyway; PostgreSQL's only when they are told to
        is_server = self.engine.dialect.name == "postgresql"
        self._one_moment: dict[str, Any] = {"isolation_level": "REPEATABLE READ"} if is_server else {}

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """Give a connection whose reads all see one moment."""
        with self.engine.connect().execution_options(**self._one_moment) as connection, connection.begin():
            yield connection

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """Give the only writer's connection; everything in the block is one transaction.

        Raises:
            StorageError: it cannot be written now; nothing of the block is kept.
        """
        with turn(self._queue), self._writer() as connection, connection.begin():
            if connection.dialect.name == "postgresql":
                connection.execute(text("SELECT pg_advisory_xact_lock(:lock)"), {"lock": _WRITER_LOCK})
            yield connection

    def _writer(self) -> Connection:
        return self.engine.connect().execution_options(labelsvc_writes=True)

    def remove(self) -> bool:
        """Remove the file of an SQLite ledger; tell whether there was one to remove."""
        file = sqlite.file_of(self.engine)
        if file is None:
            return False
        self.close()
        for ending in ("", "-wal", "-shm", "-turn"):
            file.with_name(file.name + ending).unlink(missing_ok=True)
        return True

    def wipe_traces(self) -> None:
        """Let the database give up what was erased from its rows and may lie in its free space; nothing is derived or changed.

        Raises:
            StorageError: someone is at work in it; it may be asked for again.
        """
        bare: dict[str, Any] = {"labelsvc_bare": True}
        statements = ["VACUUM", "PRAGMA wal_checkpoint(TRUNCATE)"]
        if self.engine.dialect.name == "postgresql":
            bare, statements = {"isolation_level": "AUTOCOMMIT"}, ["VACUUM FULL"]
        with turn(self._queue), self.engine.connect().execution_options(**bare) as connection:
            for statement in statements:
                connection.exec_driver_sql(statement)

    def close(self) -> None:
        """Let go of the database."""
        self.engine.dispose()


def open_ledger(url: str) -> Ledger:
    """Return the ledger at a URL, its tables created or brought up to date.

    Raises:
        InputError: no such kind of database, or the file cannot be opened.
    """
    ledger = Ledger(url)
    try:
        with ledger.engine.connect() as connection:
            version = _version(connection)
    except (DBAPIError, StorageError) as error:
        reason = str(error.orig) if isinstance(error, DBAPIError) else error.got
        raise InputError("database", "a database that can be opened", str(ledger.url), reason) from None
    if version != HEAD:
        from labelsvc.ledger.migrations.run import upgrade  # imports alembic, which most commands never need

        upgrade(ledger)
    sqlite.must_exist(ledger.engine)
    return ledger


def _version(connection: Connection) -> str | None:
    if not connection.dialect.has_table(connection, "alembic_version"):
        return None
    return connection.execute(text("SELECT version_num FROM alembic_version")).scalar()


def _url(given: str) -> URL:
    try:
        return make_url(given if "://" in given else f"sqlite:///{given}")
    except ArgumentError:
        raise InputError("database", "a database URL such as sqlite:///labels.db", given) from None


def _engine(url: URL) -> Engine:
    try:
        engine = create_engine(url, pool_pre_ping=url.get_backend_name() == "postgresql")  # the server may be away and back
    except (NoSuchModuleError, ModuleNotFoundError) as error:
        raise InputError("database", "a sqlite or postgresql URL whose driver is installed", str(url), str(error)) from None
    if engine.dialect.name == "sqlite":
        sqlite.set_up(engine)
    else:
        event.listen(engine, "connect", _set_up_postgresql)
    event.listen(engine, "handle_error", translate)
    return engine


def _set_up_postgresql(connection: Any, _record: Any) -> None:
    with connection.cursor() as cursor:
        cursor.execute("SET synchronous_commit TO on")  # what is acknowledged is on the disk, however the server is set up
        cursor.execute(f"SET lock_timeout TO '{PATIENCE:g}s'")
    connection.commit()
