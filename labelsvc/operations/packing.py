"""A packing session at the bench: one pack lot that grows pack by pack, so that each weight has its label at once.

The first weight records ``pack``; each further one corrects that fact by one more pack, under the same codes. Until the
session ends, what is not packed yet is the rest of the pieces, so no loss is posted for meat that still lies on the board.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, cast

import msgspec

from labelsvc import facts
from labelsvc.errors import ConflictError, InputError
from labelsvc.ledger import read
from labelsvc.ledger.database import Connection, Ledger
from labelsvc.ledger.effective import standing_in
from labelsvc.ledger.state import LotState
from labelsvc.operations.recording import Recorded, record
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


def session_of(ledger: Ledger, fact: int) -> Session:
    """Return a packing session by the number of its fact.

    Raises:
        NotFoundError: no such fact.
        ConflictError: it was taken back, or is no packing.
    """
    with ledger.reading() as connection:
        return _session(connection, fact)


def begin(ledger: Ledger, given: dict[str, Any], *, now: dt.datetime, who: str, confirmed: bool = False) -> Recorded:
    """Record the first packs of a session; what is not in them is the rest of the pieces.

    Args:
        ledger: where.
        given: as of ``pack``, without rests.
        now: the present.
        who: who packs.
        confirmed: whether questions were answered with yes.

    Raises:
        InputError, ConflictError, BlockedError: as of ``record``.
    """
    with ledger.reading() as connection:
        taken = [read.find(connection, one["piece"], f"from[{place}].piece").state for place, one in enumerate(given["from"])]
    given = {**given, "from": _with_rests(taken, _packed(facts.read("pack", given)))}
    return record(ledger, "pack", given, now=now, who=who, confirmed=confirmed)


def add_packs(
    ledger: Ledger, fact: int, weights: Sequence[str], *, now: dt.datetime, who: str, confirmed: bool = False
) -> Recorded:
    """Add packs to a session.

    Args:
        ledger: where.
        fact: the number of the session's fact.
        weights: of the new packs, net.
        now: the present.
        who: who packs.
        confirmed: whether questions were answered with yes.

    Raises:
        InputError: a weight that cannot be, named as ``packs[0].weight`` for the first of the new ones.
    """
    new = facts.read("pack", {**_SHELL, "packs": [{"weight": weight} for weight in weights]})
    with ledger.reading() as connection:
        session = _session(connection, fact)
    body = _json(session.body)
    body["packs"] = [*body["packs"], *({"weight": weight} for weight in weights)]
    body["from"] = _with_rests(session.pieces, _packed(new))
    reason = f"pack {len(session.packs) + 1} of the same session"
    return _put_right(ledger, fact, body, reason, now, who, confirmed)


def finish(
    ledger: Ledger, fact: int, left: Sequence[dict[str, str]], *, now: dt.datetime, who: str, confirmed: bool = False
) -> Recorded:
    """End a session: say what is left of each piece and what was trimmed away; the difference is what dried since.

    Args:
        ledger: where.
        fact: the number of the session's fact.
        left: for each piece ``{piece, rest?, trim?}``; no rest means that nothing is left.
        now: the present.
        who: who packs.
        confirmed: whether questions were answered with yes.

    Raises:
        InputError: a weight that cannot be; ConfirmationNeeded: a lot would count as dried.
    """
    with ledger.reading() as connection:
        session = _session(connection, fact)
    body = {**_json(session.body), "from": list(left)}
    return _put_right(ledger, fact, body, "what was left at the end of the session", now, who, confirmed)


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


def _put_right(
    ledger: Ledger, fact: int, body: dict[str, Any], reason: str, now: dt.datetime, who: str, confirmed: bool
) -> Recorded:
    given = {"fact": fact, "instead": body, "reason": reason}
    try:
        return record(ledger, "correct", given, now=now, who=who, confirmed=confirmed)
    except InputError as error:
        raise type(error)(error.field.removeprefix("instead."), error.expected, error.got, error.hint) from None


def _with_rests(pieces: Sequence[LotState], packed: int) -> list[dict[str, str]]:
    """What is left of each piece after these packs, taken from all by what is there of them."""
    there = [piece.milligrams for piece in pieces]
    taken = share_out(packed, there) if any(there) else [0] * len(pieces)
    rests = [max(grams - part, 0) for grams, part in zip(there, taken, strict=True)]
    return [{"piece": piece.code, "rest": f"{grams_text(rest)} g"} for piece, rest in zip(pieces, rests, strict=True)]


def _packed(body: Any) -> int:
    return sum(unit.weight.milligrams for unit in body.packs)


def _json(body: facts.Pack) -> dict[str, Any]:
    return dict(msgspec.to_builtins(body, enc_hook=str))
