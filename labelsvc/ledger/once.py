"""Keys that make a retry safe: a request sent again under its key gets the first answer and records nothing more."""

from __future__ import annotations

import hashlib
import re

from sqlalchemy import Connection, delete, insert, select

from labelsvc.errors import ConflictError, InputError
from labelsvc.ledger.tables import facts, requests

_KEY = re.compile(r"[ -~]{1,200}")


def is_key(text: str) -> bool:
    """Tell whether a text may be a key of a request."""
    return bool(_KEY.fullmatch(text))


def answer_before(connection: Connection, key: str, asked: str) -> str | None:
    """Return what was answered when this request was recorded, or None where it was not.

    Args:
        connection: the writer's connection: nobody else records under the key meanwhile.
        key: chosen by whoever asks, new for each request.
        asked: the request, as text.

    Raises:
        InputError: no such key can be.
        ConflictError: the key stands for another request.
    """
    if not is_key(key):
        raise InputError("once", "a key of 1 to 200 letters, digits and signs of ASCII", key)
    row = connection.execute(select(requests).where(requests.c.key == key)).first()
    if row is None:
        return None
    if row.digest != _digest(asked):
        raise ConflictError(
            "once", "a new key for a new request", f"{key}, under which fact {row.fact} was recorded",
            f"What was sent first stands. To change it, correct fact {row.fact}.",
        )  # fmt: skip
    return str(row.answer)


def keep_answer(connection: Connection, key: str, asked: str, fact: int, answer: str) -> None:
    """Keep what was answered, in the transaction that recorded it."""
    row = {"key": key, "digest": _digest(asked), "fact": fact, "answer": answer}
    connection.execute(insert(requests).values(**row))


def forget_before(connection: Connection, instant: str) -> int:
    """Forget the keys of facts that were recorded before an instant, and return how many there were."""
    old = select(facts.c.seq).where(facts.c.recorded_at < instant)
    return connection.execute(delete(requests).where(requests.c.fact.in_(old))).rowcount


def _digest(asked: str) -> str:
    return hashlib.sha256(asked.encode()).hexdigest()
