"""A withdrawal, a recall or an exercise as a case: opened, buyers told one by one, the public told, closed.

What other facts already say is not said again: a hold is ``hold``, what comes back is ``return``, what is destroyed here is
``dispose``. A hold is internal; only ``publish`` marks the page that buyers see.
"""

from __future__ import annotations

from typing import Annotated, Literal

from labelsvc.errors import InputError
from labelsvc.shape import AtLeastOne, Shape, Text
from labelsvc.units import Mass

CaseKind = Literal["withdrawal", "recall", "mock"]
Risk = Literal["allergen", "germ", "cure", "foreign_body", "animal", "warm", "other"]


class OpenCase(Shape, frozen=True):
    """A case begins: the lots it starts from, and with them everything that was or will be made of them.

    A withdrawal gets goods back before buyers have them, a recall also from buyers; a mock one is an exercise. ``asked`` is the
    search that led to the lots, in words; the clock runs from ``known_since``, when it came to be known.
    """

    what: CaseKind
    reason: Text
    lots: Annotated[tuple[str, ...], AtLeastOne]
    asked: str | None = None
    known_since: str | None = None


class Tell(Shape, frozen=True):
    """Someone who has something of it was told, or could not be reached; what they answered, and what they still had."""

    case: int
    customer: Text
    how: Text
    by: str | None = None
    reached: bool = True
    answer: str | None = None
    still_had: Mass | None = None

    def __post_init__(self) -> None:
        if self.still_had is not None and not self.reached:
            raise InputError("still_had", "nothing where nobody was reached", str(self.still_had))


class CaseStep(Shape, frozen=True):
    """A step no other fact says: the authority was told, a buyer destroyed packs there, more lots belong to it, or a note."""

    case: int
    what: Literal["authority_told", "destroyed_there", "wider", "note"]
    words: Text
    lots: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if self.what in ("destroyed_there", "wider") and not self.lots:
            raise InputError("lots", "the lots or packs it is about", "none")


class Publish(Shape, frozen=True):
    """The responsible person's decision to tell the public: the pages of these packs say so to whoever scans them.

    ``risk`` is said in every language of the pages, an allergen by its name; ``words`` are shown as they are written.
    """

    case: int
    lots: Annotated[tuple[str, ...], AtLeastOne]
    risk: Risk
    by: Text
    allergen: str | None = None
    words: str | None = None

    def __post_init__(self) -> None:
        if (self.risk == "allergen") != (self.allergen is not None):
            raise InputError("allergen", "an allergen where that is the risk, else nothing", self.allergen or "nothing")


class Unpublish(Shape, frozen=True):
    """The decision that the pages of these packs warn no more, for this case."""

    case: int
    lots: Annotated[tuple[str, ...], AtLeastOne]
    reason: Text
    by: Text


class CloseCase(Shape, frozen=True):
    """The case is over: what came of it."""

    case: int
    outcome: Text
    by: str | None = None
