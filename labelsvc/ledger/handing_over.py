"""What a fact's postings say of each lot: what came into it, and to whom it went."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from itertools import groupby
from typing import Any

import msgspec

from labelsvc.ledger.derive.bench import card_key
from labelsvc.ledger.derive.happening import Happening
from labelsvc.ledger.state import Posting, is_lot_kind

TAKERS = ("customer", "gift", "own use", "sample")  # ends where somebody may eat it
_BUYERS = ("customer", "gift")  # ends that something may come back from


def came_in_of(lines: Iterable[Posting]) -> dict[str, int]:
    """Return by code the milligrams that went into each lot: from suppliers, from other lots, and found by weighing.

    What comes back from a buyer went in before, when the pack was made.

    Args:
        lines: the postings of a fact, in order.
    """
    found = Counter[str]()
    for flow in _flows(lines):
        if not any(line.kind in _BUYERS and line.milligrams < 0 for line in flow):
            found.update({line.account: line.milligrams for line in flow if line.milligrams > 0 and is_lot_kind(line.kind)})
    return dict(found)


def handed_over_rows(happening: Happening, lines: Iterable[Posting], numbers: Mapping[str, int]) -> list[dict[str, Any]]:
    """Return the rows of who got which lot by a fact, negative what came back; ``numbers`` are those of the lots by code."""
    return [
        {
            "fact": happening.seq, "lot": numbers[line.account], "account": line.account, "kind": end.kind,
            "name": end.account, "name_key": card_key(end.account), "milligrams": -line.milligrams,
            "at": happening.at, "day": happening.day.isoformat(), "document": _document_of(happening.said),
        }
        for flow in _flows(lines)
        for end in flow
        if end.kind in TAKERS
        for line in flow
        if is_lot_kind(line.kind)
    ]  # fmt: skip


def _flows(lines: Iterable[Posting]) -> Iterable[Sequence[Posting]]:
    return [list(group) for _, group in groupby(lines, key=lambda line: line.flow)]


class _Named(msgspec.Struct):  # of a long body nothing else is read
    document: str | None = None


def _document_of(said: str) -> str | None:
    return msgspec.json.decode(said, type=_Named).document
