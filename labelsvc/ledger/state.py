"""What is known of one lot after a fact, and the accounts that mass moves between."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Any, NamedTuple

import msgspec

from labelsvc.curing.ingoing import UNCHECKED_CONTENT
from labelsvc.curing.trichinella import UNCHECKED_FREEZING, UNLISTED_ANIMAL
from labelsvc.facts import Measured
from labelsvc.units import grams_text

_GONE = ("sold", "given away", "destroyed", "own use", "sample", "used up")  # nothing of it is here to be held
LOT_KINDS = ("animal", "part", "ingredient", "piece", "pack")


def is_lot_kind(kind: str) -> bool:
    """Tell whether an account kind is a lot's."""
    return kind in LOT_KINDS


class End(NamedTuple):
    """A named end of the chain: where mass comes from or goes to outside the lots."""

    kind: str
    name: str


DRYING = End("drying", "drying")
DRIP = End("drip and brine", "drip and brine")
WASH = End("wash and rub-off", "wash and rub-off")
TRIM = End("trim", "trim")
BONE = End("bone", "bone")
SAMPLE = End("sample", "sample")
OWN_USE = End("own use", "own use")
DESTROYED = End("destroyed", "destroyed")
COUNT = End("count difference", "count difference")
PUBLIC = End("customer", "public")


class HeldFor(msgspec.Struct, frozen=True, omit_defaults=True):
    """One reason a lot is held, with the fact that says so; with a finding it follows from the law."""

    fact: int
    reason: str
    finding: dict[str, Any] | None = None

    @property
    def is_lack(self) -> bool:
        """Tell whether only a measured value or a confirmed figure is lacking: the responsible person may decide without.

        What is over a limit is no lack, and nobody lifts it.
        """
        return self.finding is not None and not self.is_stop

    @property
    def is_lack_of_contents(self) -> bool:
        """Tell whether what a curing salt contains was never entered."""
        return self.finding is not None and self.finding["rule"] == UNCHECKED_CONTENT

    @property
    def is_stop(self) -> bool:
        """Tell whether the law stops it: there is no override."""
        return self.finding is not None and self.finding["severity"] == "stop"

    @property
    def way_out(self) -> str:
        """What can be done about it."""
        if self.finding is None:
            return "Lift the hold first."
        if self.is_lack_of_contents:
            return (
                "Put the receipt of the bag right, or its card, with the percents that the bag states;"
                " the responsible person may also decide: lift it."
            )
        if self.finding["rule"] == UNCHECKED_FREEZING:
            return (
                "Put the thickness, temperature and times of the freezing on its receipt, or that it was examined;"
                " the responsible person may also decide: lift it."
            )
        if self.finding["rule"] == UNLISTED_ANIMAL:
            return (
                "Put the animal's name right on its receipt, or record there that it was examined for Trichinella;"
                " the responsible person may also decide: lift it."
            )
        if self.is_lack:
            return "Record the measured value, or the figure with its source; the responsible person may also decide: lift it."
        return "Nobody can lift what the law holds."


class Published(msgspec.Struct, frozen=True, array_like=True):
    """One decision that tells buyers not to eat it: the fact that says so, and its case."""

    fact: int
    case: int


Strength = tuple[tuple[str, Decimal], ...]  # what a bag states: substances with their percent of the bag


class PutOn(msgspec.Struct, frozen=True, array_like=True):
    """How much of an ingredient was put on a piece, and the strength its bag stated, where it was not the card's.

    ``is_beside`` tells that it never was in the piece's brine: rubbed on afterwards, or a coat.
    """

    ingredient: str
    milligrams: int
    strength: Strength = ()
    is_beside: bool = False


class LotState(msgspec.Struct, frozen=True, omit_defaults=True, kw_only=True):
    """A lot as it stands after a fact. Weights are whole milligrams.

    ``milligrams`` is the balance: while a piece is in cure it is green weight plus what was put on, and a weight only after
    a weighing (``is_weighed``). Once some of a piece is packed (``is_portioned``) its loss is no longer a matter of weighing
    it. ``phase`` is the step of the trade: received, mixed, green, in cure, out of cure, hanging,
    in stock, sold, given away, used up, destroyed, own use, sample. ``things`` are the bowls and machines it touched, and
    ``origins`` the countries of its meat, ``""`` where one is not known. ``decided`` are the rules whose lack of a
    value or figure the responsible person has decided on; ``made_from`` and ``packed_into`` are codes of pieces and pack lots.
    """

    code: str
    kind: str
    name: str
    phase: str
    born: dt.date
    milligrams: int = 0
    made_milligrams: int = 0
    supplier: str | None = None
    species: str | None = None
    ingredient: str | None = None
    strength: Strength = ()
    product: str | None = None
    parent: str | None = None
    count: int | None = None
    green_milligrams: int = 0
    put_on_milligrams: int = 0
    put_on: tuple[PutOn, ...] = ()
    method: str | None = None
    cured_on: dt.date | None = None
    planned_out: dt.date | None = None
    planned_packing: dt.date | None = None
    temperature_c: Decimal | None = None
    bag: str | None = None
    is_weighed: bool = False
    strung_on: dt.date | None = None
    hang_milligrams: int = 0
    tare_milligrams: int = 0
    weighed_on: dt.date | None = None
    is_portioned: bool = False
    tub: str | None = None
    place: str | None = None
    released_by: str | None = None
    released_on: dt.date | None = None
    held_for: tuple[HeldFor, ...] = ()
    published: tuple[Published, ...] = ()
    packed_on: dt.date | None = None
    best_before: dt.date | None = None
    session: str | None = None
    slicer: str | None = None
    things: tuple[str, ...] = ()
    country: str | None = None
    may_contain: tuple[str, ...] | None = None
    market: str | None = None
    language: str | None = None
    form: str | None = None
    units: int = 0
    holder: str | None = None
    is_business: bool = False
    handed_over_milligrams: int = 0
    trichinella: str | None = None
    origins: tuple[str, ...] = ()
    measured: tuple[Measured, ...] = ()
    decided: tuple[str, ...] = ()
    made_from: tuple[str, ...] = ()
    packed_into: tuple[str, ...] = ()
    aliases: tuple[str, ...] = ()

    @property
    def is_held(self) -> bool:
        """Tell whether anything holds the lot."""
        return bool(self.held_for)

    @property
    def whereabouts(self) -> str:
        """The state a recall shows: held, else the phase; a piece with nothing left is used up."""
        return "held" if self.is_held and self.phase not in _GONE else self.phase

    def shown(self) -> dict[str, Any]:
        """Return what an answer shows of the lot: grams as it began, grams that are there now."""
        return {
            "code": self.code,
            "kind": self.kind,
            "name": self.name,
            "state": self.whereabouts,
            "held": self.held_for[-1].reason if self.held_for else None,
            "place": self.holder or self.place or self.tub,
            "grams": grams_text(self.made_milligrams),
            "grams_here": grams_text(self.milligrams),
            "supplier": self.supplier,
            "born": self.born.isoformat(),
        }


class Issue(msgspec.Struct, frozen=True, omit_defaults=True):
    """Something about a fact that a person must hear of.

    ``refuse`` (a value that cannot be), ``conflict`` (it cannot follow what is recorded) and ``blocked`` (held or not
    released) stop a new fact; ``ask`` asks once; ``note`` is told. Where a correction of an earlier fact makes an absolute
    weight not fit any more, a truth is never refused: the issue stands as a finding on the later fact.
    """

    level: str
    field: str
    expected: str
    got: str
    hint: str = ""
    finding: dict[str, Any] | None = None


class Posting(NamedTuple):
    """One line of a flow: an account, its kind, and whole milligrams; negative leaves the account."""

    flow: int
    account: str
    kind: str
    milligrams: int
