"""Words of this tool beside the law: the caution at the grams, and remarks on how a number came about."""

from __future__ import annotations

from labelsvc.rules.finding import Finding, Severity

CAUTION = (
    "Nitrite and nitrate are poisonous in small amounts. Weigh them on a scale, never by the spoon; keep them labelled and"
    " apart from salt and sugar; follow the law of the place: this tool does not replace it."
)
_CITATION = "Practice of this tool; not a rule of law"


def advice(rule: str, message: str, *, severity: Severity = "note", found: str | None = None, unit: str | None = None) -> Finding:
    """Return a remark as a finding that never stops and never says a limit was passed.

    Args:
        rule: its id, ``curing.`` and a word.
        message: one sentence a person can act on.
        severity: note, or warn where something can go wrong.
        found: the value the remark is about, optional.
        unit: of ``found``.
    """
    return Finding(rule, severity, False, None, found, unit, None, None, "read", _CITATION, message)


def caution() -> Finding:
    """Return the caution that stands wherever grams of a nitrite or nitrate source are shown."""
    return advice("curing.caution", CAUTION)
