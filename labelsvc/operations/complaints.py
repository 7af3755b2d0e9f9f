"""Complaints: what buyers said, what was decided, and where two complaints meet in a lot that both were made of."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Mapping, Sequence
from typing import Any

from labelsvc.errors import NotFoundError
from labelsvc.ledger import flows, read
from labelsvc.ledger.database import Connection, Ledger
from labelsvc.ledger.follow_up import numbered
from labelsvc.ledger.read import LotRow

_NEAREST = ("piece", "part", "animal", "ingredient")  # what two complaints may have in common, the most telling first
_COMPARED = 200  # of the last complaints, answered ones too, that an open one is held against on the first page
_SAID = {"piece": "the same piece", "part": "the same part", "animal": "the same animal", "ingredient": "the same lot of"}


def complaints(ledger: Ledger, *, is_open: bool = False) -> list[dict[str, Any]]:
    """Return the complaints, the newest first.

    Args:
        ledger: where.
        is_open: only those that nobody has answered yet.

    Returns:
        For each: complaint (its number), day, by, text, contact, code, name, answers, and meets: the other complaints that
        were made of something it was made of, each with number, code, name and the nearest thing in common.
    """
    with ledger.reading() as connection:
        answers = _answers(connection)
        rows = numbered(connection, "complaint")
        near = {row.fact for row in rows[-_COMPARED:]}
        kept = [row for row in rows if not is_open or row.fact in near or row.fact not in answers]
        found = [_complaint(connection, row, answers.get(row.fact, [])) for row in kept]
        origins = _origins(connection, found)
    for one in found:
        one["meets"] = [_meeting(one, other, origins) for other in found if other is not one and _common(one, other, origins)]
    return [one for one in reversed(found) if not (is_open and one["answers"])]


def complaint_of(ledger: Ledger, number: int) -> dict[str, Any]:
    """Return one complaint, as of ``complaints``.

    Raises:
        NotFoundError: no such complaint.
    """
    found = next((one for one in complaints(ledger) if one["complaint"] == number), None)
    if found is None:
        raise NotFoundError("complaint", "the number of a recorded complaint", str(number), "See: labelsvc complaints")
    return found


def _answers(connection: Connection) -> dict[int, list[dict[str, Any]]]:
    """Return what was decided, by the number of the complaint."""
    found: dict[int, list[dict[str, Any]]] = {}
    for row in numbered(connection, "answer_complaint"):
        found.setdefault(int(json.loads(row.body)["complaint"]), []).append(_answer(row))
    return found


def _complaint(connection: Connection, row: Any, answers: list[dict[str, Any]]) -> dict[str, Any]:
    body = json.loads(row.body)
    lot = read.find(connection, body["code"]) if body.get("code") else None
    return {
        "complaint": row.fact,
        "day": row.day,
        "by": row.recorded_by,
        "text": body["text"],
        "contact": body.get("contact"),
        "code": lot.code if lot else None,
        "name": lot.state.name if lot else None,
        "answers": answers,
    }


def _answer(row: Any) -> dict[str, Any]:
    body = json.loads(row.body)
    by = body.get("by") or row.recorded_by
    return {"fact": row.fact, "day": row.day, "by": by, "decision": body["decision"], "answer": body.get("answer")}


def _origins(connection: Connection, found: Sequence[Mapping[str, Any]]) -> dict[str, dict[str, LotRow]]:
    """Return for each code complained about the lots it was made of, itself and its printed lot among them, by code."""
    units = {code: read.units_of(connection, read.find(connection, code)) for code in {one["code"] for one in found} if code}
    seeds = sorted({unit.number for several in units.values() for unit in several})
    givers: dict[int, set[int]] = defaultdict(set)
    for link in flows.links_back(connection, seeds) if seeds else ():
        givers[link.receiver].add(link.giver)
    numbers = sorted({*seeds, *(giver for several in givers.values() for giver in several)})
    rows = {row.number: row for row in read.lots_of(connection, numbers)} if numbers else {}
    return {code: _behind([unit.number for unit in several], givers, rows) for code, several in units.items()}


def _behind(seeds: Sequence[int], givers: Mapping[int, set[int]], rows: Mapping[int, LotRow]) -> dict[str, LotRow]:
    reached: set[int] = set()
    waiting = list(seeds)
    while waiting:
        number = waiting.pop()
        if number not in reached:
            reached.add(number)
            waiting += givers.get(number, ())
    return {rows[number].code: rows[number] for number in sorted(reached)}


def _common(one: Mapping[str, Any], other: Mapping[str, Any], origins: Mapping[str, Mapping[str, LotRow]]) -> list[LotRow]:
    """Return the lots that both were made of, the most telling first."""
    mine, theirs = origins.get(one["code"] or "", {}), origins.get(other["code"] or "", {})
    both = [row for code, row in mine.items() if code in theirs]
    told = [row for row in both if row.state.kind in _NEAREST and row.state.phase != "mixed"]
    return sorted(told, key=lambda row: (_NEAREST.index(row.state.kind), row.number))


def _meeting(one: Mapping[str, Any], other: Mapping[str, Any], origins: Mapping[str, Mapping[str, LotRow]]) -> dict[str, Any]:
    nearest = _common(one, other, origins)[0]
    is_printed = one["code"].partition("/")[0] == other["code"].partition("/")[0]
    kind = nearest.state.kind
    what = f"{_SAID[kind]} {nearest.state.name}" if kind == "ingredient" else _SAID[kind]
    return {
        "complaint": other["complaint"],
        "code": nearest.code,
        "name": nearest.state.name,
        "text": f"{'the same printed lot, ' if is_printed else ''}{what}, {nearest.code}",
    }
