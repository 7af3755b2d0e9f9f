"""Stations that are killed in the middle of their work, again and again, while others go on.

    python -m benchmarks.crashes [--postgresql] [--kills 200] [--stations 3]

(from ``tests``). After each kill the ledger is verified deep. What a station was told is written down before it asks for the
next: all of it must be there at the end, once, though whoever takes the place of the killed one sends its last request again.
"""

from __future__ import annotations

import argparse
import json
import multiprocessing
import os
import random
import signal
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import nullcontext
from pathlib import Path
from tempfile import mkdtemp
from typing import Any

import build
import postgres
from sqlalchemy import select

from labelsvc.ledger.database import open_ledger
from labelsvc.ledger.tables import facts, requests
from labelsvc.operations.keeping import verify
from labelsvc.operations.recording import record

_ON_ONE_LEDGER = 20  # kills; after each the whole ledger is verified deep, while the other stations let it grow


def work(url: str, station: int, told: str) -> None:
    """Receive goods and cut them without an end; write down every answer. Go on where the one before was killed."""
    ledger, file = open_ledger(url), Path(told)
    done = [json.loads(line) for line in file.read_text().splitlines()] if file.exists() else []
    number = len(done)
    answers = os.open(file, os.O_WRONLY | os.O_APPEND | os.O_CREAT, 0o600)
    while True:
        if number % 2 == 0:
            kind, given = "receive", build.body("receive", at="2026-03-02")
        else:
            kind, given = "cut", build.body("cut", from_=done[-1]["codes"][0], at="2026-03-03")
        recorded = record(ledger, kind, given, now=build.NOW, who=f"station {station}", once=f"{station}-{number}")
        done.append({"fact": recorded.fact, "codes": list(recorded.codes), "key": f"{station}-{number}"})
        os.write(answers, f"{json.dumps(done[-1])}\n".encode())
        number += 1


def crash(url: str, folder: Path, *, kills: int, stations: int, seed: int = 1) -> dict[str, int]:
    """Kill one of the stations at random moments; check everything after each kill and at the end.

    Returns:
        How many facts there are, how many answers were given, and how many facts nobody was told of any more.
    """
    chance = random.Random(seed)
    apart = multiprocessing.get_context("forkserver")
    apart.set_forkserver_preload(["labelsvc.operations.keeping"])

    def begin(station: int) -> Any:
        process = apart.Process(target=work, args=(url, station, str(folder / f"{station}.told")), daemon=True)
        process.start()
        return process

    ledger = open_ledger(url)
    at_work = {station: begin(station) for station in range(stations)}
    try:
        for _ in range(kills):
            station = chance.randrange(stations)
            before = _told(folder, station)
            _wait(lambda station=station, before=before: _told(folder, station) > before, at_work[station])
            time.sleep(chance.random() * 0.05)
            os.kill(at_work[station].pid, signal.SIGKILL)
            at_work[station].join(30)
            verify(ledger, deep=True)
            at_work[station] = begin(station)
    finally:
        for process in at_work.values():
            process.kill()
            process.join(30)
    found = _checked(ledger, folder, stations)
    ledger.close()
    return found


def _checked(ledger: Any, folder: Path, stations: int) -> dict[str, int]:
    count, _ = verify(ledger, deep=True)
    answers = [json.loads(line) for station in range(stations) for line in (folder / f"{station}.told").read_text().splitlines()]
    with ledger.reading() as connection:
        keys = dict(connection.execute(select(requests.c.key, requests.c.fact)).all())
        codes = {row.seq: json.loads(row.body).get("codes", []) for row in connection.execute(select(facts.c.seq, facts.c.body))}
    for answer in answers:
        assert keys[answer["key"]] == answer["fact"], f"lost: {answer}"
        assert codes[answer["fact"]] == answer["codes"], f"other codes: {answer}"
    given_out = [code for several in codes.values() for code in several]
    assert len(given_out) == len(set(given_out)), "a code was given out twice"
    assert len(set(keys.values())) == len(keys), "two requests, one fact"
    return {"facts": count, "answers": len(answers), "unheard": len(keys) - len(answers)}


def _told(folder: Path, station: int) -> int:
    file = folder / f"{station}.told"
    return len(file.read_bytes().splitlines()) if file.exists() else 0


def _wait(until: Any, process: Any, patience: float = 120) -> None:
    ends = time.monotonic() + patience
    while not until():
        assert process.is_alive(), "a station broke down by itself"
        assert time.monotonic() < ends, "a station stands still"
        time.sleep(0.005)


def crash_anew(new_url: Callable[[], str], *, kills: int, stations: int) -> Iterator[Counter[str]]:
    """Kill stations on one new ledger after another, and yield what was found so far after each.

    Args:
        new_url: makes an empty database and returns its URL.
        kills: in all.
        stations: at work at a time.
    """
    found = Counter[str]()
    for first in range(0, kills, _ON_ONE_LEDGER):
        shop, folder = build.new_shop(new_url()), Path(mkdtemp())
        cards = shop.facts()
        shop.ledger.close()
        here = crash(shop.url, folder, kills=min(_ON_ONE_LEDGER, kills - first), stations=stations, seed=first)
        assert here["facts"] == cards + here["answers"] + here["unheard"], f"a fact that nobody asked for: {here}"
        found.update(here)
        yield found


def main() -> None:
    """Kill stations and print what was found."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--postgresql", action="store_true", help="on a PostgreSQL as the tests start it; else on SQLite")
    asked.add_argument("--kills", type=int, default=200)
    asked.add_argument("--stations", type=int, default=3)
    said = asked.parse_args()
    began = time.monotonic()
    with postgres.running() if said.postgresql else nullcontext() as server:

        def new_url() -> str:
            return server.url(server.create()) if server else f"sqlite:///{Path(mkdtemp()) / 'crashes.db'}"

        for found in crash_anew(new_url, kills=said.kills, stations=said.stations):
            print(f"{time.monotonic() - began:.0f} s: {dict(found)}", flush=True)
    print(f"{said.kills} kills on {'PostgreSQL' if said.postgresql else 'SQLite'}: nothing lost, half or doubled")


if __name__ == "__main__":
    main()
