"""What a page looks up: names to choose from, what is to be done today, a tub, a delivery a complaint may be about."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any, cast

import msgspec

from labelsvc import facts
from labelsvc.codes.lot_code import LotCode
from labelsvc.errors import CodeError, ConflictError, InputError
from labelsvc.ledger import effective, flows, read
from labelsvc.ledger.asof import AsOf
from labelsvc.ledger.database import Connection, Ledger
from labelsvc.ledger.derive.bench import THE_WORKSHOP, card_key
from labelsvc.ledger.derive.hanging import base_milligrams
from labelsvc.ledger.derive.lookup import FREE
from labelsvc.ledger.effective import kind_and_target, standing_in
from labelsvc.ledger.state import LotState
from labelsvc.operations.recording import zone_of
from labelsvc.units import grams_text, plain, round_half_up

COMPLAINT_DAYS = 3  # a shop rarely knows the day of its delivery better than this (common practice, no source)


@dataclass(frozen=True)
class Standing:
    """A lot as a bench needs it: what it is, how far it is, and what is naturally done with it next.

    Args:
        lot: its state.
        lost_percent: of a hanging piece, to a tenth, or None.
        stop_at: grams on the scale, string included, at which it is ready, or None.
        is_ready: whether it weighs that little.
        next_step: cut, cure, string, weigh, release, pack, sell, held or record (nothing is left to do).
        packs: of a pack lot, its packs.
    """

    lot: LotState
    lost_percent: Decimal | None
    stop_at: str | None
    is_ready: bool
    next_step: str
    packs: tuple[LotState, ...] = ()

    @property
    def here(self) -> str:
        """Grams that are there now, to the gram, or with tenths where it is little; of a pack lot, in all its packs."""
        return _grams(sum(pack.milligrams for pack in self.packs) if self.packs else self.lot.milligrams)

    @property
    def packs_here(self) -> int:
        """How many packs of a pack lot are in the workshop."""
        return sum(1 for pack in self.packs if pack.milligrams)

    @property
    def on_scale(self) -> str:
        """Grams the scale showed last: string included once it is strung."""
        return _grams(self.lot.milligrams + self.lot.tare_milligrams)


def standing_of(ledger: Ledger, text: str) -> Standing:
    """Return how a lot stands.

    Raises:
        CodeError, NotFoundError: no such lot; InputError: a number that leads to several.
    """
    with ledger.reading() as connection:
        row = read.find(connection, text)
        packs = tuple(unit.state for unit in read.units_of(connection, row)) if row.state.units else ()
        return replace(_standing(row.state, _products(connection)), packs=packs)


def standings(ledger: Ledger) -> list[Standing]:
    """Return everything that is in the workshop now, packs among them."""
    with ledger.reading() as connection:
        products = _products(connection)
        return [_standing(row.state, products) for row in read.here(connection)]


@dataclass(frozen=True)
class Touched:
    """What an incident touched, and how far it is decided.

    Args:
        fact: its number.
        what: as it was written down.
        day: when.
        place: where, or None where it named lots.
        begins: from when, as written.
        ends: until when, as written.
        lots: everything it held, as it stands now, packs one by one.
        pack_lots: the pack lots among it.
    """

    fact: int
    what: str
    day: dt.date
    place: str | None
    begins: str
    ends: str
    lots: tuple[Standing, ...]
    pack_lots: tuple[LotState, ...]

    @property
    def held(self) -> tuple[Standing, ...]:
        """Those that it still holds: something is left of them, or someone has them."""
        return tuple(one for one in self.lots if self._holds(one.lot))

    @property
    def decided(self) -> tuple[Standing, ...]:
        """Those it holds no more."""
        return tuple(one for one in self.lots if not self._holds(one.lot))

    def settled_by(self, decided: Collection[str]) -> list[str]:
        """Return the pack lots it holds of whose packs it holds none once these are decided."""
        return [lot.code for lot in self.pack_lots if self._is_over(lot, decided)]

    def _is_over(self, lot: LotState, decided: Collection[str]) -> bool:
        mine = [one.lot for one in self.lots if one.lot.parent == lot.code]
        return self._is_held(lot) and all(unit.code in decided or not self._holds(unit) for unit in mine)

    def _holds(self, lot: LotState) -> bool:
        return bool(lot.milligrams or lot.holder) and self._is_held(lot)

    def _is_held(self, lot: LotState) -> bool:
        return any(held.fact == self.fact for held in lot.held_for)


def touched_by_incident(ledger: Ledger, fact: int) -> Touched:
    """Return what an incident touched.

    Raises:
        NotFoundError: no such fact.
        ConflictError: it was taken back, or is no incident.
    """
    with ledger.reading() as connection:
        kind, _ = kind_and_target(connection, fact)
        happening = standing_in(connection, fact).happening if kind == "incident" else None
        if happening is None:
            raise ConflictError("fact", "an incident that stands", f"fact {fact}, which is none or was taken back")
        body = cast(facts.Incident, happening.body)
        products = _products(connection)
        states = [row.state for row in read.changed_by(connection, fact)]
    found = tuple(_standing(state, products) for state in states if not state.units)
    begins, ends = ((text or "").replace("T", " ") for text in (body.from_, body.to))
    return Touched(
        fact, body.what, happening.day, body.place, begins, ends, found, tuple(state for state in states if state.units)
    )


def open_incidents(ledger: Ledger, here: Sequence[Standing]) -> list[tuple[int, str, int]]:
    """Return the incidents that still hold something that is here: number of the fact, what happened, and how many lots."""
    held = Counter(fact for one in here for fact in {reason.fact for reason in one.lot.held_for})
    if not held:
        return []
    with ledger.reading() as connection:
        return [(fact, what, held[fact]) for fact, what in read.incidents_among(connection, held)]


def is_free_marker(ledger: Ledger, text: str) -> bool:
    """Tell whether a code was printed ahead on a marker and waits for its piece."""
    try:
        code = str(LotCode.parse(text))
    except CodeError:
        return False
    with ledger.reading() as connection:
        lookup = AsOf(connection, read.END_OF_TIME)
        return lookup.reserved_for(code) == FREE and lookup.lot(code) is None


def free_markers(ledger: Ledger, most: int = 12) -> list[str]:
    """Return the next codes printed ahead that wait for their pieces."""
    with ledger.reading() as connection:
        return read.free_markers(connection, most)


def tubs_in(here: Iterable[Standing]) -> list[str]:
    """Return the tubs in which something lies."""
    return sorted({one.lot.tub for one in here if one.lot.tub and one.lot.phase == "in cure"})


def places_in(here: Iterable[Standing]) -> list[str]:
    """Return the rooms and racks where something is."""
    return sorted({one.lot.place for one in here if one.lot.place})


def things_in(here: Sequence[Standing]) -> list[str]:
    """Return what gets dirty: the slicers that were used, tubs, rooms."""
    return [*sorted({one.lot.slicer for one in here if one.lot.slicer}), *tubs_in(here), *places_in(here)]


def in_tub(ledger: Ledger, tub: str) -> list[Standing]:
    """Return the pieces that are in a tub; none where nobody knows a tub of that name."""
    return [one for one in standings(ledger) if one.lot.kind == "piece" and card_key(one.lot.tub or "") == card_key(tub)]


def cards(ledger: Ledger, kind: str) -> list[dict[str, Any]]:
    """Return the cards of a kind by name, each as it was recorded."""
    with ledger.reading() as connection:
        return read.cards(connection, kind)


def workshop_card(ledger: Ledger) -> facts.Workshop | None:
    """Return the workshop, or None where none is recorded yet."""
    with ledger.reading() as connection:
        card = AsOf(connection, read.END_OF_TIME).card("workshop", THE_WORKSHOP)
        return card if isinstance(card, facts.Workshop) else None


def today(ledger: Ledger, now: dt.datetime) -> dt.date:
    """Return the workshop's day."""
    with ledger.reading() as connection:
        return now.astimezone(zone_of(connection)).date()


def people(ledger: Ledger) -> list[str]:
    """Return the names seen in the facts."""
    with ledger.reading() as connection:
        return read.people(connection)


def deliveries(ledger: Ledger, product: str, name: str, day: dt.date | None) -> list[dict[str, Any]]:
    """Return the packs a complaint without a code may be about: product, shop or person, and a day.

    Args:
        ledger: where.
        product: its name, or nothing.
        name: of the shop or person, ``public`` for the counter, or nothing.
        day: near which it was sold; None for any.

    Returns:
        One entry a pack: code, product, name, date, how, grams, the newest first.

    Raises:
        InputError: nothing to go by.
    """
    if not (product or name or day):
        raise InputError("product", "a product, a shop or a day to search by", "nothing")
    with ledger.reading() as connection:
        near = dt.timedelta(days=COMPLAINT_DAYS)
        days = (day - near, day + near) if day else None
        rows = [row for row in flows.every_handing_over(connection, name=name or None, days=days) if row.milligrams > 0]
        lots = {one.number: one for one in read.lots_of(connection, {row.lot for row in rows})} if rows else {}
        found = [
            {
                "code": row.account,
                "product": lots[row.lot].state.name,
                "name": row.name,
                "date": row.day,
                "how": row.kind,
                "grams": grams_text(row.milligrams),
            }
            for row in rows
            if not product or card_key(lots[row.lot].state.name) == card_key(product)
        ]
    return found[::-1]


def fact_as_it_stands(ledger: Ledger, fact: int) -> tuple[str, dict[str, Any]]:
    """Return kind and fields of a fact as corrections left it.

    Raises:
        NotFoundError: no such fact.
        ConflictError: it was taken back.
    """
    with ledger.reading() as connection:
        standing = standing_in(connection, fact)
    if standing.happening is None:
        raise ConflictError("fact", "a fact that stands", f"fact {fact}, taken back by fact {standing.corrected_by}")
    return standing.happening.kind, dict(msgspec.to_builtins(standing.happening.body, enc_hook=str))


def said_by(ledger: Ledger, fact: int) -> tuple[str, frozenset[str]]:
    """Return the kind of a fact, and who recorded it or corrected it since.

    Raises:
        NotFoundError: no such fact.
    """
    with ledger.reading() as connection:
        return effective.said_by(connection, fact)


def codes_under(ledger: Ledger, codes: Iterable[str]) -> list[dict[str, Any]]:
    """Return these lots, each as an answer shows it, a pack lot with its packs in its place."""
    with ledger.reading() as connection:
        rows = [unit for code in codes for unit in read.units_of(connection, read.find(connection, code))]
        return [row.state.shown() for row in rows]


def _products(connection: Connection) -> Mapping[str, facts.Product]:
    found = (facts.read("product", card) for card in read.cards(connection, "product"))
    return {card_key(card.name): card for card in found if isinstance(card, facts.Product)}


def _standing(lot: LotState, products: Mapping[str, facts.Product]) -> Standing:
    product = products.get(card_key(lot.product or ""))
    target = product.target_loss_percent if product else None
    if lot.phase != "hanging" or product is None or lot.is_portioned:
        return Standing(lot, None, None, False, _next_step(lot, is_ready=False))
    base = base_milligrams(lot, product)
    lost = round_half_up(Decimal(base - lot.milligrams) * 100 / base, 1)
    if target is None:
        return Standing(lot, lost, None, False, _next_step(lot, is_ready=False))
    at = Decimal(base) * (100 - target) / 100
    stop_at = plain(round_half_up((at + lot.tare_milligrams) / 1000))
    is_ready = lot.milligrams <= at
    return Standing(lot, lost, stop_at, is_ready, _next_step(lot, is_ready))


def _next_step(lot: LotState, is_ready: bool) -> str:
    if lot.units:
        return "sell" if lot.released_by else "release"
    if lot.is_held and lot.milligrams:
        return "held"
    if not lot.milligrams:
        return "record"
    return _BY_KIND[lot.kind](lot, is_ready)


def _of_piece(lot: LotState, is_ready: bool) -> str:
    if lot.released_by:
        return "pack"
    by_phase = {"green": "cure", "in cure": "string", "out of cure": "string", "hanging": "release" if is_ready else "weigh"}
    return by_phase.get(lot.phase, "record")


def _of_pack(lot: LotState, _is_ready: bool) -> str:
    return "sell" if lot.released_by else "release"


def _to_cut(_lot: LotState, _is_ready: bool) -> str:
    return "cut"


def _to_cure(_lot: LotState, _is_ready: bool) -> str:
    return "record"


_BY_KIND: Mapping[str, Callable[[LotState, bool], str]] = {
    "animal": _to_cut,
    "part": _to_cut,
    "ingredient": _to_cure,
    "piece": _of_piece,
    "pack": _of_pack,
}


def _grams(milligrams: int) -> str:
    return plain(round_half_up(Decimal(milligrams) / 1000, 0 if milligrams >= 100_000 else 1))
