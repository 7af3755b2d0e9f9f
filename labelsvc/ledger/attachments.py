"""The rows of photographs and papers, by the SHA-256 of their content. A fact holds the hash; the content may be erased."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from collections.abc import Collection
from dataclasses import dataclass

from sqlalchemy import Connection, insert, select, update

from labelsvc.errors import LedgerIntegrityError
from labelsvc.ledger.tables import attachments, effective


@dataclass(frozen=True)
class Attachment:
    """A photograph or paper.

    Args:
        digest: SHA-256 of the content as kept, hexadecimal.
        media_type: image/jpeg, image/png or application/pdf.
        content: its bytes; None once it is erased.
        erased_on: the day it was erased, or None.
    """

    digest: str
    media_type: str
    content: bytes | None
    erased_on: dt.date | None


def put_attachment(connection: Connection, digest: str, media_type: str, content: bytes, *, kept_at: str, kept_by: str) -> None:
    """Keep a content, unless it is there already; one that was erased comes back."""
    row = {"media_type": media_type, "content": content, "erased_on": None}
    if attachment(connection, digest) is not None:
        connection.execute(update(attachments).where(attachments.c.digest == digest).values(**row))
        return
    connection.execute(insert(attachments).values(digest=digest, kept_at=kept_at, kept_by=kept_by, **row))


def attachment(connection: Connection, digest: str) -> Attachment | None:
    """Return an attachment by its hash."""
    row = connection.execute(select(attachments).where(attachments.c.digest == digest)).first()
    return None if row is None else Attachment(row.digest, row.media_type, row.content, _day(row.erased_on))


def erase_attachment(connection: Connection, digest: str, on: dt.date) -> None:
    """Erase a content; that it was there stays."""
    erased = {"content": None, "erased_on": on.isoformat()}
    connection.execute(update(attachments).where(attachments.c.digest == digest).values(**erased))


def erased_among(connection: Connection, digests: Collection[str]) -> dict[str, dt.date | None]:
    """Return those of some hashes that are known, each with the day it was erased, or None while it is there."""
    rows = connection.execute(
        select(attachments.c.digest, attachments.c.erased_on).where(attachments.c.digest.in_(list(digests)))
    )
    return {row.digest: _day(row.erased_on) for row in rows}


def verify_attachments(connection: Connection) -> None:
    """Check that every photo is there as it was kept, or was erased on a day.

    Raises:
        LedgerIntegrityError: names the photo that was changed or taken away, and a fact that tells of it.
    """
    known: set[str] = set()
    with connection.execute(select(attachments), execution_options={"yield_per": 1}) as rows:  # one may have megabytes
        for row in rows:
            known.add(row.digest)
            found = None if row.content is None else hashlib.sha256(row.content).hexdigest()
            if found != row.digest and not (found is None and row.erased_on):
                raise LedgerIntegrityError(
                    f"the photo {row.digest[:16]}... is not the one that was kept: it does not fit its hash"
                )
    with_photos = select(effective.c.fact, effective.c.body).where(effective.c.body.contains('"photos":["'))
    for row in connection.execute(with_photos.order_by(effective.c.fact)):
        missing = sorted(set(json.loads(row.body).get("photos", ())) - known)
        if missing:
            raise LedgerIntegrityError(
                f"the photo {missing[0][:16]}... of fact {row.fact} is missing: it was not erased, it was taken away"
            )


def _day(text: str | None) -> dt.date | None:
    return dt.date.fromisoformat(text) if text else None
