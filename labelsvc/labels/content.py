"""What one label says: words, emphasised runs and symbol data by the layout's element names.

The content is what an issued label is remembered by, so it goes to JSON and comes back equal.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from labelsvc.errors import LayoutError
from labelsvc.units import decimal, plain


@dataclass(frozen=True)
class Run:
    """A stretch of text that is emphasised or not; it may begin and end inside a word.

    Args:
        text: the words, spaces included; U+00A0 keeps two words on one line.
        emphasised: whether it stands out in bold (allergens, for one).
    """

    text: str
    emphasised: bool = False


Words = str | tuple[Run, ...]


@dataclass(frozen=True)
class LabelContent:
    """What one label says.

    Args:
        elements: by element name: text, runs, or the data of a symbol.
        captions: by element name: a caption that replaces the layout's own.
        minimum_x_height_mm: smallest lower-case x on this label in mm, or None for the layout's own.
        smallest_mm: by element name: smallest height of its capitals and figures in mm (net quantity).
    """

    elements: Mapping[str, Words]
    captions: Mapping[str, str] = field(default_factory=dict)
    minimum_x_height_mm: Decimal | None = None
    smallest_mm: Mapping[str, Decimal] = field(default_factory=dict)

    def runs(self, name: str) -> tuple[Run, ...]:
        """Return an element's words as runs; none where the element is absent or empty."""
        words = self.elements.get(name, "")
        runs = (Run(words),) if isinstance(words, str) else words
        return tuple(run for run in runs if run.text) if any(run.text.strip() for run in runs) else ()

    def text(self, name: str) -> str:
        """Return an element's words without their emphasis."""
        return "".join(run.text for run in self.runs(name))

    def as_json(self) -> dict[str, Any]:
        """Return the content as JSON values: runs as lists, exact heights as text."""
        return {
            "elements": {name: _words_as_json(words) for name, words in self.elements.items()},
            "captions": dict(self.captions),
            "minimum_x_height_mm": None if self.minimum_x_height_mm is None else plain(self.minimum_x_height_mm),
            "smallest_mm": {name: plain(height) for name, height in self.smallest_mm.items()},
        }

    @classmethod
    def from_json(cls, stored: Mapping[str, Any]) -> LabelContent:
        """Return the content that ``as_json`` wrote.

        Raises:
            LayoutError: an element that is neither text nor runs.
            UnitError: a height that is no decimal number.
        """
        least = stored.get("minimum_x_height_mm")
        return cls(
            {name: _words(name, words) for name, words in stored["elements"].items()},
            dict(stored.get("captions", {})),
            None if least is None else decimal(least, "minimum_x_height_mm"),
            {name: decimal(height, f"smallest_mm.{name}") for name, height in stored.get("smallest_mm", {}).items()},
        )


def _words_as_json(words: Words) -> str | list[dict[str, Any]]:
    if isinstance(words, str):
        return words
    return [{"text": run.text, "emphasised": run.emphasised} for run in words]


def _words(name: str, stored: Any) -> Words:
    if isinstance(stored, str):
        return stored
    try:
        return tuple(Run(run["text"], run["emphasised"]) for run in stored)
    except (KeyError, TypeError) as error:
        raise LayoutError(f"elements.{name}", "text, or runs of text and emphasised", repr(stored)) from error
