"""Holds and their end, complaints, and labels that left the printer: facts that move no mass."""

from __future__ import annotations

from typing import cast

from labelsvc.facts import Complaint, Hold, IssueLabel, Lift
from labelsvc.ledger.derive.bench import Bench
from labelsvc.ledger.state import HeldFor


def hold(bench: Bench) -> None:
    """Hold lots; a pack lot holds all its packs."""
    body = cast(Hold, bench.fact.body)
    for lot in bench.all_named(body.lots):
        bench.change(lot, held_for=(*lot.held_for, HeldFor(bench.fact.seq, body.reason)))


def lift(bench: Bench) -> None:
    """End every hold that people set on these lots; what the law holds stays held, there is no override."""
    body = cast(Lift, bench.fact.body)
    for lot in bench.all_named(body.lots):
        legal = tuple(held for held in lot.held_for if held.finding is not None)
        if not lot.is_held:
            bench.issue("note", "lots", "lots that are held", f"{lot.code}, which is not")
        elif legal == lot.held_for:
            bench.not_held(lot, "lots")
        bench.change(lot, held_for=legal)


def complaint(bench: Bench) -> None:
    """Let the complaint stand in the lot's record."""
    body = cast(Complaint, bench.fact.body)
    if body.code is not None:
        bench.touch(bench.lot(body.code, "code"))


def issue_label(bench: Bench) -> None:
    """Let the label stand in the lots' record."""
    for ref in cast(IssueLabel, bench.fact.body).lots:
        bench.touch(bench.lot(ref, "lots"))
