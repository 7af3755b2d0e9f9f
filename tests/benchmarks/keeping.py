"""What looking after a ledger costs: a backup beside copying the file, ``verify`` beside one pass of reading and hashing.

    python -m benchmarks.keeping FILE.db [--deep]

(from ``tests``; FILE.db is an SQLite ledger as ``benchmarks.trace_and_recall`` keeps one. It is copied first and stays as it is.)
All in one run on one machine. Meanwhile another process receives goods, one delivery after the other, and measures how long each
waits: at rest, and while the backup is written and read again.
"""

from __future__ import annotations

import argparse
import hashlib
import multiprocessing
import os
import resource
import shutil
import sqlite3
import statistics
import time
from collections.abc import Callable
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from labelsvc.ledger import backup
from labelsvc.ledger.database import Ledger
from labelsvc.ledger.deep import verify_deep
from labelsvc.ledger.personal import verify_personal
from labelsvc.ledger.verify import verify_chain, verify_guards, verify_projection
from labelsvc.operations.recording import record

_NOW = datetime(2026, 11, 25, 9, tzinfo=UTC)  # after the last day of the invented workshop
_GOODS = dict(supplier="Dry Goods", kind="ingredient", name="salt", weight="5 kg")
_PAUSE = 0.02  # seconds between two deliveries


def receive(file: str, stop: Any, answers: Any) -> None:
    """Receive goods until told to stop; answer with moment and seconds of each."""
    ledger, found = Ledger(file), []
    while not stop.is_set():
        began = time.perf_counter()
        record(ledger, "receive", _GOODS, now=_NOW, who="Ada")
        found.append((time.monotonic(), time.perf_counter() - began))
        time.sleep(_PAUSE)
    ledger.close()
    answers.put(found)


def timed(act: Callable[[], Any]) -> tuple[float, float, Any]:
    """Return seconds of the wall, seconds of the processor, and what came of it."""
    wall, processor = time.perf_counter(), time.process_time()
    found = act()
    return time.perf_counter() - wall, time.process_time() - processor, found


def copied(file: Path, copy: Path) -> None:
    """Copy a file and wait for the disk, as a backup does."""
    shutil.copyfile(file, copy)
    with copy.open("rb") as written:
        os.fsync(written.fileno())
    copy.unlink()


def hashed(file: Path) -> int:
    """Read every fact in one pass and hash its columns, with nothing between the driver and the hash."""
    count = 0
    with closing(sqlite3.connect(file)) as connection:
        for row in connection.execute("SELECT * FROM facts ORDER BY seq"):
            hashlib.sha256("".join(map(str, row)).encode()).hexdigest()
            count += 1
    return count


def verified(file: Path) -> int:
    """Do all that ``verify`` does, one part after the other, and print what each takes; return how many facts hold."""
    count = 0
    with closing(Ledger(str(file))) as ledger, ledger.reading() as connection:
        for part in (verify_chain, verify_personal, verify_guards, verify_projection):
            before = _peak()
            wall, processor, found = timed(lambda part=part: part(connection))
            count = found[0] if part is verify_chain else count
            print(f"  {part.__name__}: {wall:.1f} s ({processor:.1f} s), {_peak() - before} MB more at its peak", flush=True)
    return count


def deeply(file: Path) -> None:
    """Derive everything anew beside it and compare."""
    with closing(Ledger(str(file))) as ledger, ledger.reading() as connection:
        verify_deep(connection)


def while_at_work(file: Path, copy: Path) -> tuple[float, float]:
    """Write a backup while goods are received; print how long the receiver waited; return seconds of the copy and of all."""
    apart = multiprocessing.get_context("forkserver")
    stop, answers = apart.Event(), apart.Queue()
    at_work = apart.Process(target=receive, args=(str(file), stop, answers))
    at_work.start()
    time.sleep(8)
    began = time.monotonic()
    writing, _, _ = timed(lambda: backup._copy_pages(file, copy))
    reading, _, _ = timed(lambda: backup._read_again(copy))
    ended = time.monotonic()
    stop.set()
    waits = answers.get()
    at_work.join()
    for when, some in (
        ("at rest", [wait for at, wait in waits if at < began]),
        ("while it is written", [wait for at, wait in waits if began <= at < began + writing]),
        ("while it is read again", [wait for at, wait in waits if began + writing <= at < ended]),
    ):
        if some:
            late = sorted(some)[int(len(some) * 0.99)]
            print(f"  goods received {when}: {len(some)}, median {statistics.median(some) * 1000:.0f} ms,"
                  f" 99 of 100 under {late * 1000:.0f} ms, longest {max(some) * 1000:.0f} ms", flush=True)  # fmt: skip
    return writing, writing + reading


def _peak() -> int:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024


def main() -> None:
    """Measure on a copy of a file and print it."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("file", type=Path)
    asked.add_argument("--deep", action="store_true", help="also derive everything anew and compare; takes as long as a rebuild")
    asked.add_argument("--folder", type=Path, help="where the copies are made; three times the size of the file")
    said = asked.parse_args()
    with TemporaryDirectory(dir=said.folder) as folder:
        file = shutil.copyfile(said.file, Path(folder) / "ledger.db")
        print(f"{file.stat().st_size / 1e6:.0f} MB")
        bare, bare_processor, facts = timed(lambda: hashed(file))
        print(f"reading and hashing {facts} facts: {bare:.1f} s ({bare_processor:.1f} s)", flush=True)
        wall, processor, count = timed(lambda: verified(file))
        print(f"verify of {count}: {wall:.1f} s ({processor:.1f} s), {processor / bare_processor:.1f} times that", flush=True)
        if said.deep:
            wall, processor, _ = timed(lambda: deeply(file))
            print(f"verify --deep: {wall:.0f} s ({processor:.0f} s), {count / processor:.0f} facts a second", flush=True)
        copying, _, _ = timed(lambda: copied(file, Path(folder) / "copy.db"))
        print(f"copying the file: {copying:.1f} s", flush=True)
        writing, whole = while_at_work(file, Path(folder) / "backup.db")
        print(f"backup: written in {writing:.1f} s, {writing / copying:.1f} times copying; read again as well in {whole:.1f} s,"
              f" {whole / copying:.1f} times")  # fmt: skip


if __name__ == "__main__":
    main()
