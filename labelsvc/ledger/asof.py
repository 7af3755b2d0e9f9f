"""Look-ups as of a moment: the states and cards that a fact found when it happened."""

from __future__ import annotations

import json
from typing import cast

import msgspec
from sqlalchemy import Connection, and_, func, or_, select, tuple_

from labelsvc import facts as vocabulary
from labelsvc.ledger.among import among
from labelsvc.ledger.derive.bench import alias_key, card_key, card_subject, lot_subject, reserved_subject
from labelsvc.ledger.state import LotState
from labelsvc.ledger.tables import aliases, contacts, effective, links, lots, timeline
from labelsvc.shape import Shape

_encoder = msgspec.json.Encoder(order="deterministic", enc_hook=str)
_decoder = msgspec.json.Decoder(LotState)


def lot_text(state: LotState) -> str:
    """Return a lot's state as stored."""
    return _encoder.encode(state).decode()


def shown_text(state: LotState) -> str:
    """Return what an answer shows of a lot, as stored."""
    return _encoder.encode(state.shown()).decode()


def lot_from(text: str) -> LotState:
    """Return the lot's state from what is stored."""
    return _decoder.decode(text)


class AsOf:
    """The ledger as it stood just before a position in time (see ``derive.lookup``).

    Args:
        connection: where to look.
        position: instant and number of the fact.
        is_current: whether the table of lots is in line with the timeline, so that it may be used as the quicker way.
    """

    def __init__(self, connection: Connection, position: tuple[str, int], *, is_current: bool = True) -> None:
        self._connection = connection
        self._position = position
        self._is_current = is_current
        self._known: dict[str, LotState] = {}
        self._cards: dict[str, Shape | None] = {}
        self._said: dict[str, str | None] = {}  # on cards, as stored

    def ready(self, codes: list[str]) -> None:
        """Load these lots in one go where nothing later than the position touched them."""
        wanted = [code for code in codes if code not in self._known]
        if wanted and self._is_current:
            earlier = tuple_(lots.c.at, lots.c.fact) < self._position
            rows = self._connection.execute(select(lots.c.code, lots.c.known).where(among(lots.c.code, wanted), earlier))
            self._known.update({row.code: lot_from(row.known) for row in rows})

    def lot(self, code: str) -> LotState | None:
        """Return the lot as it stood, or None."""
        if code not in self._known:
            self.ready([code])
        if code not in self._known:
            text = self._state(lot_subject(code))
            if text is None:
                return None
            self._known[code] = lot_from(text)
        return self._known[code]

    def alias(self, text: str) -> list[str]:
        """Return the codes that a marker or other number leads to."""
        named = select(aliases.c.lot).where(aliases.c.alias == alias_key(text))
        return list(self._connection.execute(select(lots.c.code).where(lots.c.id.in_(named)).order_by(lots.c.id)).scalars())

    def card(self, kind: str, name: str) -> Shape | None:
        """Return the card of that name as it stood; one written down only afterwards serves as well; or None."""
        subject = card_subject(kind, name)
        if subject not in self._cards:
            self._ready_cards({subject, *self._cards_of_lots()})
            text = self._said.get(subject) or self._first(subject)
            self._cards[subject] = None if text is None else vocabulary.read(kind, json.loads(text))
        return self._cards[subject]

    def _cards_of_lots(self) -> set[str]:
        """The cards of the lots at hand: whoever asks for one of them mostly asks for all."""
        found = set()
        for lot in self._known.values():
            named = [
                ("product", lot.product),
                ("ingredient", lot.ingredient),
                *(("ingredient", one.ingredient) for one in lot.put_on),
            ]
            found |= {card_subject(kind, name) for kind, name in named if name}
        return found

    def _ready_cards(self, subjects: set[str]) -> None:
        """Load what was said last on these cards before the position, in one go."""
        wanted = sorted(subjects - self._said.keys())
        if not wanted:
            return
        earlier = and_(timeline.c.state.is_not(None), tuple_(timeline.c.at, timeline.c.fact) < self._position)
        rows = select(timeline.c.subject, timeline.c.state).where(among(timeline.c.subject, wanted), earlier)
        self._said.update(dict.fromkeys(wanted))
        for row in self._connection.execute(rows.order_by(timeline.c.at, timeline.c.fact)):
            self._said[row.subject] = row.state

    def there(self, place: str, begins: str, ends: str | None) -> list[str]:
        """Return the codes of the lots that were at a place between two moments and existed by then."""
        last = min(ends or self._position[0], self._position[0])
        overlap = and_(contacts.c.begins <= last, or_(contacts.c.ends.is_(None), contacts.c.ends >= begins))
        here = and_(contacts.c.thing == card_key(place), overlap, lots.c.began_at < self._position[0])
        rows = select(lots.c.code).join(contacts, contacts.c.lot == lots.c.id).where(here).distinct().order_by(lots.c.code)
        return list(self._connection.execute(rows).scalars())

    def made_of(self, codes: list[str], since: str, entered_after: int) -> list[str]:
        """Return the codes of the lots that these went into, as of ``Lookup``."""
        when = (effective.c.at >= since, tuple_(effective.c.at, effective.c.fact) < self._position)
        went = select(links.c.receiver).join(effective, effective.c.fact == links.c.fact).where(*when).distinct()
        new = set(self._connection.execute(select(lots.c.id).where(among(lots.c.code, codes))).scalars())
        found: set[int] = set()
        first = went.where(effective.c.fact > entered_after)
        while new:
            step = went if found else first
            new = set(self._connection.execute(step.where(among(links.c.giver, new))).scalars()) - found
            found |= new
        return sorted(self._connection.execute(select(lots.c.code).where(among(lots.c.id, found))).scalars())

    def reserved_for(self, code: str) -> str | None:
        """Return the lot that a code printed ahead hung on by then, ``FREE`` while it waited, or None if it was not reserved."""
        return self._state(reserved_subject(code))

    def began(self, code: str) -> str | None:
        """Return when the lot came into being, or None."""
        first = select(func.min(timeline.c.at)).where(timeline.c.subject == lot_subject(code), timeline.c.state.is_not(None))
        return cast(str | None, self._connection.execute(first).scalar())

    def before(self, code: str) -> LotState | None:
        """Return the state this look-up already gave for a lot, without asking again."""
        return self._known.get(code)

    def _state(self, subject: str) -> str | None:
        earlier = tuple_(timeline.c.at, timeline.c.fact) < self._position
        rows = select(timeline.c.state).where(timeline.c.subject == subject, timeline.c.state.is_not(None), earlier)
        last = rows.order_by(timeline.c.at.desc(), timeline.c.fact.desc()).limit(1)
        return cast(str | None, self._connection.execute(last).scalar())

    def _first(self, subject: str) -> str | None:
        rows = select(timeline.c.state).where(timeline.c.subject == subject, timeline.c.state.is_not(None))
        return cast(str | None, self._connection.execute(rows.order_by(timeline.c.at, timeline.c.fact).limit(1)).scalar())
