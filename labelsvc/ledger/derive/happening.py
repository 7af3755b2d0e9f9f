"""A fact as it stands, with its place in time, and what follows from it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field

from labelsvc.ledger.state import Issue, LotState, Posting
from labelsvc.shape import Shape


@dataclass(frozen=True)
class Happening:
    """An effective fact: its body as it stands after corrections, in the order in which things happened.

    Args:
        seq: the number of the fact.
        kind: its kind.
        at: the instant in UTC, fixed width, so that text order is time order.
        day: the day in the workshop's time zone.
        body: the checked body.
        codes: the lot codes it gave out, in order.
        read_as: what a person typed where it was no lot code (a marker, an ear tag), and the code it led to.
        said: what was given, as the sealed JSON has it, but a true, false or whole number that was typed as a word as such
            (``shape.as_read``): whoever reads it later must not take the word "false" for a yes.
    """

    seq: int
    kind: str
    at: str
    day: dt.date
    body: Shape
    codes: tuple[str, ...] = ()
    read_as: Mapping[str, str] = field(default_factory=dict)
    said: str = "{}"

    @property
    def position(self) -> tuple[str, int]:
        """Where the fact stands in time."""
        return self.at, self.seq


@dataclass(frozen=True)
class Derived:
    """What follows from one fact."""

    postings: list[Posting]
    lots: dict[str, LotState]
    cards: dict[tuple[str, str], Shape]
    mentions: set[str]
    issues: list[Issue]
    read_as: dict[str, str]
    reserved: dict[str, str]
