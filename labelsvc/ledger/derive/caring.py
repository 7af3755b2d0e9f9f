"""Looking after: counted stock, incidents, cleaning, turning; only a count moves mass."""

from __future__ import annotations

import datetime as dt
from typing import cast

from labelsvc.errors import InputError
from labelsvc.facts import Clean, Count, Incident, Turn
from labelsvc.ledger.derive.bench import Bench
from labelsvc.ledger.state import COUNT, HeldFor, LotState
from labelsvc.units import grams_text

UNUSUAL_DIFFERENCE_PERCENT = 10  # of a counted lot (common practice, no source): more asks once


def count(bench: Bench) -> None:
    """The difference between the counted weight and the balance goes to the count difference."""
    body = cast(Count, bench.fact.body)
    lot = bench.lot(body.lot, "lot")
    if lot.units:
        raise InputError("lot", "one lot or one pack", f"{lot.code}, a lot of {lot.units} packs")
    difference = body.weight.milligrams - lot.milligrams
    if lot.holder is not None:
        bench.issue("conflict", "lot", "a lot that is here", f"{lot.code}, which {lot.holder} has")
    if abs(difference) * 100 > lot.milligrams * UNUSUAL_DIFFERENCE_PERCENT:
        known = f"near the {grams_text(lot.milligrams)} g that the ledger has of {lot.code}"
        bench.issue("ask", "weight", known, f"{grams_text(body.weight.milligrams)} g")
    bench.flow((lot, difference), (COUNT, -difference))
    bench.touch(lot)


def incident(bench: Bench) -> None:
    """Hold what it touches: the lots named, or those that were at the place between two moments."""
    body = cast(Incident, bench.fact.body)
    for lot in _touched(bench, body):
        bench.change(lot, held_for=(*lot.held_for, HeldFor(bench.fact.seq, body.what)))


def _touched(bench: Bench, body: Incident) -> list[LotState]:
    if body.place is not None:
        bench.watch(body.place)
        begins = bench.instant(body.from_ or "", "from", dt.time())
        ends = bench.instant(body.to, "to", dt.time(23, 59, 59, 999_999)) if body.to else None
        there = [lot for lot in bench.there(body.place, begins, ends) if lot.milligrams]
        if not there:
            bench.issue("note", "place", "a place where something was then", body.place, "Nothing is held: check the spelling.")
        return there
    return bench.all_named(body.lots)


def clean(bench: Bench) -> None:
    """Let the cleaning stand in the record of the thing."""
    bench.watch(cast(Clean, bench.fact.body).thing)


def turn(bench: Bench) -> None:
    """Let the turning stand in the record of the tub, and of what was in it."""
    bench.watch(cast(Turn, bench.fact.body).tub)
