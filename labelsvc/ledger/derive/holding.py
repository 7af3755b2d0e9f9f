"""Holds and their end, complaints, and labels that left the printer: facts that move no mass."""

from __future__ import annotations

from typing import cast

from labelsvc.errors import NotFoundError
from labelsvc.facts import AnswerComplaint, Complaint, Hold, IssueLabel, Lift, ReprintLabel, VoidLabel
from labelsvc.ledger.derive.bench import Bench
from labelsvc.ledger.state import HeldFor


def hold(bench: Bench) -> None:
    """Hold lots; a pack lot holds all its packs."""
    body = cast(Hold, bench.fact.body)
    for lot in bench.all_named(body.lots):
        bench.change(lot, held_for=(*lot.held_for, HeldFor(bench.fact.seq, body.reason)))


def lift(bench: Bench) -> None:
    """End every hold on these lots but those of a limit that is passed: there is no override.

    Where a measured value or a figure of the law is lacking, the responsible person decides by name, and the decision stays
    with the lot; putting on more of a cure ends it.
    """
    body = cast(Lift, bench.fact.body)
    for lot in bench.all_named(body.lots):
        lacking = [held for held in lot.held_for if held.is_lack]
        stopped = tuple(held for held in lot.held_for if held.is_stop)
        if not lot.is_held:
            bench.issue("note", "lots", "lots that are held", f"{lot.code}, which is not")
        elif stopped and len(stopped) + len(lacking) == len(lot.held_for):  # deciding what is lacking would free nothing
            bench.not_held(lot, "lots")
        if lacking and not (body.by or "").strip():
            expected = "the name of the responsible person, who decides without a measured value or confirmed figure"
            bench.issue("refuse", "by", expected, "nothing", lacking[0].reason)
        rules = (str(held.finding["rule"]) for held in lacking if held.finding)
        bench.change(lot, held_for=stopped, decided=tuple(dict.fromkeys((*lot.decided, *rules))))


def complaint(bench: Bench) -> None:
    """Let the complaint stand in the lot's record, and be found by its number until it is answered."""
    body = cast(Complaint, bench.fact.body)
    bench.keep_numbered()
    if body.code is not None:
        bench.touch(bench.lot(body.code, "code"))


def answer_complaint(bench: Bench) -> None:
    """Let the answer stand with the complaint, and in the lot's record."""
    number = cast(AnswerComplaint, bench.fact.body).complaint
    answered = bench.find_card(Complaint, str(number))
    if answered is None:
        raise NotFoundError("complaint", "the number of a recorded complaint", str(number), "See: labelsvc complaints")
    bench.keep_numbered()
    if answered.code is not None:
        bench.touch(bench.lot(answered.code, "complaint"))


def issue_label(bench: Bench) -> None:
    """Let the label, its reprint or its end stand in the lots' record."""
    for ref in cast(IssueLabel | ReprintLabel | VoidLabel, bench.fact.body).lots:
        bench.touch(bench.lot(ref, "lots"))
