"""The demo workshop: an invented story recorded fact by fact, its labels printed."""

from __future__ import annotations

import datetime as dt
import json
import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from labelsvc.errors import ConflictError
from labelsvc.labels.shelf import Shelf
from labelsvc.ledger import journal, read
from labelsvc.ledger.database import Ledger
from labelsvc.operations.labelling import sale_label, tag
from labelsvc.operations.recording import record

PRINTED_BY = "demo"
_REFERENCE = re.compile(r"\$([a-z_]+)(?:\.([0-9]+))?")


@dataclass(frozen=True)
class Demo:
    """What was built.

    Args:
        facts: how many facts were recorded.
        named: the codes by the names the story gives them.
        files: the PDFs that were written.
    """

    facts: int
    named: Mapping[str, tuple[str, ...]]
    files: tuple[Path, ...]


def build_demo(ledger: Ledger, story: Path, layouts: Shelf, folder: Path, now: dt.datetime) -> Demo:
    """Record the demo workshop in an empty ledger and write its labels.

    Args:
        ledger: an empty one.
        story: the folder with ``facts.toml``.
        layouts: the layouts at hand.
        folder: where the PDFs go; made if missing.
        now: the present; the story ends a few days before.

    Raises:
        ConflictError: the ledger holds facts already.
    """
    with ledger.reading() as connection:
        if next(journal.facts_in_order(connection), None) is not None:
            raise ConflictError("database", "a database without facts", "one that holds facts", "Give another with --database.")
    told = _told(story)
    named: dict[str, tuple[str, ...]] = {}
    numbers: dict[str, int] = {}
    for entry in told:
        _record(ledger, entry, named, numbers, layouts, now)
    return Demo(len(told), named, tuple(_print(ledger, layouts, folder, now)))


def holds_only_the_demo(ledger: Ledger, story: Path) -> bool:
    """Tell whether all facts in a ledger are the demo's own, so that it may be built again in their place."""
    people = {entry["who"] for entry in _told(story)} | {PRINTED_BY}
    with ledger.reading() as connection:
        rows = list(journal.facts_in_order(connection))
    first = json.loads(rows[0].body)["given"].get("name") if rows else None
    return first == _told(story)[0]["given"]["name"] and all(row.recorded_by in people for row in rows)


def _told(story: Path) -> list[dict[str, Any]]:
    return list(tomllib.loads((story / "facts.toml").read_text(encoding="utf-8"))["fact"])


def _record(
    ledger: Ledger,
    entry: Mapping[str, Any],
    named: dict[str, tuple[str, ...]],
    numbers: dict[str, int],
    layouts: Shelf,
    now: dt.datetime,
) -> None:
    """Record one entry of the story as if it were recorded at its time."""
    moment = _moment(entry, now)
    if "label" in entry:
        sale_label(ledger, _named(entry["code"], named), layouts=layouts, now=moment, who=entry["who"])
        return
    given = _named(entry["given"], named)
    if "corrects" in entry:
        given["fact"] = numbers[entry["corrects"]]
    done = record(ledger, entry["kind"], given, now=moment, who=entry["who"])
    if "as" in entry:
        named[entry["as"]], numbers[entry["as"]] = done.codes, done.fact


def _moment(entry: Mapping[str, Any], now: dt.datetime) -> dt.datetime:
    zone = ZoneInfo("Europe/Dublin")  # the workshop's own, as its first fact says
    day = now.astimezone(zone).date() + dt.timedelta(days=entry["day"])
    return dt.datetime.combine(day, dt.time.fromisoformat(entry["time"]), zone)


def _named(value: Any, named: Mapping[str, tuple[str, ...]]) -> Any:
    """Put the codes in the place of ``$name`` and ``$name.2``."""
    if isinstance(value, str):
        match = _REFERENCE.fullmatch(value)
        return named[match.group(1)][int(match.group(2) or 1) - 1] if match else value
    if isinstance(value, list):
        return [_named(inner, named) for inner in value]
    if isinstance(value, dict):
        return {key: _named(inner, named) for key, inner in value.items()}
    return value


def _print(ledger: Ledger, layouts: Shelf, folder: Path, now: dt.datetime) -> list[Path]:
    """Write a tag for each piece that hangs and the labels of each pack lot that may be sold."""
    folder.mkdir(parents=True, exist_ok=True)
    with ledger.reading() as connection:
        here = [row.state for row in read.here(connection)]
    hanging = [lot.code for lot in here if lot.phase == "hanging"]
    packs = dict.fromkeys(lot.code.partition("/")[0] for lot in here if lot.kind == "pack" and not lot.is_held)
    files = []
    for code in hanging:
        files.append(folder / f"tag-{code}.pdf")
        files[-1].write_bytes(tag(ledger, code, layouts=layouts, now=now, who=PRINTED_BY).pdf)
    for code in packs:
        files.append(folder / f"sale-labels-{code}.pdf")
        files[-1].write_bytes(sale_label(ledger, code, layouts=layouts, now=now, who=PRINTED_BY).pdf)
    return files
