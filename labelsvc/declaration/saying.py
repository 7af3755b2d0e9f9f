"""One thing a label says, the rule that asks for it, and how it came about, so that an inspector can follow it."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

from labelsvc.rules.finding import Finding, Known
from labelsvc.rules.load import Rule


@dataclass(frozen=True)
class Particular:
    """One thing the label says.

    Args:
        element: where it goes; the name of a layout's element.
        text: as printed.
        rule: id of the rule that asks for it.
        title: what the rule says.
        known: how the rule is known.
        citation: where it stands.
        working: how the text came about, in words and numbers.
        is_needed: whether the law asks for it on this pack; what is not needed may stand there all the same.
    """

    element: str
    text: str
    rule: str
    title: str
    known: Known
    citation: str
    working: str = ""
    is_needed: bool = True

    def as_json(self) -> dict[str, Any]:
        """Return it as JSON values."""
        return asdict(self)


Said = tuple[list[Particular], list[Finding]]


def particular(element: str, text: str, rule: Rule, working: str = "") -> Particular:
    """Return what a label says because of a rule."""
    return Particular(element, text, rule.id, rule.title, rule.known, rule.citation, working)
