"""What a fact is worked out from: lots, cards and numbers as they stood just before it."""

from __future__ import annotations

from typing import Protocol

from labelsvc.ledger.state import LotState
from labelsvc.shape import Shape

FREE = "true"  # of a code printed ahead: it waits for its piece


class Lookup(Protocol):
    """States and cards as they stood just before a fact."""

    def lot(self, code: str) -> LotState | None:
        """Return the lot, or None where there was none."""

    def ready(self, codes: list[str]) -> None:
        """Get these lots ready in one go: they are asked for next."""

    def alias(self, text: str) -> list[str]:
        """Return the codes that a marker, ear tag or supplier's number leads to."""

    def card(self, kind: str, name: str) -> Shape | None:
        """Return the card of that name, or None."""

    def there(self, place: str, begins: str, ends: str | None) -> list[str]:
        """Return the codes of the lots that were at a place between two moments."""

    def made_of(self, codes: list[str], since: str, entered_after: int) -> list[str]:
        """Return the codes of the lots that any of these went into from an instant on, or that were made of such in turn.

        Args:
            codes: of the givers.
            since: the instant; any if empty.
            entered_after: only by facts with a higher number: late entries, to a fact that was sealed before them.
        """

    def reserved_for(self, code: str) -> str | None:
        """Return the lot that a code printed ahead hung on by then, ``FREE`` while it waited, or None if it was not reserved."""

    def began(self, code: str) -> str | None:
        """Return when the lot came into being, whenever that is, or None for a code never given out."""
