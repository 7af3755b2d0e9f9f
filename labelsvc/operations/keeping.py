"""Looking after the ledger."""

from __future__ import annotations

from labelsvc.ledger.database import Ledger
from labelsvc.ledger.replay import rebuild as derive_anew
from labelsvc.ledger.verify import verify_chain, verify_projection


def verify(ledger: Ledger) -> tuple[int, str]:
    """Return how many facts hold and the hash of the last.

    Raises:
        LedgerIntegrityError: names the first wrong fact.
    """
    with ledger.reading() as connection:
        found = verify_chain(connection)
        verify_projection(connection)
        return found


def rebuild(ledger: Ledger) -> int:
    """Verify the chain, derive everything anew, and return how many facts stand."""
    with ledger.writing() as connection:
        verify_chain(connection)
        return derive_anew(connection)
