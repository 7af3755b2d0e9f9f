"""From one fact to what follows from it: postings, states, issues. Pure; one module a moment of work.

``derive`` is the only way postings come into being: recording, correcting, a late entry and a rebuild all call it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from labelsvc.ledger.derive import cards, caring, curing, cutting, hanging, holding, lawful, packing, recalling, selling
from labelsvc.ledger.derive.bench import Bench
from labelsvc.ledger.derive.happening import Derived, Happening
from labelsvc.ledger.derive.lookup import Lookup

_BY_KIND: Mapping[str, Callable[[Bench], None]] = {
    "figure": lawful.figure,
    "receive": cutting.receive,
    "reserve": cutting.reserve,
    "cut": cutting.cut,
    "cure": curing.cure,
    "salt_again": curing.salt_again,
    "coat": curing.coat,
    "turn": caring.turn,
    "move": hanging.move,
    "take_out": curing.take_out,
    "split": hanging.split,
    "string": hanging.string,
    "weigh": hanging.weigh,
    "check": lawful.check,
    "release": hanging.release,
    "pack": packing.pack,
    "sell": selling.sell,
    "give": selling.give,
    "return": selling.take_back,
    "dispose": selling.dispose,
    "count": caring.count,
    "incident": caring.incident,
    "clean": caring.clean,
    "hold": holding.hold,
    "lift": holding.lift,
    "complaint": holding.complaint,
    "answer_complaint": holding.answer_complaint,
    "open_case": recalling.open_case,
    "tell": recalling.tell,
    "case_step": recalling.case_step,
    "publish": recalling.publish,
    "unpublish": recalling.unpublish,
    "close_case": recalling.close_case,
    "issue_label": holding.issue_label,
    "reprint_label": holding.issue_label,
    "void_label": holding.issue_label,
}


def derive(happening: Happening, lookup: Lookup) -> Derived:
    """Return what follows from a fact.

    Args:
        happening: the effective fact with its place in time and the codes it gave out.
        lookup: states and cards as they stood just before.

    Raises:
        NotFoundError: the fact names a lot that did not exist then.
        InputError: the fact names a product, supplier or other card that did not exist then.
    """
    bench = Bench(happening, lookup)
    if happening.kind in _BY_KIND:
        _BY_KIND[happening.kind](bench)
    else:
        cards.keep_card(bench)
    return bench.derived()
