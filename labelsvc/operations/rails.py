"""A counted lot strung over several rails: each becomes a lot with its own code, tag, weigh-ins and stop weight."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from functools import partial
from typing import Any

from labelsvc.errors import InputError
from labelsvc.facts import Product
from labelsvc.ledger import read
from labelsvc.ledger.asof import AsOf
from labelsvc.ledger.database import Connection, Ledger
from labelsvc.ledger.state import LotState
from labelsvc.operations.content import RAIL
from labelsvc.operations.recording import Recorded, record_within, within_once
from labelsvc.units import Mass, grams_text


def string_over_rails(
    ledger: Ledger, given: Mapping[str, Any], *, now: dt.datetime, who: str = "", confirmed: bool = False, once: str = ""
) -> Recorded:
    """Split a counted lot into its rails and string each, in one transaction.

    Args:
        ledger: where.
        given: ``{from, place, rails: [{count, weight, tare?}], at?, ask?}``: weights as the scale shows them, string included;
            the tare of a rail is the product's for each piece where it is left out.
        now: the present.
        who: who strings.
        confirmed: whether questions were answered with yes.
        once: as of ``record``.

    Returns:
        The last stringing, with the codes of all rails in order.

    Raises:
        InputError: no counted lot, no rail, or rails that do not hold its pieces; and as of ``record``.
    """
    with ledger.writing() as connection:
        said: dict[str, Any] = {"now": now, "who": who, "confirmed": confirmed}
        return within_once(connection, once, ["string over rails", given], lambda: _strung(connection, given, said))


def _strung(connection: Connection, given: Mapping[str, Any], said: Mapping[str, Any]) -> Recorded:
    rails: Sequence[Mapping[str, Any]] = given.get("rails") or ()
    lot = read.find(connection, str(given.get("from", "")), "from").state
    _check(lot, rails)
    place, when = str(given.get("place") or ""), _envelope(given)
    tares = [_tare(connection, lot, rail, f"rails[{number}].tare") for number, rail in enumerate(rails)]
    weights = [Mass.parse(rail.get("weight"), f"rails[{number}].weight") for number, rail in enumerate(rails)]
    parts = [_part(rail, weights[number], tares[number], number) for number, rail in enumerate(rails)]
    split = record_within(connection, "split", {"from": lot.code, "pieces": parts, **when}, **said)
    for number, (code, weight, tare) in enumerate(zip(split.codes, weights, tares, strict=True), start=1):
        hung = {"piece": code, "weight": str(weight), "tare": f"{grams_text(tare)} g", **when}
        where = f"{place}{RAIL}{number} of {len(rails)}"
        strung = record_within(connection, "string", {**hung, "place": where}, **said)
    return Recorded(strung.fact, split.codes, (*split.notes, *strung.notes))


def weigh_rails(
    ledger: Ledger, given: Mapping[str, Any], *, now: dt.datetime, who: str = "", confirmed: bool = False, once: str = ""
) -> Recorded:
    """Weigh the rails of a lot, all of them or none.

    Args:
        ledger: where.
        given: ``{rails: [{piece, weight}], at?}``: weights as the scale shows them, string included; one without is left out.
        now: the present.
        who: who weighs.
        confirmed: whether questions were answered with yes.
        once: as of ``record``.

    Returns:
        The last weigh-in, with what should be heard of all.

    Raises:
        InputError: no weight at all; and as of ``record``, named as ``rails[1].weight``.
    """
    weighed = [{**rail, **_envelope(given)} for rail in given.get("rails") or () if rail.get("weight")]
    if not weighed:
        raise InputError("rails[0].weight", "the weight of one rail or more", "nothing")
    with ledger.writing() as connection:

        def act(number: int, rail: dict[str, Any]) -> Recorded:
            try:
                return record_within(connection, "weigh", rail, now=now, who=who, confirmed=confirmed, is_at_bench=True)
            except InputError as error:
                raise error if error.field == "at" else error.within(f"rails[{number}]") from None

        done = [
            within_once(connection, once and f"{once}.{number}", ["weigh", rail], partial(act, number, rail))
            for number, rail in enumerate(weighed)
        ]
    return Recorded(done[-1].fact, (), tuple(note for one in done for note in one.notes))


def _envelope(given: Mapping[str, Any]) -> dict[str, Any]:
    return {name: given[name] for name in ("at", "ask") if given.get(name) is not None}


def _check(lot: LotState, rails: Sequence[Mapping[str, Any]]) -> None:
    if lot.kind != "piece" or lot.count is None:
        raise InputError("from", "a lot of several pieces", f"{lot.code}, which is one")
    if len(rails) < 2:
        raise InputError("rails", "two rails or more", str(len(rails)), "On one rail, string the whole lot.")
    counted = 0
    for number, rail in enumerate(rails):
        count = rail.get("count")
        if not isinstance(count, int) or count < 2:
            raise InputError(f"rails[{number}].count", "2 pieces or more", str(count or "nothing"))
        counted += count
    if counted != lot.count:
        raise InputError("rails[0].count", f"rails with the {lot.count} pieces of {lot.code} together", f"{counted}")


def _tare(connection: Connection, lot: LotState, rail: Mapping[str, Any], field: str) -> int:
    """Return the milligrams of string, net and casing on a rail."""
    if rail.get("tare") is not None:
        return Mass.parse(rail["tare"], field).milligrams
    product = AsOf(connection, read.END_OF_TIME).card("product", lot.product or "")
    each = product.tare.milligrams if isinstance(product, Product) and product.tare else 0
    return each * int(rail["count"])


def _part(rail: Mapping[str, Any], weight: Mass, tare: int, number: int) -> dict[str, Any]:
    net = weight.milligrams - tare
    if net <= 0:
        raise InputError(f"rails[{number}].weight", f"more than the tare of {grams_text(tare)} g", str(weight))
    return {"weight": f"{grams_text(net)} g", "count": rail["count"]}
