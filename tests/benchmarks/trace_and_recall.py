"""Trace and recall beside the bare recursive walk in SQL, at several sizes of the ledger, in one run.

    python -m benchmarks.trace_and_recall --lots 10000 --lots 100000 [--database postgresql+psycopg://.../empty] [--keep DIR]

(from ``tests``). The walk is what no answer can be faster than: the numbers of the same lots, without their rows.
"""

from __future__ import annotations

import argparse
import statistics
import time
from collections.abc import Callable
from pathlib import Path
from tempfile import mkdtemp

from sqlalchemy import ColumnElement, Connection, TextClause, select, text

from benchmarks.bulk import fill
from benchmarks.workshop_years import WorkshopYears
from labelsvc.ledger.database import Ledger, open_ledger
from labelsvc.ledger.tables import lots
from labelsvc.operations import looking
from labelsvc.operations.batch import batch_record
from labelsvc.operations.recalling import Suspicion, recall
from labelsvc.operations.tracing import trace

_DOWN = text(
    "WITH RECURSIVE reach(id) AS (SELECT id FROM lots WHERE code = :code "
    "UNION SELECT links.receiver FROM reach JOIN links ON links.giver = reach.id) SELECT id FROM reach"
)
_UP = text(
    "WITH RECURSIVE reach(id) AS (SELECT id FROM lots WHERE code = :code "
    "UNION SELECT links.giver FROM reach JOIN links ON links.receiver = reach.id) SELECT id FROM reach"
)


def median(act: Callable[[], object], clock: Callable[[], float], least_seconds: float = 1.0) -> float:
    """Return the median time of an act in milliseconds by a clock, over at least five runs and so many seconds."""
    act()
    times: list[float] = []
    while len(times) < 5 or (sum(times) < least_seconds and len(times) < 200):
        began = clock()
        act()
        times.append(clock() - began)
    return statistics.median(times) * 1000


def middle(connection: Connection, where: ColumnElement[bool]) -> str:
    """Return the code of the lot in the middle of those that fit: neither the first ones, nor the last, which hang still."""
    codes = connection.execute(select(lots.c.code).where(where).order_by(lots.c.id)).scalars().all()
    return str(codes[len(codes) // 2])


def measure(ledger: Ledger) -> dict[str, tuple[float, float, int]]:
    """Return for each question: milliseconds of the full answer, of the bare walk, and how many lots it is about."""
    found: dict[str, tuple[float, float, int]] = {}
    # SQLite works in this process: its time on the processor does not count what other programs take of a shared machine
    clock = time.process_time if ledger.engine.dialect.name == "sqlite" else time.perf_counter
    with ledger.reading() as connection:
        wide, narrow = (middle(connection, lots.c.ingredient_key == name) for name in ("salt", "juniper"))
        pack = middle(connection, lots.c.state == "sold")

        def walk(way: TextClause, code: str) -> int:
            return len(connection.execute(way, {"code": code}).all())

        for name, act, way, code in (
            ("trace of a narrow lot", lambda: trace(ledger, narrow), _DOWN, narrow),
            ("recall of a narrow lot", lambda: recall(ledger, Suspicion(lots=(narrow,))), _DOWN, narrow),
            ("trace of a sold pack", lambda: trace(ledger, pack), _UP, pack),
            ("wide recall, whole", lambda: recall(ledger, Suspicion(lots=(wide,))), _DOWN, wide),
        ):
            found[name] = (median(act, clock), median(lambda way=way, code=code: walk(way, code), clock), walk(way, code))
    for name, act in (
        ("what is in the workshop", lambda: looking.standings(ledger)),
        ("one lot's record", lambda: batch_record(ledger, pack)),
        ("scan to its next step", lambda: looking.standing_of(ledger, pack)),
    ):
        found[name] = (median(act, clock), 0.0, 0)
    return found


def main() -> None:
    """Fill a ledger of each size and print what was measured."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--lots", type=int, action="append", help="sizes of the ledger; 10000 and 100000 if left out")
    asked.add_argument("--database", help="an empty PostgreSQL database; SQLite files if left out")
    asked.add_argument("--folder", type=Path, help="where SQLite files are kept for the next run")
    said = asked.parse_args()
    folder = said.folder or Path(mkdtemp())
    for size in said.lots or [10_000, 100_000]:
        url = said.database or f"sqlite:///{folder / f'{size}.db'}"
        ledger = open_ledger(url)
        began = time.perf_counter()
        count = _filled(ledger, size)
        print(f"\n{size} lots, {count} facts ({time.perf_counter() - began:.0f} s), {ledger.engine.dialect.name}")
        for name, (whole, walk, reached) in measure(ledger).items():
            ratio = f"{walk:9.2f} ms walk  {whole / walk:6.1f}x  {reached} lots" if walk else ""
            print(f"  {name:26} {whole:9.2f} ms  {ratio}", flush=True)
        ledger.close()


def _filled(ledger: Ledger, size: int) -> int:
    """Return how many facts there are, after filling the ledger where it was empty."""
    with ledger.reading() as connection:
        there = int(connection.execute(text("SELECT count(*) FROM facts")).scalar_one())
    return there or fill(ledger, WorkshopYears(size))


if __name__ == "__main__":
    main()
