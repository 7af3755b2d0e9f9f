"""EPCIS 2.0 events (JSON-LD) of what happened in the workshop.

Source: GS1 EPCIS 2.0 and CBV 2.0. There is no word for slaughter or for curing in CBV (its ``killing`` is about tags): what
becomes something else is a TransformationEvent. A piece and its cure go in when it is cured; its packs come out months later;
both events carry the piece's transformation id. Weights are kilograms, exact.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, NamedTuple
from urllib.parse import quote

from labelsvc.units import plain

CONTEXT = "https://ref.gs1.org/standards/epcis/2.0.0/epcis-context.jsonld"
_OWN = "workshop"  # prefix of what EPCIS has no word for
_LOTS = ("animal", "part", "ingredient", "piece", "pack")
_INTO_THE_CURE = ("cure", "salt_again", "coat")
# What leaves or comes back, by the kind of the end: step, disposition, action.
_ENDS: Mapping[str, tuple[str, str | None, str]] = {
    "customer": ("shipping", "in_transit", "OBSERVE"),
    "public": ("retail_selling", "retail_sold", "OBSERVE"),
    "gift": ("shipping", "in_transit", "OBSERVE"),
    "destroyed": ("destroying", "destroyed", "DELETE"),
    "own use": ("decommissioning", "disposed", "DELETE"),
    "sample": ("sampling", None, "OBSERVE"),
}
# What only looks at lots, by the kind of the fact: step and disposition.
_LOOKS: Mapping[str, tuple[str, str | None]] = {
    "hold": ("holding", "non_sellable_other"),
    "incident": ("holding", "non_sellable_other"),
    "lift": ("inspecting", "conformant"),
    "release": ("accepting", "conformant"),
    "move": ("storing", None),
    "string": ("storing", "in_progress"),
}
_PERSISTENT = {"publish": "set", "unpublish": "unset"}


class Thing(NamedTuple):
    """A lot, or one pack of a pack lot, as EPCIS names it: its address, and whether it is a single thing."""

    uri: str
    is_single: bool


class Moved(NamedTuple):
    """One line of a movement: the lot (None for a named end), the kind of the account, its name, whole milligrams."""

    thing: Thing | None
    kind: str
    name: str
    milligrams: int


@dataclass(frozen=True)
class Error:
    """That an event was wrong: when it was said, whether it never happened, and the events that stand in its place."""

    declared: dt.datetime
    never_happened: bool
    instead: tuple[str, ...]


@dataclass(frozen=True)
class Happened:
    """A fact as EPCIS may tell it.

    Args:
        number: of the fact that says so: its own, or that of the correction in its place.
        kind: of the fact.
        at: when it happened, in the workshop's time zone.
        recorded: when it was recorded.
        flows: what moved.
        named: the lots it is about.
        place: where, if it says so.
        document: of a sale.
        ilmd: what is known of the things that begin here, such as lot number and date.
        error: where it was corrected.
    """

    number: int
    kind: str
    at: dt.datetime
    recorded: dt.datetime
    flows: Sequence[Sequence[Moved]] = ()
    named: Sequence[Thing] = ()
    place: str | None = None
    document: str | None = None
    ilmd: Mapping[str, str] | None = None
    error: Error | None = None


def head(base: str, created: dt.datetime) -> dict[str, Any]:
    """Return an EPCIS document without its events.

    Args:
        base: the workshop's web address, under which its things are named.
        created: the present.
    """
    return {
        "@context": [CONTEXT, {_OWN: f"{base}/terms/"}],
        "type": "EPCISDocument",
        "schemaVersion": "2.0",
        "creationDate": _utc(created),
        "epcisBody": {"eventList": []},
    }


def events_of(happened: Happened, base: str, begun: set[str]) -> list[dict[str, Any]]:
    """Return the events of a fact; none for one that EPCIS has nothing to say about, such as a weighing.

    Args:
        happened: the fact.
        base: the workshop's web address.
        begun: the pieces whose transformation has begun; those that begin here are added.
    """
    found = [event for flow in happened.flows for event in _of_flow(happened, flow, base, begun)]
    found += _looked(happened, base)
    return [{**_common(happened, base, place), **event} for place, event in enumerate(found, start=1)]


def event_id(base: str, number: int, place: int) -> str:
    """Return the address of an event: the fact's number and the event's place in it."""
    return f"{base}/event/{number}.{place}"


def _common(happened: Happened, base: str, place: int) -> dict[str, Any]:
    common: dict[str, Any] = {
        "eventID": event_id(base, happened.number, place),
        "type": "",
        "eventTime": _utc(happened.at),
        "eventTimeZoneOffset": _offset(happened.at),
        "recordTime": _utc(happened.recorded),
    }
    if happened.error:
        declared: dict[str, Any] = {
            "declarationTime": _utc(happened.error.declared),
            "reason": "did_not_occur" if happened.error.never_happened else "incorrect_data",
        }
        if happened.error.instead:
            declared["correctiveEventIDs"] = list(happened.error.instead)
        common["errorDeclaration"] = declared
    return common


def _of_flow(happened: Happened, flow: Sequence[Moved], base: str, begun: set[str]) -> Iterator[dict[str, Any]]:
    gives = [line for line in flow if line.milligrams < 0]
    takes = [line for line in flow if line.milligrams > 0]
    from_lots, to_lots = ([line for line in side if line.kind in _LOTS] for side in (gives, takes))
    if from_lots and to_lots:
        yield from _transformed(happened, from_lots, to_lots, base, begun)
    elif to_lots:
        yield from _came_in(happened, gives, to_lots, base)
    for end in takes if from_lots else ():
        if end.kind in _ENDS:
            yield _left(happened, end, from_lots, base)


def _came_in(happened: Happened, gives: Sequence[Moved], takes: Sequence[Moved], base: str) -> Iterator[dict[str, Any]]:
    for end in gives:
        if end.kind == "supplier":
            source = [{"type": "possessing_party", "source": _party(base, end.name)}]
            ilmd = {"ilmd": dict(happened.ilmd)} if happened.ilmd else {}
            yield _object("ADD", "receiving", "in_progress", takes) | {"sourceList": source} | ilmd
        elif end.kind in ("customer", "gift"):
            yield _object("OBSERVE", "receiving", "returned", takes)


def _left(happened: Happened, end: Moved, gives: Sequence[Moved], base: str) -> dict[str, Any]:
    step, disposition, action = _ENDS["public" if (end.kind, end.name) == ("customer", "public") else end.kind]
    lines = [line._replace(milligrams=end.milligrams) for line in gives[:1]] if len(gives) == 1 else gives
    event = _object(action, step, disposition, lines)
    if end.kind in ("customer", "gift") and end.name != "public":
        event["destinationList"] = [{"type": "possessing_party", "destination": _party(base, end.name)}]
    if happened.document:
        transaction = f"{base}/document/{quote(happened.document, safe='')}"
        event["bizTransactionList"] = [{"type": "desadv", "bizTransaction": transaction}]
    return event


def _transformed(
    happened: Happened, gives: Sequence[Moved], takes: Sequence[Moved], base: str, begun: set[str]
) -> Iterator[dict[str, Any]]:
    """A cure goes into its piece now, packs come out of it later, under one id; all else is one event with both sides."""
    if happened.kind in _INTO_THE_CURE and any(line.kind == "piece" for line in takes):
        for piece in takes:
            yield _into(piece, gives, sum(line.milligrams for line in takes), base, begun)
        return
    pieces = [line.thing.uri for line in gives if line.thing and line.kind == "piece"]
    if happened.kind == "pack" and len(gives) == 1 and pieces and pieces[0] in begun:
        said = _sides([], takes) | {"transformationID": _transformation(base, pieces[0])}
    else:
        said = _sides(gives, takes)
    step = {"pack": "packing", "cut": "disassembling", "split": "disassembling"}.get(happened.kind, "commissioning")
    ilmd = {"ilmd": dict(happened.ilmd)} if happened.ilmd and happened.kind == "pack" else {}
    yield {"type": "TransformationEvent", "bizStep": step, "disposition": "in_progress", **said, **ilmd}


def _into(piece: Moved, gives: Sequence[Moved], total: int, base: str, begun: set[str]) -> dict[str, Any]:
    assert piece.thing is not None
    shares = [line._replace(milligrams=round(Decimal(line.milligrams) * piece.milligrams / total)) for line in gives]
    own = [] if piece.thing.uri in begun else [piece._replace(milligrams=0)]
    begun.add(piece.thing.uri)
    said = _sides([*own, *shares], [])
    return {
        "type": "TransformationEvent", "transformationID": _transformation(base, piece.thing.uri), "bizStep": "commissioning",
        "disposition": "in_progress", **said,
    }  # fmt: skip


def _looked(happened: Happened, base: str) -> Iterator[dict[str, Any]]:
    if not happened.named:
        return
    about = _about([Moved(thing, "", "", 0) for thing in happened.named])
    if happened.kind in _LOOKS:
        step, disposition = _LOOKS[happened.kind]
        place = {"bizLocation": {"id": f"{base}/place/{quote(happened.place, safe='')}"}} if happened.place else {}
        told = {"disposition": disposition} if disposition else {}
        yield {"type": "ObjectEvent", "action": "OBSERVE", "bizStep": step, **told, **place, **about}
    elif happened.kind in _PERSISTENT:
        recalled = {"persistentDisposition": {_PERSISTENT[happened.kind]: ["recalled"]}}
        yield {"type": "ObjectEvent", "action": "OBSERVE", "bizStep": "other", **recalled, **about}


def _object(action: str, step: str, disposition: str | None, lines: Sequence[Moved]) -> dict[str, Any]:
    told = {"disposition": disposition} if disposition else {}
    return {"type": "ObjectEvent", "action": action, "bizStep": step, **told, **_about(lines)}


def _about(lines: Sequence[Moved]) -> dict[str, Any]:
    singles = list(dict.fromkeys(line.thing.uri for line in lines if line.thing and line.thing.is_single))
    amounts = _amounts(lines)
    return {**({"epcList": singles} if singles else {}), **({"quantityList": amounts} if amounts else {})}


def _sides(gives: Sequence[Moved], takes: Sequence[Moved]) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for side, lines in (("input", gives), ("output", takes)):
        about = _about(lines)
        if "epcList" in about:
            found[f"{side}EPCList"] = about["epcList"]
        if "quantityList" in about:
            found[f"{side}QuantityList"] = about["quantityList"]
    return found


def _amounts(lines: Sequence[Moved]) -> list[dict[str, Any]]:
    """Lots by weight; one without a weight stands for all of it."""
    return [
        {
            "epcClass": line.thing.uri,
            **({"quantity": _kilograms(line.milligrams), "uom": "KGM"} if line.milligrams else {}),
        }
        for line in lines
        if line.thing and not line.thing.is_single
    ]


def _kilograms(milligrams: int) -> Decimal:
    return Decimal(plain(Decimal(abs(milligrams)).scaleb(-6)))


def _transformation(base: str, piece: str) -> str:
    return f"{base}/transformation/{piece.rpartition('/')[2]}"


def _party(base: str, name: str) -> str:
    return f"{base}/party/{quote(name, safe='')}"


def _utc(moment: dt.datetime) -> str:
    return moment.astimezone(dt.UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def _offset(moment: dt.datetime) -> str:
    text = moment.strftime("%z") or "+0000"
    return f"{text[:3]}:{text[3:5]}"
