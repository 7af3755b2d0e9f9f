"""Writers of one SQLite file take turns: each waits in the kernel's queue, so that nobody is passed over.

SQLite's own waiting tries again after ever longer sleeps, and under load one writer can starve until it gives up.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from concurrent.futures import Future, TimeoutError
from contextlib import contextmanager
from pathlib import Path
from threading import Thread

from labelsvc.errors import StorageError

try:
    import fcntl
except ImportError:  # Windows: SQLite's own waiting is all there is
    fcntl = None  # type: ignore[assignment]

PATIENCE = 30.0  # seconds until a writer that gets no turn says so


@contextmanager
def turn(file: Path | None, patience: float = PATIENCE) -> Iterator[None]:
    """Wait for the turn of this writer, and keep it for the block.

    Args:
        file: whose lock is the queue; None where nobody else writes.
        patience: seconds.

    Raises:
        StorageError: another writer kept its turn for too long, or the folder cannot be written.
    """
    if file is None or fcntl is None:
        yield
        return
    try:
        descriptor = os.open(file, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o666)
    except OSError as error:
        raise StorageError("database", "a folder that can be written", f"{file.parent}: {error.strerror}") from None
    try:
        _wait(descriptor, patience)
        yield
    finally:
        os.close(descriptor)  # lets the next one in


def _wait(descriptor: int, patience: float) -> None:
    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        return
    except BlockingIOError:
        pass  # somebody is writing: stand in the queue
    mine: Future[None] = Future()
    Thread(target=_stand_in_queue, args=(os.dup(descriptor), mine), daemon=True).start()
    try:
        mine.result(patience)
    except TimeoutError:
        if mine.cancel():  # else the turn came in this very moment
            raise StorageError(
                "database", "a turn to write", f"none in {patience:g} seconds: another program keeps the database busy"
            ) from None


def _stand_in_queue(descriptor: int, mine: Future[None]) -> None:
    """Wait without an end; whoever gave up meanwhile passes the turn on by closing the descriptor."""
    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX)
        if mine.set_running_or_notify_cancel():
            mine.set_result(None)
    finally:
        os.close(descriptor)
