"""A finding: one rule met with one value, whether it was exceeded, and where the rule comes from."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Literal

Severity = Literal["stop", "warn", "note"]
Known = Literal["read", "quoted", "unconfirmed"]


@dataclass(frozen=True)
class Finding:
    """The contract's FINDING object; values are plain decimal text, at the limit is not over it, a ban has limit "0".

    Args:
        rule: the rule's id, for example ``eu.nitrite.non_heat_treated``.
        severity: stop, warn or note.
        exceeded: whether the value is outside the limit.
        limit: the limit as plain text, or None where the rule has no figure.
        found: what was found as plain text, or None where nothing could be measured.
        unit: of limit and found (``mg/kg``, ``%`` ...), or None.
        expressed_as: the substance a figure is expressed as, or None.
        basis: what the figure is per (``green weight``, ``finished product`` ...), or None.
        known: how we know the rule: read in the primary text, quoted second hand, or unconfirmed.
        citation: instrument, article and date.
        message: one sentence a person can act on.
    """

    rule: str
    severity: Severity
    exceeded: bool
    limit: str | None
    found: str | None
    unit: str | None
    expressed_as: str | None
    basis: str | None
    known: Known
    citation: str
    message: str

    def as_json(self) -> dict[str, object]:
        """Return the finding as the contract's object."""
        return asdict(self)
