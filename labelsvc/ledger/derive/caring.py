"""Looking after: counted stock, incidents, cleaning, turning; only a count moves mass."""

from __future__ import annotations

import datetime as dt
from typing import cast

from labelsvc.errors import InputError
from labelsvc.facts import Clean, Count, Incident, Turn
from labelsvc.ledger.derive.bench import Bench
from labelsvc.ledger.derive.holding import hold_all
from labelsvc.ledger.state import COUNT, LotState
from labelsvc.units import grams_text

_FEW = 5  # codes in a sentence
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
    """Hold what it touches: the lots named, or what was at the place between two moments, and all that was made of it since."""
    body = cast(Incident, bench.fact.body)
    hold_all(bench, _touched(bench, body), body.what)


def _touched(bench: Bench, body: Incident) -> list[LotState]:
    if body.place is not None:
        bench.watch(body.place)
        begins = bench.instant(body.from_ or "", "from", dt.time())
        ends = bench.instant(body.to, "to", dt.time(23, 59, 59, 999_999)) if body.to else None
        there = bench.there(body.place, begins, ends)
        touched = {lot.code: lot for lot in (*there, *bench.made_of(there, begins))}
        _say_what_left(bench, body.place, there, list(touched.values()))
        kept = [lot for lot in touched.values() if lot.milligrams or lot.holder]
        pack_lots = {lot.parent for lot in kept if lot.kind == "pack"}
        return [*kept, *(lot for lot in touched.values() if lot.code in pack_lots)]
    return bench.all_named(body.lots)


def _say_what_left(bench: Bench, place: str, there: list[LotState], touched: list[LotState]) -> None:
    """Note what the hold comes too late for: it is with someone, or nothing is left of it."""
    out = [lot.code for lot in touched if lot.holder]
    if out:
        hint = f"See who has them: labelsvc trace {out[0]}. Whether to call them back is a decision: labelsvc recall --place."
        bench.issue("note", "place", "what was there then, and what was made of it, to be here", f"{_few(out)}, which left", hint)
    elif not there:
        bench.issue("note", "place", "a place where something was then", place, "Nothing is held: check the spelling.")
    elif not any(lot.milligrams for lot in touched):
        gone = _few([lot.code for lot in there])
        bench.issue("note", "place", "something of what was there then", f"{gone}, of which nothing is left", "Nothing is held.")


def _few(codes: list[str]) -> str:
    """The first few codes, and how many more there are."""
    return ", ".join(codes[:_FEW]) + (f" and {len(codes) - _FEW} more" if len(codes) > _FEW else "")


def clean(bench: Bench) -> None:
    """Let the cleaning stand in the record of the thing."""
    bench.watch(cast(Clean, bench.fact.body).thing)


def turn(bench: Bench) -> None:
    """Let the turning stand in the record of the tub, and of what was in it."""
    bench.watch(cast(Turn, bench.fact.body).tub)
