"""What is personal in the facts (who supplied, bought, was given, complained) lies beside the sealed chain, and can be erased.

A sealed fact holds ``{"personal": KEY}`` in the place of each such text. The key is the SHA-256 over a random salt and the text:
as long as the text is kept nobody can put another in its place, and once text and salt are erased the key says nothing.
Projections hold the text, so that everyone reads a name as it was; after an erasure they are derived anew.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import re
import secrets
from collections.abc import Generator, Iterable, Iterator, Mapping
from contextlib import closing
from typing import Any

from sqlalchemy import Connection, Row, and_, delete, insert, select, update

from labelsvc.errors import LedgerIntegrityError
from labelsvc.facts import PERSONAL
from labelsvc.ledger.among import among
from labelsvc.ledger.append import canonical
from labelsvc.ledger.derive.bench import card_key
from labelsvc.ledger.tables import facts, personal, requests

Given = Mapping[str, Any]
_ERASED = re.compile(r"erased on [0-9]{4}-[0-9]{2}-[0-9]{2} \(fact [0-9]+\)")
IN_CHUNKS = {"yield_per": 5000}
COLUMNS = tuple(column.name for column in personal.columns)


def put_apart(connection: Connection, kind: str, given: Given, seq: int) -> dict[str, Any]:
    """Keep what is personal of a fact in its own table, and return the fact's fields with keys in the place of it.

    Args:
        connection: the writer's.
        kind: of the fact, or of the one that a correction puts right.
        given: its fields as they were given and checked.
        seq: the number under which it is sealed.
    """
    texts = {name: given[name] for name in PERSONAL.get(kind, ()) if isinstance(given.get(name), str)}
    if not texts:
        return dict(given)
    whose = _whose(connection, kind, given, seq)
    known = {row.text: row.key for row in connection.execute(select(personal).where(personal.c.whose == whose))}
    new: dict[str, dict[str, Any]] = {}
    for text in texts.values():
        if text not in known and text not in new:
            salt = secrets.token_hex(16)
            new[text] = {"key": _key(salt, text), "fact": seq, "whose": whose, "text": text, "salt": salt}
    if new:
        connection.execute(insert(personal), list(new.values()))
    keys = {**known, **{text: row["key"] for text, row in new.items()}}
    return {**given, **{name: {"personal": keys[text]} for name, text in texts.items()}}


def _whose(connection: Connection, kind: str, given: Given, seq: int) -> str:
    """Return whose the texts are: the name, or how to reach them; else nobody's but this fact's."""
    nobody = f"fact {seq}"
    if kind == "answer_complaint":
        return _complainant(connection, given["complaint"]) or nobody
    name = given.get(PERSONAL[kind][0])
    return card_key(name) if isinstance(name, str) else nobody


def _complainant(connection: Connection, complaint: int) -> str | None:
    """Return whose a complaint is, or None where nothing personal was put apart with it or it was erased."""
    body = connection.execute(select(facts.c.body).where(facts.c.seq == complaint)).scalar()
    keys = keys_in(json.loads(body)["given"]) if body else []
    known = and_(personal.c.key.in_(keys), personal.c.erased_on.is_(None))
    return connection.execute(select(personal.c.whose).where(known).limit(1)).scalar()


def keys_in(given: Given) -> list[str]:
    """Return the keys that stand in the fields of a sealed fact."""
    return [value["personal"] for value in given.values() if isinstance(value, dict) and "personal" in value]


def put_together(connection: Connection, several: Iterable[Given]) -> list[dict[str, Any]]:
    """Return the fields of sealed facts with the texts back in the place of their keys.

    Raises:
        LedgerIntegrityError: a text is not there any more, though nobody erased it.
    """
    givens = list(several)
    keys = {key for given in givens for key in keys_in(given)}
    if not keys:
        return [dict(given) for given in givens]
    rows = connection.execute(select(personal.c.key, personal.c.text).where(among(personal.c.key, keys)))
    texts = {row.key: row.text for row in rows}
    missing = sorted(keys - texts.keys())
    if missing:
        raise LedgerIntegrityError(
            f"the personal text of key {missing[0][:16]}... is missing: it was not erased, it was taken away. Restore a backup"
        )
    return [{name: texts[value["personal"]] if _is_key(value) else value for name, value in given.items()} for given in givens]


def _is_key(value: object) -> bool:
    return isinstance(value, dict) and "personal" in value


def texts_in_order(connection: Connection) -> Generator[Row[*tuple[Any, ...]]]:
    """Yield every text with its key, by the fact that it was first sealed with."""
    rows = select(personal).order_by(personal.c.fact, personal.c.key)
    with connection.execute(rows, execution_options=IN_CHUNKS) as found:
        yield from found


def whose_all(connection: Connection) -> list[Row[*tuple[Any, ...]]]:
    """Return everyone of whom something is kept or was erased.

    Returns:
        A row for each: whose, fact (the first that named them), text (the name where there is one) and erased_on.
    """
    found: dict[str, Row[*tuple[Any, ...]]] = {}
    for row in texts_in_order(connection):
        first = found.setdefault(row.whose, row)
        if row.fact == first.fact and card_key(row.text) == row.whose:
            found[row.whose] = row
    return list(found.values())


def erase(connection: Connection, whose: str, on: dt.date, *, by: str, why: str) -> str:
    """Erase everything personal of one person, and return the words that stand in its place from now on.

    Args:
        connection: the writer's; the projections are derived anew in the same transaction by whoever calls.
        whose: as ``whose_all`` gives it.
        on: the day.
        by: who decided it.
        why: the reason, or empty.
    """
    rows = connection.execute(select(personal).where(personal.c.whose == whose)).all()
    words = erased_words(on, min(row.fact for row in rows))
    for row in rows:  # answers to retries may say the name
        connection.execute(delete(requests).where(requests.c.answer.contains(canonical(row.text)[1:-1], autoescape=True)))
    erased = {
        "whose": card_key(words),
        "text": words,
        "salt": None,
        "erased_on": on.isoformat(),
        "erased_by": by,
        "erased_why": why,
    }
    connection.execute(update(personal).where(personal.c.whose == whose).values(**erased))
    return words


def erased_words(on: dt.date | str, fact: int) -> str:
    """Return what is read where something was erased; the first fact that named the person tells them apart from others."""
    return f"erased on {on} (fact {fact})"


def is_erased(name: str) -> bool:
    """Tell whether a name is what stands in the place of one that was erased."""
    return _ERASED.fullmatch(name) is not None


def verify_personal(connection: Connection) -> None:
    """Check that every text fits its key, or was erased.

    Raises:
        LedgerIntegrityError: names the fact whose personal text was changed.
    """
    first: dict[str, int] = {}
    with closing(texts_in_order(connection)) as rows:
        for row in rows:
            check_row(dict(row._mapping), first.setdefault(row.whose, row.fact))


def check_row(row: Mapping[str, Any], first_fact: int) -> None:
    """Check one row: as it lies in the database, or in a line of an export.

    Raises:
        LedgerIntegrityError: the text is another than the one that was sealed.
    """
    if row["salt"] is not None:
        is_right = _key(row["salt"], row["text"]) == row["key"]
    else:
        is_right = row["erased_on"] is not None and row["text"] == erased_words(row["erased_on"], first_fact)
    if not is_right:
        raise LedgerIntegrityError(
            f"the personal text of fact {row['fact']} was changed after it was sealed: it does not fit its key"
        )


def _key(salt: str, text: str) -> str:
    return hashlib.sha256(canonical([salt, text]).encode()).hexdigest()


def whose_by_key(connection: Connection) -> dict[str, str]:
    """Return whose each text is, by its key."""
    return dict(connection.execute(select(personal.c.key, personal.c.whose)).all())


def naming(connection: Connection) -> Iterator[tuple[int, str, dt.date, Given]]:
    """Yield the facts that may name someone, corrections among them: number, the kind they are about, day and sealed fields."""
    rows = select(facts.c.seq, facts.c.kind, facts.c.body).where(facts.c.kind.in_((*PERSONAL, "correct")))
    kinds: dict[int, str] = {}
    with connection.execute(rows.order_by(facts.c.seq), execution_options=IN_CHUNKS) as found:
        for row in found:
            body = json.loads(row.body)
            given, day = body["given"], dt.date.fromisoformat(body["day"])
            kind = row.kind if row.kind != "correct" else kinds.get(given["fact"])
            if kind is not None:
                kinds[row.seq] = kind
                yield row.seq, kind, day, given if row.kind != "correct" else given["instead"] or {}
