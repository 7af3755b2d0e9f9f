"""What followed from a fact as it was first said, before any correction; worked out for reading, nothing is written."""

from __future__ import annotations

from sqlalchemy import Connection

from labelsvc.ledger.derive.happening import Derived, Happening
from labelsvc.ledger.effective import as_sealed
from labelsvc.ledger.settle import work_out


def as_first_said(connection: Connection, seq: int) -> tuple[Happening, Derived]:
    """Return a fact as it was first said, and what would follow from it on the ledger as it stands.

    Raises:
        InputError: it does not fit what is recorded by now.
    """
    happening = as_sealed(connection, seq)
    return happening, work_out(connection, happening, is_current=False)[0]
