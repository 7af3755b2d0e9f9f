"""A packing session at the bench: one pack lot that grows pack by pack, so that each weight has its label at once.

The first weight records ``pack``; each further one corrects that fact by one more pack, under the same codes. Until the
session ends, what is not packed yet is the rest of the pieces, so no loss is posted for meat that still lies on the board.
Each step reads and records in one transaction, so that two people at one session, or at two of the same piece, lose nothing.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, cast

import msgspec

from labelsvc import facts
from labelsvc.errors import ConflictError, InputError
from labelsvc.ledger import read
from labelsvc.ledger.asof import lot_from
from labelsvc.ledger.database import Connection, Ledger
from labelsvc.ledger.effective import standing_in
from labelsvc.ledger.state import Issue, LotState
from labelsvc.operations.recording import ENVELOPE, Recorded, record_within, stopped_by, within_once
from labelsvc.units import grams_text, share_out


@dataclass(frozen=True)
class Session:
    """A packing session as it stands.

    Args:
        fact: the number of its ``pack`` fact.
        code: of the pack lot.
        body: the fact as it stands.
        pieces: the pieces it takes from, as they stand now.
        packs: code and grams of each pack.
    """

    fact: int
    code: str
    body: facts.Pack
    pieces: tuple[LotState, ...]
    packs: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class _Since:
    """Of a piece: what is left now and was after the packs, later sessions that took from it, and the fact that weighed it."""

    now: int
    after: int
    later: tuple[int, ...]
    settled: int | None


_Take = tuple[tuple[int, ...], int]  # the later sessions of a piece, and the milligrams that this one takes more of it


@dataclass(frozen=True)
class _Saying:
    """Who puts a session right, when and why."""

    reason: str
    now: dt.datetime
    who: str
    confirmed: bool


def session_of(ledger: Ledger, fact: int) -> Session:
    """Return a packing session by the number of its fact.

    Raises:
        NotFoundError: no such fact.
        ConflictError: it was taken back, or is no packing.
    """
    with ledger.reading() as connection:
        return _session(connection, fact)


def begin(
    ledger: Ledger, given: dict[str, Any], *, now: dt.datetime, who: str, confirmed: bool = False, once: str = ""
) -> Recorded:
    """Record the first packs of a session; what is not in them is the rest of the pieces.

    Args:
        ledger: where.
        given: as of ``pack``, without rests.
        now: the present.
        who: who packs.
        confirmed: whether questions were answered with yes.
        once: a key under which it is recorded once; none if empty.

    Raises:
        InputError, ConflictError, BlockedError: as of ``record``.
    """
    with ledger.writing() as connection:

        def act() -> Recorded:
            body = _with_rests(connection, given)
            return record_within(connection, "pack", body, now=now, who=who, confirmed=confirmed, is_at_bench=True)

        return within_once(connection, once, ["begin packing", given], act)


def _with_rests(connection: Connection, given: dict[str, Any]) -> dict[str, Any]:
    taken = [read.find(connection, one["piece"], f"from[{place}].piece").state for place, one in enumerate(given["from"])]
    shares = _shares(taken, _packed(facts.read("pack", {name: value for name, value in given.items() if name not in ENVELOPE})))
    rests = [max(piece.milligrams - share, 0) for piece, share in zip(taken, shares, strict=True)]
    return {**given, "from": [_left(piece.code, rest) for piece, rest in zip(taken, rests, strict=True)]}


def add_packs(
    ledger: Ledger, fact: int, weights: Sequence[str], *, now: dt.datetime, who: str, confirmed: bool = False, once: str = ""
) -> Recorded:
    """Add packs to a session.

    Args:
        ledger: where.
        fact: the number of the session's fact.
        weights: of the new packs, net.
        now: the present.
        who: who packs.
        confirmed: whether questions were answered with yes.
        once: a key under which it is recorded once; none if empty.

    Raises:
        InputError: a weight that cannot be, named as ``packs[0].weight`` for the first of the new ones.
        BlockedError: a piece is held since the session began.
    """
    new = facts.read("pack", {**_SHELL, "packs": [{"weight": weight} for weight in weights]})
    said = _Saying("one more pack of the same session", now, who, confirmed)
    with ledger.writing() as connection:
        return within_once(
            connection, once, ["add packs", fact, list(weights)], lambda: _added(connection, fact, weights, _packed(new), said)
        )


def _added(connection: Connection, fact: int, weights: Sequence[str], packed: int, said: _Saying) -> Recorded:
    session = _session(connection, fact)
    _refuse_held(session.pieces)
    since = {piece.code: _since(connection, piece, fact) for piece in session.pieces}
    _may_go_on(session, since, packed)
    takes = dict(zip(since, _shares(session.pieces, packed), strict=True))
    body = _json(session.body)
    body["packs"] = [*body["packs"], *({"weight": weight} for weight in weights)]
    body["from"] = [
        {**row, **_left(code, since[code].after - take)} for row, (code, take) in zip(body["from"], takes.items(), strict=True)
    ]
    said = replace(said, reason=f"pack {len(session.packs) + 1} of the same session")
    return _put_right(connection, session, body, {code: (since[code].later, take) for code, take in takes.items()}, said)


def _refuse_held(pieces: Sequence[LotState]) -> None:
    """Refuse to go on with what is held by now: the correction stands at the time of the first pack, when nothing held it."""
    held = [(piece, why) for piece in pieces for why in piece.held_for]
    if held:
        blocked = [Issue("blocked", "from", f"a piece that is not held ({why.reason})", piece.code, why.way_out, why.finding)
                   for piece, why in sorted(held, key=lambda one: one[1].is_stop, reverse=True)]  # fmt: skip
        raise stopped_by(blocked)


def finish(
    ledger: Ledger,
    fact: int,
    left: Sequence[dict[str, str]],
    *,
    now: dt.datetime,
    who: str,
    confirmed: bool = False,
    once: str = "",
) -> Recorded:
    """End a session: say what is left of each piece and what was trimmed away; the difference is what dried since.

    Args:
        ledger: where.
        fact: the number of the session's fact.
        left: for each piece ``{piece, rest?, trim?}``; no rest means that nothing is left.
        now: the present.
        who: who packs.
        confirmed: whether questions were answered with yes.
        once: a key under which it is recorded once; none if empty.

    Raises:
        InputError: a weight that cannot be; ConfirmationNeeded: a lot would count as dried.
    """
    said = _Saying("what was left at the end of the session", now, who, confirmed)
    with ledger.writing() as connection:
        asked = ["finish packing", fact, list(left)]
        return within_once(connection, once, asked, lambda: _finished(connection, fact, left, said))


def _finished(connection: Connection, fact: int, left: Sequence[dict[str, str]], said: _Saying) -> Recorded:
    session = _session(connection, fact)
    since = {piece.code: _since(connection, piece, fact) for piece in session.pieces}
    takes: dict[str, _Take] = {}
    rows = [dict(row) for row in left]
    given = cast(facts.Pack, facts.read("pack", {**_SHELL, "packs": [{"weight": "1 g"}], "from": rows}))
    for row, one in zip(rows, given.from_, strict=True):
        code = read.find(connection, one.piece, "from").state.code
        if code in since and since[code].later:
            there, rest = since[code], one.rest.milligrams if one.rest else 0
            takes[code] = (there.later, there.now - rest)
            row.update(_left(code, there.after - there.now + rest))
    return _put_right(connection, session, {**_json(session.body), "from": rows}, takes, said)


# After these a piece weighs what was said of it then, whatever an earlier session takes.
_SETTLES = ("weigh", "count", "dispose", "split", "string")
_SHELL = {"from": [{"piece": "-"}], "session": "-", "market": "-", "language": "-", "form": "loose"}


def _session(connection: Connection, fact: int) -> Session:
    happening = standing_in(connection, fact).happening
    if happening is None or happening.kind != "pack":
        raise ConflictError("fact", "a packing that stands", f"fact {fact}, which is none or was taken back")
    body = cast(facts.Pack, happening.body)
    lot = read.find(connection, happening.codes[0])
    pieces = tuple(read.find(connection, happening.read_as.get(one.piece, one.piece)).state for one in body.from_)
    packs = tuple((unit.code, grams_text(unit.state.made_milligrams)) for unit in read.units_of(connection, lot))
    return Session(fact, lot.code, body, pieces, packs)


def _since(connection: Connection, piece: LotState, fact: int) -> _Since:
    rows = [row for row in read.history(connection, piece.code) if row.body is not None]
    place = next(place for place, row in enumerate(rows) if row.fact == fact)
    since = rows[place + 1 :]
    settled = next((row.fact for row in since if row.kind in _SETTLES), None)
    later = tuple(row.fact for row in since if row.kind == "pack")
    return _Since(piece.milligrams, lot_from(rows[place].state).milligrams, later, settled)


def _may_go_on(session: Session, since: Mapping[str, _Since], packed: int) -> None:
    """While others take from the same pieces, packs cannot weigh more than is left now.

    Raises:
        ConflictError: a piece was weighed or used since, so that its rest is no longer this session's to say.
    """
    for code, one in since.items():
        if one.settled is not None:
            raise ConflictError(
                "packs", f"a piece that nobody weighed or used since its last pack, {code}", f"fact {one.settled}",
                "End this session, and begin another for the packs that follow.",
            )  # fmt: skip
    left = sum(one.now for one in since.values())
    if packed > left and any(one.later for one in since.values()):
        raise InputError("packs", f"packs of at most the {grams_text(left)} g that are left", f"{grams_text(packed)} g")


def _put_right(
    connection: Connection, session: Session, body: dict[str, Any], takes: Mapping[str, _Take], said: _Saying
) -> Recorded:
    """Correct the session; the rest that later sessions said of the same pieces is less by what this one takes."""
    recorded = _correct(connection, session.fact, body, said, is_at_bench=True)
    others = sorted({fact for later, _ in takes.values() for fact in later})
    also = replace(said, reason=f"{session.code}, packed at the same time, took more", confirmed=True)
    for fact in others:
        other = _session(connection, fact)
        less = {code: milligrams for code, (later, milligrams) in takes.items() if fact in later}
        _correct(connection, fact, {**_json(other.body), "from": _rests_less(other, less)}, also)
    return replace(recorded, later=tuple(one for one in recorded.later if one.fact not in others))


def _rests_less(session: Session, less: Mapping[str, int]) -> list[dict[str, Any]]:
    rows = _json(session.body)["from"]
    for row, piece, taken in zip(rows, session.pieces, session.body.from_, strict=True):
        if taken.rest is not None:
            row.update(_left(piece.code, taken.rest.milligrams - less.get(piece.code, 0)))
    return list(rows)


def _correct(connection: Connection, fact: int, body: dict[str, Any], said: _Saying, *, is_at_bench: bool = False) -> Recorded:
    given = {"fact": fact, "instead": body, "reason": said.reason}
    how: dict[str, Any] = {"now": said.now, "who": said.who, "confirmed": said.confirmed, "is_at_bench": is_at_bench}
    try:
        return record_within(connection, "correct", given, **how)
    except InputError as error:
        raise type(error)(error.field.removeprefix("instead."), error.expected, error.got, error.hint) from None


def _shares(pieces: Sequence[LotState], packed: int) -> list[int]:
    """What these packs take of each piece: by what is there of them."""
    there = [piece.milligrams for piece in pieces]
    return share_out(packed, there) if any(there) else [0] * len(pieces)


def _left(piece: str, rest: int) -> dict[str, str]:
    return {"piece": piece, "rest": f"{grams_text(max(rest, 0))} g"}


def _packed(body: Any) -> int:
    return sum(unit.weight.milligrams for unit in body.packs)


def _json(body: facts.Pack) -> dict[str, Any]:
    return dict(msgspec.to_builtins(body, enc_hook=str))
