"""Withdrawals and recalls that are not over: which there are, and which lots each starts from. Exercises are none."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from labelsvc.ledger import read
from labelsvc.ledger.database import Connection
from labelsvc.ledger.follow_up import with_all_naming


@dataclass(frozen=True)
class Open:
    """A withdrawal or recall that is not closed.

    Args:
        number: of the fact that opened it.
        what: withdrawal or recall.
        reason: why.
        lots: codes of the lots it starts from, those it was made wider by among them.
    """

    number: int
    what: str
    reason: str
    lots: tuple[str, ...]

    @property
    def said(self) -> str:
        """How it is called, in words."""
        return f"{self.what} {self.number} ({self.reason})"


def open_cases(connection: Connection) -> list[Open]:
    """Return the withdrawals and recalls that are not closed, oldest first."""
    opened: dict[str, dict[str, Any]] = {}
    lots: dict[str, list[str]] = {}
    closed: set[str] = set()
    for row in with_all_naming(connection, "open_case"):
        body = json.loads(row.body)
        if row.kind == "open_case":
            opened[row.number] = body
        if row.kind == "open_case" or body.get("what") == "wider":
            lots.setdefault(row.number, []).extend(body["lots"])
        elif row.kind == "close_case":
            closed.add(row.number)
    return [
        Open(int(number), body["what"], body["reason"], tuple(lots[number]))
        for number, body in opened.items()
        if number not in closed and body["what"] != "mock"
    ]


def seeds_of(connection: Connection, lots: Iterable[str]) -> set[int]:
    """Return the numbers of the lots that a case starts from; a pack lot stands for its packs."""
    return {unit.number for text in lots for unit in read.units_of(connection, read.find(connection, text, "lots"))}
