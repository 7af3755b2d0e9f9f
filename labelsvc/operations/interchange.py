"""The ledger as an EPCIS document: every fact that stands as events, and those that were corrected declared as errors."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Iterator, Mapping
from itertools import groupby
from typing import Any

import msgspec

from labelsvc import facts
from labelsvc.codes.article_number import gtin
from labelsvc.codes.link import base_address, batch_link
from labelsvc.codes.lot_code import LotCode
from labelsvc.errors import ConflictError, InputError
from labelsvc.exchange.epcis import Error, Happened, Moved, Thing, event_id, events_of, head
from labelsvc.ledger import journal, read
from labelsvc.ledger.database import Connection, Ledger
from labelsvc.ledger.derive.bench import INSTANT, card_key
from labelsvc.ledger.derived import as_first_said
from labelsvc.ledger.state import LotState
from labelsvc.operations.content import workshop_of
from labelsvc.operations.recording import zone_of

_LOOKS = ("hold", "incident", "lift", "release", "move", "string", "publish", "unpublish")
_encode = msgspec.json.Encoder(decimal_format="number").encode  # exact numbers: JSON has no other kind


def epcis_document(ledger: Ledger, now: dt.datetime) -> Iterator[bytes]:
    """Yield an EPCIS 2.0 document in JSON, piece by piece, so that a large ledger is never held whole.

    Args:
        ledger: where.
        now: the present.

    Raises:
        ConflictError: the workshop has no web address under which its things could be named.
    """
    with ledger.reading() as connection:
        base = _base(connection)
        before, after = _encode(head(base, now)).split(b'"eventList":[]', 1)
        yield before + b'"eventList":['
        begun: set[str] = set()
        comma = b""
        for happened in _all(connection, base):
            errors = set(begun) if happened.error else begun  # what was wrong begins nothing
            for event in events_of(happened, base, errors):
                yield comma + _encode(event)
                comma = b",\n"
        yield b"]" + after + b"\n"


def _base(connection: Connection) -> str:
    address = workshop_of(connection).base_url
    if address is None:
        raise ConflictError(
            "base_url", "a web address on the workshop's card: EPCIS names every lot by an address", "none",
            'Record it: labelsvc workshop NAME --base-url "https://labels.example.com" ...',
        )  # fmt: skip
    return base_address(address)


def _all(connection: Connection, base: str) -> Iterator[Happened]:
    names = _Names(connection, base)
    zone = zone_of(connection)
    postings = groupby(journal.postings_in_order(connection), key=lambda row: row.fact)
    number, lines = next(postings, (None, iter(())))
    for row in journal.effective_in_order(connection):
        flows: list[list[Moved]] = []
        if row.fact == number:
            flows = [[names.moved(line) for line in flow] for _, flow in groupby(lines, key=lambda line: line.flow)]
            number, lines = next(postings, (None, iter(())))
        if row.corrected_by is not None:
            yield from _as_it_was(connection, names, row, base, zone)
        if row.body is not None:
            yield _stands(connection, names, row, flows, zone)


def _stands(connection: Connection, names: _Names, row: Any, flows: list[list[Moved]], zone: dt.tzinfo) -> Happened:
    body = json.loads(row.body)
    touched = [one.state for one in read.changed_by(connection, row.fact)] if row.kind in _LOOKS else []
    return Happened(
        row.corrected_by or row.fact, row.kind, _moment(row.at, zone), _moment(row.recorded_at, zone), flows,
        names.named(touched), body.get("place"), body.get("document"), names.known(row.kind, body, row.codes),
    )  # fmt: skip


def _as_it_was(connection: Connection, names: _Names, row: Any, base: str, zone: dt.tzinfo) -> Iterator[Happened]:
    """The events of a fact as it was first said, declared wrong; what cannot be worked out any more is left out."""
    try:
        said, derived = as_first_said(connection, row.fact)
    except InputError:
        return
    corrected = journal.fact_recorded(connection, row.corrected_by)
    flows = [
        [names.moved_as(line.account, line.kind, line.milligrams) for line in flow]
        for _, flow in groupby(derived.postings, key=lambda line: line.flow)
    ]
    touched = names.named(list(derived.lots.values())) if said.kind in _LOOKS else ()
    body = json.loads(said.said)
    first = Happened(
        row.fact, said.kind, _moment(said.at, zone), _moment(row.recorded_at, zone), flows, touched, body.get("place"),
        body.get("document"), names.known(said.kind, body, json.dumps(said.codes)),
    )  # fmt: skip
    count = len(events_of(first, base, set()))
    instead = tuple(event_id(base, row.corrected_by, place) for place in range(1, count + 1)) if row.body is not None else ()
    error = Error(_moment(corrected, zone), row.body is None, instead)
    yield Happened(**{**vars(first), "error": error})


class _Names:
    """How lots are named in EPCIS: by the link in their QR, with the product's GTIN where it has one."""

    def __init__(self, connection: Connection, base: str) -> None:
        self._base = base
        cards = [card for card in (facts.read("product", one) for one in read.cards(connection, "product"))]
        self._gtins = {
            card_key(card.name): gtin(card.gtin) for card in cards if isinstance(card, facts.Product) and card.gtin is not None
        }
        self._packs: Mapping[str, LotState] = journal.pack_lots(connection)

    def thing(self, code: str) -> Thing:
        """Return how a lot is named."""
        parsed = LotCode.parse(code)
        lot = self._packs.get(parsed.lot)
        own = self._gtins.get(card_key(lot.product or "")) if lot else None
        return Thing(batch_link(self._base, parsed, own), parsed.unit is not None)

    def named(self, states: list[LotState]) -> tuple[Thing, ...]:
        """Return how lots are named, a pack lot by its packs alone."""
        return tuple(self.thing(state.code) for state in states if not state.units)

    def moved(self, row: Any) -> Moved:
        """Return a stored posting as EPCIS tells it."""
        return self.moved_as(row.account, row.kind, row.milligrams)

    def moved_as(self, account: str, kind: str, milligrams: int) -> Moved:
        """Return a line of a flow."""
        is_lot = kind in ("animal", "part", "ingredient", "piece", "pack")
        return Moved(self.thing(account) if is_lot else None, kind, account, milligrams)

    def known(self, kind: str, body: Mapping[str, Any], codes: str) -> dict[str, str] | None:
        """Return the master data of what begins with a fact: lot number and date of packs, supplier's lot of goods."""
        if kind == "receive" and body.get("supplier_lot"):
            return {"cbvmda:lotNumber": str(body["supplier_lot"])}
        lot = self._packs.get(next(iter(json.loads(codes)), "")) if kind == "pack" else None
        if lot is None:
            return None
        best = {"cbvmda:bestBeforeDate": lot.best_before.isoformat()} if lot.best_before else {}
        return {"cbvmda:lotNumber": lot.code, **best}


def _moment(text: str, zone: dt.tzinfo) -> dt.datetime:
    return dt.datetime.strptime(text, INSTANT).replace(tzinfo=dt.UTC).astimezone(zone)
