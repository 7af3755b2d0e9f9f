"""Cases of withdrawal and recall: they move no mass and hold nothing; publishing marks the packs whose buyers are warned."""

from __future__ import annotations

import datetime as dt
from typing import cast

from labelsvc.declaration.words import allergen_key
from labelsvc.errors import NotFoundError
from labelsvc.facts import CaseStep, CloseCase, OpenCase, Publish, Tell, Unpublish
from labelsvc.ledger.derive.bench import Bench
from labelsvc.ledger.state import LotState, Published


def open_case(bench: Bench) -> None:
    """Let the case stand in the record of the lots it starts from, and be found by the number of this fact."""
    body = cast(OpenCase, bench.fact.body)
    for lot in bench.all_named(body.lots):
        bench.touch(lot)
    if body.known_since is not None and bench.instant(body.known_since, "known_since", dt.time()) > bench.fact.at:
        bench.issue("refuse", "known_since", "a time before the case was opened", body.known_since)
    bench.keep_numbered()


def tell(bench: Bench) -> None:
    """Let it stand with the case."""
    _case(bench, cast(Tell, bench.fact.body).case)


def case_step(bench: Bench) -> None:
    """Let it stand with the case, and in the record of the lots it names."""
    body = cast(CaseStep, bench.fact.body)
    _case(bench, body.case)
    for lot in bench.all_named(body.lots):
        bench.touch(lot)


def publish(bench: Bench) -> None:
    """Mark packs: whoever scans one is warned. An exercise publishes nothing."""
    body = cast(Publish, bench.fact.body)
    if _case(bench, body.case).what == "mock":
        bench.issue("conflict", "case", "a withdrawal or recall", f"{body.case}, an exercise, which publishes nothing")
    if body.allergen is not None:
        allergen_key(body.allergen, "allergen")
    for lot in _packs(bench, body.lots):
        bench.change(lot, published=(*lot.published, Published(bench.fact.seq, body.case)))


def unpublish(bench: Bench) -> None:
    """Take the marks of this case from packs; those of another case stay."""
    body = cast(Unpublish, bench.fact.body)
    _case(bench, body.case)
    for lot in _packs(bench, body.lots):
        others = tuple(one for one in lot.published if one.case != body.case)
        if others == lot.published:
            bench.issue("note", "lots", f"packs whose buyers are warned in case {body.case}", f"{lot.code}, whose are not")
        bench.change(lot, published=others)


def close_case(bench: Bench) -> None:
    """Let the end stand with the case."""
    _case(bench, cast(CloseCase, bench.fact.body).case)


def _case(bench: Bench, number: int) -> OpenCase:
    found = bench.find_card(OpenCase, str(number))
    if found is None:
        raise NotFoundError("case", "the number of an opened case", str(number), "See: labelsvc case")
    return found


def _packs(bench: Bench, refs: tuple[str, ...]) -> list[LotState]:
    """The packs and pack lots named: only these have a page that buyers see."""
    for place, ref in enumerate(refs):
        bench.lot_of(ref, f"lots[{place}]", "pack")
    return bench.all_named(refs)
