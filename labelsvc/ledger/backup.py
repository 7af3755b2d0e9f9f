"""Copies of a ledger taken while it is at work: an SQLite file by SQLite's own online backup, else lines of JSON, compressed.

A copy appears under its name only when it is whole, on the disk and read again.
"""

from __future__ import annotations

import gzip
import os
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from shutil import copyfile
from tempfile import TemporaryDirectory
from typing import Any

from labelsvc.errors import ConflictError, InputError, LedgerIntegrityError, StorageError
from labelsvc.ledger.archive import all_lines, check, load
from labelsvc.ledger.database import Ledger, open_ledger
from labelsvc.ledger.sqlite import file_of
from labelsvc.ledger.verify import verify_chain

_SQLITE_FILE, _GZIP_FILE = b"SQ", b"\x1f\x8b"  # how each begins


def write_copy(ledger: Ledger, file: Path) -> tuple[int, str]:
    """Write a copy and read it again.

    Args:
        ledger: at work or not; nobody waits for the copy.
        file: that is not there yet.

    Returns:
        How many facts the copy holds, and the hash of the last.

    Raises:
        ConflictError: the file is there already.
        StorageError: it cannot be written.
        LedgerIntegrityError: the copy does not verify; it is not kept.
    """
    if file.exists():
        raise ConflictError("file", "a file that is not there yet: a backup is never overwritten", str(file))
    part = file.with_name(f"{file.name}.part")
    try:
        part.touch(mode=0o600)
        source = file_of(ledger.engine)
        _copy_pages(source, part) if source else _copy_lines(ledger, part)
        found = _read_again(part)
        _sync(part)
        part.replace(file)
        _sync(file.parent)
    except OSError as error:
        raise StorageError("file", "a place where a backup can be written", f"{file}: {error.strerror}") from None
    except sqlite3.Error as error:  # such as a full disk, met by the database itself
        raise StorageError("file", "a place where a backup can be written", f"{file}: {error}") from None
    finally:
        part.unlink(missing_ok=True)
    return found


def put_back(file: Path, target: str) -> tuple[int, str]:
    """Put a copy into a database that holds nothing yet; of either kind into either kind.

    Args:
        file: that ``write_copy`` or ``export facts`` wrote.
        target: URL of the database.

    Returns:
        How many facts there are now, and the hash of the last.

    Raises:
        InputError: no such file, or it is no backup.
        ConflictError: the database holds facts.
        LedgerIntegrityError: the backup does not verify; nothing is put back.
    """
    if not file.is_file():
        raise InputError("file", "a file that backup or export facts wrote", str(file))
    with closing(open_ledger(target)) as ledger:
        with _lines_of(file) as lines:
            found = check(lines)
        with _lines_of(file) as lines, ledger.writing() as connection:
            load(connection, lines)
            if verify_chain(connection) != found:
                raise LedgerIntegrityError(f"the {found[0]} facts of {file} did not arrive as they are: nothing was put back")
    return found


def _copy_pages(source: Path, part: Path) -> None:
    """Copy as of one moment; in WAL mode nobody who writes has to wait."""
    with closing(sqlite3.connect(source, timeout=30)) as full, closing(sqlite3.connect(part)) as copy:
        full.backup(copy)


def _copy_lines(ledger: Ledger, part: Path) -> None:
    with gzip.open(part, "wt", encoding="utf-8", newline="\n", compresslevel=6) as lines, ledger.reading() as connection:
        lines.writelines(f"{line}\n" for line in all_lines(connection))


def _read_again(part: Path) -> tuple[int, str]:
    if _begins(part) == _SQLITE_FILE:
        with closing(Ledger(str(part))) as copied, copied.reading() as connection:
            found = verify_chain(connection)
        with closing(sqlite3.connect(part)) as copy:
            sound = copy.execute("PRAGMA integrity_check").fetchone()[0]
            copy.execute("PRAGMA journal_mode=DELETE")  # all of it in one file
        if sound != "ok":
            raise LedgerIntegrityError(f"the copy is damaged: {sound}")
        return found
    with _lines_of(part) as lines:
        return check(lines)


@contextmanager
def _lines_of(file: Path) -> Iterator[Iterator[str]]:
    """Give the lines of a backup of either kind."""
    if _begins(file) == _GZIP_FILE:
        with gzip.open(file, "rt", encoding="utf-8") as packed:
            yield _lines(packed, file)
    elif _begins(file) == _SQLITE_FILE:
        with TemporaryDirectory(prefix="labelsvc-restore-") as folder:
            copied = copyfile(file, Path(folder) / "copy.db")  # an older one is brought up to date, and the backup stays as it is
            with closing(open_ledger(str(copied))) as ledger, ledger.reading() as connection:
                yield all_lines(connection)
    else:
        with file.open(encoding="utf-8") as plain:
            yield _lines(plain, file)


def _lines(source: Any, file: Path) -> Iterator[str]:
    try:
        yield from source
    except (OSError, EOFError, UnicodeDecodeError) as error:
        raise LedgerIntegrityError(f"the file {file} is damaged: {error}") from None


def _begins(file: Path) -> bytes:
    with file.open("rb") as opened:
        return opened.read(2)


def _sync(path: Path) -> None:
    descriptor = os.open(path, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
