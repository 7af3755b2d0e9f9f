"""Looking after the ledger: verify it, derive it anew, keep its head and its copies outside."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass
from pathlib import Path

from labelsvc.errors import InputError, LedgerIntegrityError
from labelsvc.ledger import backup as copies
from labelsvc.ledger.attachments import verify_attachments
from labelsvc.ledger.database import Ledger
from labelsvc.ledger.deep import verify_deep
from labelsvc.ledger.once import forget_before
from labelsvc.ledger.personal import verify_personal
from labelsvc.ledger.replay import rebuild as derive_anew
from labelsvc.ledger.verify import verify_chain, verify_guards, verify_head, verify_projection, what_the_server_risks
from labelsvc.operations.clock import behind
from labelsvc.operations.when import instant

KEYS_LAST_DAYS = 30  # a program that was cut off sends again within minutes, a till after a holiday; common practice, no source
_HEAD = re.compile(r"labelsvc head (?P<at>\S+) facts=(?P<facts>[0-9]{1,15}) sha256=(?P<hash>[0-9a-f]{64})")


@dataclass(frozen=True)
class Head:
    """The end of the chain at some moment, as one line of text to print, mail or sign.

    Args:
        at: when it was taken, UTC.
        facts: how many there were.
        hash: of the last.
    """

    at: str
    facts: int
    hash: str

    @classmethod
    def parse(cls, line: str) -> Head:
        """Return the head that a line says.

        Raises:
            InputError: no such line.
        """
        found = _HEAD.fullmatch(" ".join(line.split()))
        if found is None:
            raise InputError("head", "a line as the command head printed it", line.strip()[:80] or "nothing")
        return cls(found["at"], int(found["facts"]), found["hash"])

    def __str__(self) -> str:
        return f"labelsvc head {self.at} facts={self.facts} sha256={self.hash}"


def verify(ledger: Ledger, *, deep: bool = False, head: Head | None = None) -> tuple[int, str]:
    """Return how many facts hold and the hash of the last.

    Args:
        ledger: the ledger.
        deep: whether all that was derived is derived anew and compared, and photos are held against their hashes.
        head: that was kept outside, to be found in the chain.

    Raises:
        LedgerIntegrityError: names the first wrong fact, or the first difference.
    """
    with ledger.reading() as connection:
        found = verify_chain(connection)
        verify_personal(connection)
        if head is not None:
            verify_head(connection, head.facts, head.hash)
        verify_guards(connection)
        verify_projection(connection)
        if deep:
            verify_deep(connection)
            verify_attachments(connection)
        return found


def head_of(ledger: Ledger, now: dt.datetime) -> Head:
    """Return the head of a ledger that verifies.

    Raises:
        LedgerIntegrityError: names the first wrong fact.
    """
    with ledger.reading() as connection:
        count, last = verify_chain(connection)
    return Head(now.astimezone(dt.UTC).strftime("%Y-%m-%dT%H:%M:%SZ"), count, last)


def risks(ledger: Ledger) -> list[str]:
    """Return what a power cut may lose for want of a setting of the database's server, a sentence each."""
    with ledger.reading() as connection:
        return what_the_server_risks(connection)


def start_up(ledger: Ledger, now: dt.datetime) -> list[str]:
    """Bring a ledger to a verified state before the work begins.

    Returns:
        What was found, a sentence each.

    Raises:
        LedgerIntegrityError: a fact is wrong; nothing is changed then.
    """
    forget_old_keys(ledger, now)
    with ledger.reading() as connection:
        count, _ = verify_chain(connection)
        verify_personal(connection)
        verify_guards(connection)
        found = [f"{count} facts hold.", *filter(None, [behind(connection, now)])]
    try:
        with ledger.reading() as connection:
            verify_projection(connection)
    except LedgerIntegrityError as error:
        rebuild(ledger)
        found.append(
            f"What was derived from them was wrong ({error.message.removesuffix(': run rebuild')}): it was derived anew."
        )
    return [*found, *risks(ledger)]


def forget_old_keys(ledger: Ledger, now: dt.datetime) -> int:
    """Forget the keys of requests that nobody will send again, and return how many there were: after ``KEYS_LAST_DAYS``."""
    with ledger.writing() as connection:
        return forget_before(connection, instant(now - dt.timedelta(days=KEYS_LAST_DAYS)))


def rebuild(ledger: Ledger) -> int:
    """Verify the chain, derive everything anew, and return how many facts stand."""
    with ledger.writing() as connection:
        verify_chain(connection)
        return derive_anew(connection)


def backup(ledger: Ledger, file: Path) -> tuple[int, str]:
    """Write a copy while the ledger is at work; return how many facts it holds and the hash of the last.

    Raises:
        ConflictError: the file is there; StorageError: it cannot be written; LedgerIntegrityError: the copy does not verify.
    """
    return copies.write_copy(ledger, file)


def backup_of_the_day(ledger: Ledger, folder: Path, now: dt.datetime) -> Path | None:
    """Write the day's copy into a folder, where it is not there yet; return its file, or None.

    Raises:
        StorageError: it cannot be written; LedgerIntegrityError: the copy does not verify.
    """
    file = folder / f"labelsvc-{now.astimezone(dt.UTC):%Y-%m-%d}.backup"
    if file.exists():
        return None
    forget_old_keys(ledger, now)
    copies.write_copy(ledger, file)
    return file


def restore(file: Path, url: str) -> tuple[int, str]:
    """Put a backup, or an export of the facts, into an empty database; return how many facts and the hash of the last.

    Raises:
        InputError: no backup; ConflictError: the database holds facts; LedgerIntegrityError: the backup does not verify.
    """
    return copies.put_back(file, url)
