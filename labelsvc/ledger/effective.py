"""What the facts say today: each with the last correction that stands in its place."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple, cast

from sqlalchemy import Connection, Row, select

from labelsvc import facts as vocabulary
from labelsvc.errors import NotFoundError
from labelsvc.ledger.among import among
from labelsvc.ledger.append import canonical
from labelsvc.ledger.derive.happening import Happening
from labelsvc.ledger.personal import put_together
from labelsvc.ledger.tables import facts, timeline
from labelsvc.shape import Shape, as_read

_AT_ONCE = 500  # facts read in one go


@dataclass(frozen=True)
class Standing:
    """A fact as it stands: its happening, or None where it was taken back, and the correction that says so."""

    seq: int
    happening: Happening | None
    corrected_by: int | None = None


class _Correction(NamedTuple):
    """A correction that stands: its number and its stored body."""

    seq: int
    body: dict[str, Any]


class _Stored(NamedTuple):
    """A fact as it stands, its body as it was sealed: with keys where something is personal; None where it was taken back."""

    seq: int
    kind: str
    at: str
    body: dict[str, Any] | None
    corrected_by: int | None = None


def _stored(original: Row[Any], corrections: Iterable[Row[Any]], voided: frozenset[int]) -> _Stored:
    """Return how one fact stands.

    Args:
        original: the row of the fact.
        corrections: the rows of the corrections that name it, in order.
        voided: numbers of corrections that were themselves taken back.
    """
    last = _standing_correction(corrections, voided)
    if last is None:
        return _Stored(original.seq, original.kind, original.happened_at, json.loads(original.body))
    if last.body["given"]["instead"] is None:
        return _Stored(original.seq, original.kind, original.happened_at, None, last.seq)
    body = {**last.body, "given": last.body["given"]["instead"], "day": last.body["stands"]["day"]}
    return _Stored(original.seq, original.kind, last.body["stands"]["at"], body, last.seq)


def _read(connection: Connection, several: Iterable[_Stored]) -> Iterator[Standing]:
    """Yield how facts stand, read, with what is personal in its place again."""
    stored = list(several)
    givens = iter(put_together(connection, [one.body["given"] for one in stored if one.body is not None]))
    for one in stored:
        body = None if one.body is None else {**one.body, "given": next(givens)}
        happening = None if body is None else _happening_of(one.seq, one.kind, one.at, body)
        yield Standing(one.seq, happening, one.corrected_by)


def as_sealed(connection: Connection, seq: int) -> Happening:
    """Return a fact as it was first said, before any correction."""
    original = connection.execute(select(facts).where(facts.c.seq == seq)).one()
    return cast(Happening, next(_read(connection, [_stored(original, (), frozenset())])).happening)


def checked_body(kind: str, given: Mapping[str, Any]) -> Shape:
    """Return the checked body of a fact as it was sealed: a correction holds what goes with every kind as well."""
    return vocabulary.read(kind, {key: value for key, value in given.items() if key not in ("at", "who", "confirmed", "ask")})


def said_of(given: Mapping[str, Any], body: Shape) -> str:
    """Return what was given as ``Happening.said`` keeps it, with the checked body."""
    return canonical(as_read(given, body))


def _happening_of(seq: int, kind: str, at: str, body: dict[str, Any]) -> Happening:
    """Return the happening that a stored body describes."""
    checked = checked_body(kind, body["given"])
    return Happening(
        seq=seq,
        kind=kind,
        at=at,
        day=dt.date.fromisoformat(body["day"]),
        body=checked,
        codes=tuple(body.get("codes", ())),
        read_as=body.get("read_as", {}),
        said=said_of(body["given"], checked),
    )


def standing_in(connection: Connection, seq: int) -> Standing:
    """Return how a fact stands in the database."""
    original = connection.execute(select(facts).where(facts.c.seq == seq)).one()
    corrections = _corrections(connection, seq)
    named: dict[int, list[int]] = {}
    wanted = [row.seq for row in corrections]
    while wanted:
        one = wanted.pop()
        named[one] = [row.seq for row in _corrections(connection, one)]
        wanted += named[one]
    voided = frozenset(row.seq for row in corrections if _is_voided(row.seq, named))
    return next(_read(connection, [_stored(original, corrections, voided)]))


def all_standing(connection: Connection) -> Iterator[Standing]:
    """Yield how every fact stands: the cards first, then the rest in the order in which things happened.

    Cards come first because a thing may be written down after it was used; corrections themselves are left out. Only the
    order is held in memory, the facts are read again as their turn comes.
    """
    corrections: dict[int, list[Row[Any]]] = {}
    for row in connection.execute(select(facts).where(facts.c.kind == "correct").order_by(facts.c.seq)):
        corrections.setdefault(corrected(row.body), []).append(row)
    named = {seq: [row.seq for row in several] for seq, several in corrections.items()}
    voided = frozenset(row.seq for several in corrections.values() for row in several if _is_voided(row.seq, named))
    every = select(facts.c.seq, facts.c.kind, facts.c.happened_at).where(facts.c.kind != "correct")
    turns = sorted(
        _turn(row, _standing_correction(corrections.get(row.seq, ()), voided))
        for row in connection.execute(every, execution_options={"yield_per": 5000})
    )
    for start in range(0, len(turns), _AT_ONCE):
        numbers = [seq for _, _, seq in turns[start : start + _AT_ONCE]]
        rows = {row.seq: row for row in connection.execute(select(facts).where(among(facts.c.seq, numbers)))}
        yield from _read(connection, [_stored(rows[seq], corrections.get(seq, ()), voided) for seq in numbers])


def _turn(row: Any, last: _Correction | None) -> tuple[bool, str, int]:
    """Where a fact comes: what was taken back first of all, then the cards, then the rest by time."""
    if last is not None and last.body["given"]["instead"] is None:
        return False, "", row.seq
    at = row.happened_at if last is None else last.body["stands"]["at"]
    return row.kind not in vocabulary.CARDS, at, row.seq


def _standing_correction(corrections: Iterable[Row[Any]], voided: frozenset[int]) -> _Correction | None:
    """Return the last correction that stands, or None."""
    valid = [row for row in corrections if row.seq not in voided]
    return _Correction(valid[-1].seq, json.loads(valid[-1].body)) if valid else None


def kind_and_target(connection: Connection, seq: int) -> tuple[str, int]:
    """Return the kind of a fact, and the fact a correction of it is about: itself, or what a correction in the end corrected.

    Raises:
        NotFoundError: no such fact.
    """
    row = connection.execute(select(facts.c.kind, facts.c.body).where(facts.c.seq == seq)).first()
    if row is None:
        raise NotFoundError("fact", "the number of a recorded fact", str(seq))
    if row.kind != "correct":
        return row.kind, seq
    return row.kind, kind_and_target(connection, corrected(row.body))[1]


def said_by(connection: Connection, seq: int) -> tuple[str, frozenset[str]]:
    """Return the kind of a fact, and who recorded it or corrected it since; of a correction, those of what it corrected.

    Raises:
        NotFoundError: no such fact.
    """
    target = kind_and_target(connection, seq)[1]
    rows = connection.execute(select(facts.c.seq, facts.c.kind, facts.c.recorded_by).where(facts.c.seq.in_((seq, target)))).all()
    kind = next(row.kind for row in rows if row.seq == target)
    return kind, frozenset(row.recorded_by for row in (*rows, *_corrections(connection, target)))


def corrected(sealed: str) -> int:
    """Return the number of the fact that a correction, as it was sealed, is about: it may have been typed as a word."""
    return int(json.loads(sealed)["given"]["fact"])


def correction_subject(seq: int) -> str:
    """Return the timeline subject under which the corrections of a fact are found."""
    return f"fact/{seq}"


def _corrections(connection: Connection, seq: int) -> list[Row[Any]]:
    named = select(timeline.c.fact).where(timeline.c.subject == correction_subject(seq))
    return list(connection.execute(select(facts).where(facts.c.seq.in_(named)).order_by(facts.c.seq)))


def _is_voided(correction: int, named: Mapping[int, Sequence[int]]) -> bool:
    """Tell whether a correction was taken back, and taking it back was not itself taken back."""
    return any(not _is_voided(later, named) for later in named.get(correction, ()))
