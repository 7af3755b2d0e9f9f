"""What followed from a fact as it was first said, before any correction; worked out for reading, nothing is written."""

from __future__ import annotations

import json

from sqlalchemy import Connection, select

from labelsvc.ledger.derive.bench import Derived, Happening
from labelsvc.ledger.effective import happening_of
from labelsvc.ledger.settle import work_out
from labelsvc.ledger.tables import facts


def as_first_said(connection: Connection, seq: int) -> tuple[Happening, Derived]:
    """Return a fact as it was first said, and what would follow from it on the ledger as it stands.

    Raises:
        InputError: it does not fit what is recorded by now.
    """
    row = connection.execute(select(facts).where(facts.c.seq == seq)).one()
    happening = happening_of(row.seq, row.kind, row.happened_at, json.loads(row.body))
    return happening, work_out(connection, happening, is_current=False)[0]
