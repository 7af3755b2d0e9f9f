"""The whole ledger as lines of JSON, out and in again: an open form that needs neither of the two databases.

One object a line, UTF-8. A fact is ``{seq, kind, version, happened_at, recorded_at, recorded_by, body, previous_hash, hash}``
with its body as JSON; its hash is over the canonical text of it (``append.seal``), so that the lines prove themselves. The texts
whose keys were first sealed with a fact go along in its line as ``personal`` (``ledger/personal.py``). What else is neither fact
nor derived (people, keys of requests ...) follows as ``{table, row}``; bytes stand as ``{"base64": text}``.
Projections are left out: they are derived anew.
"""

from __future__ import annotations

import base64
import json
from collections.abc import Iterable, Iterator
from itertools import islice
from typing import Any

from sqlalchemy import Connection, Table, func, insert, select

from labelsvc import facts as vocabulary
from labelsvc.codes.lot_code import LotCode
from labelsvc.errors import ConflictError, InputError, LedgerIntegrityError
from labelsvc.ledger.append import GENESIS, canonical, seal
from labelsvc.ledger.journal import facts_in_order
from labelsvc.ledger.personal import COLUMNS, check_row, texts_in_order
from labelsvc.ledger.replay import number_on, rebuild
from labelsvc.ledger.tables import PROJECTIONS, counters, facts, metadata, personal

_FIELDS = tuple(column.name for column in facts.columns)
_AT_ONCE = 1000
BESIDE = tuple(table for table in metadata.sorted_tables if table not in (facts, personal, *PROJECTIONS))


def fact_lines(connection: Connection) -> Iterator[str]:
    """Yield every fact as it was sealed, corrections among them, with what is personal in it."""
    beside = texts_in_order(connection)
    kept = next(beside, None)
    for row in facts_in_order(connection):
        texts = []
        while kept is not None and kept.fact <= row.seq:
            texts.append(dict(kept._mapping))
            kept = next(beside, None)
        yield canonical({**row._mapping, "body": json.loads(row.body), **({"personal": texts} if texts else {})})


def all_lines(connection: Connection) -> Iterator[str]:
    """Yield the facts, then what stands beside them."""
    yield from fact_lines(connection)
    for table in BESIDE:
        for row in connection.execute(select(table)):
            yield canonical({"table": table.name, "row": {name: _out(value) for name, value in row._mapping.items()}})


def check(lines: Iterable[str]) -> tuple[int, str]:
    """Read all of it without touching any database.

    Returns:
        How many facts there are, and the hash of the last.

    Raises:
        InputError: names the first line that cannot be.
        LedgerIntegrityError: names the first fact that does not hold.
    """
    count, previous = 0, GENESIS
    first: dict[str, int] = {}
    for number, line in enumerate(lines, start=1):
        one = _read(line, number)
        if "table" in one:
            continue
        if one["seq"] != count + 1 or one["previous_hash"] != previous:
            raise LedgerIntegrityError(
                f"line {number}: fact {one['seq']} does not follow fact {count}: a fact is missing or moved"
            )
        if seal(**{**{name: one[name] for name in _FIELDS if name != "hash"}, "body": canonical(one["body"])}) != one["hash"]:
            raise LedgerIntegrityError(
                f"line {number}: fact {one['seq']} was changed after it was sealed: its contents do not fit its hash"
            )
        _check_personal(one, first, number)
        count, previous = count + 1, one["hash"]
    return count, previous


def load(connection: Connection, lines: Iterable[str]) -> int:
    """Put checked lines into an empty ledger and derive everything from them.

    Args:
        connection: the writer's; all of it is one transaction.
        lines: that ``check`` has read before.

    Returns:
        How many facts came in.

    Raises:
        ConflictError: the ledger holds facts already.
    """
    there = connection.execute(select(func.count()).select_from(facts)).scalar_one()
    if there:
        raise ConflictError("database", "an empty one: nothing is ever overwritten", f"one that holds {there} facts")
    read = (_read(line, number) for number, line in enumerate(lines, start=1))
    last: dict[str, int] = {}
    for some in _in_parts(read):
        sealed = [one for one in some if "table" not in one]
        rows = [{**{name: one[name] for name in _FIELDS}, "body": canonical(one["body"])} for one in sealed]
        if rows:
            connection.execute(insert(facts), rows)
        texts = [row for one in sealed for row in one.get("personal", ())]
        if texts:
            connection.execute(insert(personal), texts)
        for row in rows:
            _count_codes(json.loads(row["body"]), last)
        for one in some:
            if "table" in one and one["table"] != counters.name:
                connection.execute(insert(_table(one["table"])).values({key: _in(value) for key, value in one["row"].items()}))
    if last:
        connection.execute(insert(counters), [{"day": day, "last": number} for day, number in last.items()])
    for table in BESIDE:
        number_on(connection, table)
    rebuild(connection)
    return int(connection.execute(select(func.count()).select_from(facts)).scalar_one())


def _count_codes(body: dict[str, Any], last: dict[str, int]) -> None:
    """Keep count of the codes that were given out on each day, so that none is given out again."""
    for text in body.get("codes", ()):
        code = LotCode.parse(text)
        day = code.day.isoformat()
        last[day] = max(last.get(day, 0), code.number)


def _read(line: str, number: int) -> dict[str, Any]:
    expected = "a fact as export facts writes it"
    try:
        one = json.loads(line)
    except (ValueError, RecursionError):
        raise InputError(f"line {number}", expected, line.strip()[:60] or "an empty line") from None
    if isinstance(one, dict) and set(one) == {"table", "row"} and isinstance(one["row"], dict):
        _table(one["table"])
        return one
    if not isinstance(one, dict) or set(one) - {"personal"} != set(_FIELDS):
        raise InputError(f"line {number}", expected, line.strip()[:60])
    is_known = isinstance(one["kind"], str) and one["kind"] in vocabulary.KINDS
    if not isinstance(one["seq"], int) or not is_known or not isinstance(one["body"], dict):
        raise InputError(f"line {number}", expected, line.strip()[:60], "Perhaps a newer version of the program wrote it.")
    return one


def _check_personal(one: dict[str, Any], first: dict[str, int], number: int) -> None:
    """Check the texts of a fact's line: each must fit its key, or have been erased."""
    for row in one.get("personal", ()):
        if not isinstance(row, dict) or set(row) != set(COLUMNS) or row["fact"] != one["seq"]:
            raise InputError(f"line {number}", "personal texts as export facts writes them", repr(row)[:60])
        check_row(row, first.setdefault(row["whose"], row["fact"]))


def _table(name: object) -> Table:
    for table in BESIDE:
        if table.name == name:
            return table
    raise InputError("table", f"one of {', '.join(table.name for table in BESIDE)}", repr(name))


def _out(value: Any) -> Any:
    return {"base64": base64.b64encode(value).decode()} if isinstance(value, bytes) else value


def _in(value: Any) -> Any:
    return base64.b64decode(value["base64"]) if isinstance(value, dict) else value


def _in_parts(items: Iterator[dict[str, Any]]) -> Iterator[list[dict[str, Any]]]:
    while part := list(islice(items, _AT_ONCE)):
        yield part
