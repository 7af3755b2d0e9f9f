"""Trace and recall beside the bare recursive walk in SQL, at several sizes of the ledger, in one run.

    python -m benchmarks.trace_and_recall --lots 10000 --lots 100000 [--database postgresql+psycopg://.../empty] [--keep DIR]

(from ``tests``). The walk is what no answer can be faster than: the numbers of the same lots, without their rows.
"""

from __future__ import annotations

import argparse
import json
import statistics
import time
from collections.abc import Callable
from pathlib import Path
from tempfile import mkdtemp

from sqlalchemy import ColumnElement, Connection, TextClause, select, text

from benchmarks.bulk import fill
from benchmarks.workshop_years import LAST_DAY, WorkshopYears
from labelsvc import settings
from labelsvc.ledger.database import Ledger, open_ledger
from labelsvc.ledger.tables import lots
from labelsvc.operations import looking
from labelsvc.operations.batch import batch_record
from labelsvc.operations.recalling import Suspicion, recall
from labelsvc.operations.tracing import trace
from labelsvc.web import create_app
from labelsvc.web.recalls import MOST

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


def clock_for(ledger: Ledger) -> Callable[[], float]:
    """Return the clock to measure by: SQLite works in this process, whose own time leaves out what others take of the machine."""
    return time.process_time if ledger.engine.dialect.name == "sqlite" else time.perf_counter


def near_400(connection: Connection) -> str:
    """Return the code of the juniper lot, of those in the middle, from which the most nearly 400 lots are reached."""
    codes = connection.execute(select(lots.c.code).where(lots.c.ingredient_key == "juniper").order_by(lots.c.id)).scalars().all()
    some = codes[max(len(codes) // 2 - 50, 0) : len(codes) // 2 + 50]
    return min(some, key=lambda code: abs(len(connection.execute(_DOWN, {"code": code}).all()) - 400))


def middle(connection: Connection, where: ColumnElement[bool]) -> str:
    """Return the code of the lot in the middle of those that fit: neither the first ones, nor the last, which hang still."""
    codes = connection.execute(select(lots.c.code).where(where).order_by(lots.c.id)).scalars().all()
    return str(codes[len(codes) // 2])


def measure(ledger: Ledger) -> dict[str, tuple[float, float, int]]:
    """Return for each question: milliseconds of the full answer, of the bare walk, and how many lots it is about."""
    found: dict[str, tuple[float, float, int]] = {}
    clock = clock_for(ledger)
    with ledger.reading() as connection:
        wide, narrow = middle(connection, lots.c.ingredient_key == "salt"), near_400(connection)
        pack = middle(connection, lots.c.state == "sold")

        def walk(way: TextClause, code: str) -> int:
            return len(connection.execute(way, {"code": code}).all())

        for name, act, way, code in (
            ("trace of a narrow lot", lambda: trace(ledger, narrow), _DOWN, narrow),
            ("recall of a narrow lot", lambda: recall(ledger, Suspicion(lots=(narrow,))), _DOWN, narrow),
            ("trace of a sold pack", lambda: trace(ledger, pack), _UP, pack),
            ("wide recall, in short", lambda: recall(ledger, Suspicion(lots=(wide,)), MOST), _DOWN, wide),
            ("wide recall, whole, JSON", lambda: json.dumps(recall(ledger, Suspicion(lots=(wide,)))), _DOWN, wide),
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


def pages(ledger: Ledger) -> dict[str, tuple[float, float, int]]:
    """Return for each page: the median and the 95th percentile in milliseconds at the server, and its size in bytes."""
    with ledger.reading() as connection:
        sold, here = middle(connection, lots.c.state == "sold"), middle(connection, lots.c.state == "hanging")
    url = ledger.url.render_as_string(hide_password=False)
    app = create_app(url, settings.layouts(), "for a measurement", lambda: LAST_DAY)
    client = app.test_client()
    client.get("/")
    with client.session_transaction() as session:
        session["csrf"] = "a token"
    client.post("/who", data={"csrf": "a token", "other": "Ada"})
    found: dict[str, tuple[float, float, int]] = {}
    clock = clock_for(ledger)
    for name, path in (
        ("today", "/"),
        ("a hanging piece", f"/lot/{here}"),
        ("a sold pack", f"/lot/{sold}"),
        ("scan to page", f"/go?code={here}"),
        ("trace of a sold pack", f"/trace/{sold}"),
        ("buyer's page", f"/lot/{sold}?see=buyer"),
    ):
        times: list[float] = []
        answer = client.get(path, follow_redirects=True)
        for _ in range(60):
            began = clock()
            answer = client.get(path, follow_redirects=True)
            times.append((clock() - began) * 1000)
        assert answer.status_code == 200, (path, answer.status_code)
        found[name] = (statistics.median(times), statistics.quantiles(times, n=20)[-1], len(answer.get_data()))
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
        for name, (usual, slow, size_of_page) in pages(ledger).items():
            print(f"  page: {name:20} {usual:9.2f} ms, p95 {slow:9.2f} ms, {size_of_page / 1000:6.1f} kB", flush=True)
        ledger.close()


def _filled(ledger: Ledger, size: int) -> int:
    """Return how many facts there are, after filling the ledger where it was empty."""
    with ledger.reading() as connection:
        there = int(connection.execute(text("SELECT count(*) FROM facts")).scalar_one())
    return there or fill(ledger, WorkshopYears(size))


if __name__ == "__main__":
    main()
