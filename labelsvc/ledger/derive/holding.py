"""Holds and their end, complaints, and labels that left the printer: facts that move no mass."""

from __future__ import annotations

from collections.abc import Sequence
from typing import cast

from labelsvc.errors import NotFoundError
from labelsvc.facts import AnswerComplaint, Complaint, Hold, IssueLabel, Lift, ReprintLabel, VoidLabel
from labelsvc.ledger.derive.bench import Bench
from labelsvc.ledger.state import HeldFor, LotState


def hold(bench: Bench) -> None:
    """Hold lots; a pack lot holds all its packs."""
    body = cast(Hold, bench.fact.body)
    hold_all(bench, bench.all_named(body.lots), body.reason)


def hold_all(bench: Bench, lots: Sequence[LotState], reason: str) -> None:
    """Hold lots, and what late entries make of them: nobody could see it when the hold was said, and it is the same meat."""
    late = [lot for lot in _entered_late(bench, lots) if lot.milligrams or lot.holder or lot.units]
    for lot in (*lots, *late):
        bench.change(lot, held_for=(*lot.held_for, HeldFor(bench.fact.seq, reason)))
    if late:
        codes = ", ".join(lot.code for lot in late if not lot.units)
        bench.issue("note", "lots", "all that was made of them before to be recorded before", codes, f"Held too: {reason}.")


def _entered_late(bench: Bench, lots: Sequence[LotState]) -> list[LotState]:
    """Return what was made of lots before this fact, by facts that were recorded after it."""
    named = {lot.code for lot in lots}
    return [lot for lot in bench.made_of(lots, "", bench.fact.seq) if lot.code not in named]


def lift(bench: Bench) -> None:
    """End the holds that are named, or every hold on these lots; never those of a limit that is passed: there is no override.

    Holds of several facts are decisions of their own: where none is named, it is asked once whether all of them end. Where a
    measured value or a figure of the law is lacking, the responsible person decides by name, and the decision stays with the
    lot; putting on more of a cure ends it.
    """
    body = cast(Lift, bench.fact.body)
    several: dict[int, str] = {}
    lots, facts = bench.all_named(body.lots), set[int]()
    for lot in lots:
        ended = [held for held in lot.held_for if not held.is_stop and (not body.holds or held.fact in body.holds)]
        if not body.holds and len({held.fact for held in ended}) > 1:
            several.update({held.fact: held.reason for held in ended})
        _may_be_lifted(bench, lot, body, ended)
        rules = (str(held.finding["rule"]) for held in ended if held.finding)
        kept = tuple(held for held in lot.held_for if held not in ended)
        bench.change(lot, held_for=kept, decided=tuple(dict.fromkeys((*lot.decided, *rules))))
        facts |= {held.fact for held in ended}
    for lot in _entered_late(bench, lots):  # what a late entry made of them was decided on with them
        bench.change(lot, held_for=tuple(held for held in lot.held_for if held.fact not in facts or held.finding))
    if several:
        said = "; ".join(f"{reason} (fact {fact})" for fact, reason in several.items())
        bench.issue("ask", "holds", "which of the holds was decided on", said, "Yes ends all of them; name one to end only that.")


def _may_be_lifted(bench: Bench, lot: LotState, body: Lift, ended: Sequence[HeldFor]) -> None:
    stopped = any(held.is_stop and (not body.holds or held.fact in body.holds) for held in lot.held_for)
    lacking = [held for held in ended if held.is_lack]
    if stopped and len(lacking) == len(ended):  # deciding what is lacking would free nothing
        bench.not_held(lot, "lots")
    elif not ended:
        wanted = f"lots that fact {' or '.join(map(str, body.holds))} holds" if body.holds else "lots that are held"
        bench.issue("note", "lots", wanted, f"{lot.code}, which is not")
    if lacking and not (body.by or "").strip():
        expected = "the name of the responsible person, who decides without a measured value or confirmed figure"
        bench.issue("refuse", "by", expected, "nothing", lacking[0].reason)


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
