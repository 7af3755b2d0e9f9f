"""Stations that work at the same time on one database, each a process of its own.

    python -m benchmarks.stations [--postgresql] [--stations 8] [--rounds 500]

(from ``tests``). Prints how long a person waited for each fact; checks that all codes differ, every balance is right and that
deriving everything anew gives the same.
"""

from __future__ import annotations

import argparse
import datetime as dt
import multiprocessing
import queue
import time
from collections.abc import Callable
from contextlib import nullcontext
from dataclasses import dataclass, field
from pathlib import Path
from tempfile import mkdtemp
from typing import Any

import build
import postgres

from labelsvc.errors import LabelsvcError
from labelsvc.ledger.append import give_out_codes
from labelsvc.ledger.database import open_ledger
from labelsvc.ledger.verify import verify_chain, verify_projection


@dataclass
class Found:
    """What one station did.

    Args:
        codes: that it was given, or what it was told instead.
        facts: how many it recorded.
        waits: seconds that each took.
    """

    codes: list[str] = field(default_factory=list)
    facts: int = 0
    waits: list[float] = field(default_factory=list)


Work = Callable[[str, int, Any, Any], None]


def take_codes(url: str, _number: int, rounds: int, answers: Any) -> None:
    """Take two codes a round and use them for nothing."""
    ledger, found = open_ledger(url), Found()
    for _ in range(rounds):
        with ledger.writing() as connection:
            found.codes += [str(code) for code in give_out_codes(connection, ["piece", "pack"], dt.date(2026, 11, 25))]
    ledger.close()
    answers.put(found)


def pack_and_sell(url: str, number: int, rounds: int, answers: Any) -> None:
    """Each round an animal comes in and is cut; its piece hangs, is released, packed, and a pack is sold."""
    shop, found = build.Shop(open_ledger(url)), Found()

    def timed(act: Callable[[], Any]) -> Any:
        began = time.perf_counter()
        done = act()
        found.waits.append(time.perf_counter() - began)
        found.facts += 1
        return done

    for turn in range(rounds):
        animal = timed(shop.receive)
        (piece,) = timed(lambda animal=animal: shop.cut(animal, "1000 g"))
        timed(lambda piece=piece: shop.string(piece, "1000 g", tare="20 g", yes=True))
        timed(lambda piece=piece: shop.release(piece))
        packs = timed(lambda piece=piece, turn=turn: shop.pack([piece], "400 g", "500 g", session=f"{number}, {turn}"))
        timed(lambda packs=packs: shop.sell(packs[1]))
        found.codes += [animal, piece, *packs]
    shop.ledger.close()
    answers.put(found)


def packed_apart(url: str, number: int, piece: str, answers: Any) -> None:
    """Pack a piece that the others want too; the answer is a code or what was said instead."""
    shop, found = build.Shop(open_ledger(url)), Found()
    try:
        found.codes = list(shop.pack([piece], "690 g", session=f"by {number}", at="2026-05-21")[:1])
        found.facts = 1
    except LabelsvcError as error:
        found.codes = [error.message]
    shop.ledger.close()
    answers.put(found)


def at_once(work: Work, url: str, stations: int, what: Any) -> list[Found]:
    """Let stations do the same work at the same time, and return what each found."""
    apart = multiprocessing.get_context("forkserver")  # nothing is shared with us, and the program is loaded once
    apart.set_forkserver_preload(["labelsvc.operations.recording"])
    answers = apart.Queue()
    running = [apart.Process(target=work, args=(url, number, what, answers)) for number in range(stations)]
    for process in running:
        process.start()
    found: list[Found] = []
    while len(found) < stations:
        try:
            found.append(answers.get(timeout=1))
        except queue.Empty:
            assert not any(process.exitcode for process in running), "a station broke down"
    for process in running:
        process.join(60)
    return found


def main() -> None:
    """Let stations work on a database of the kind asked for."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--postgresql", action="store_true", help="on a PostgreSQL as the tests start it; else on SQLite")
    asked.add_argument("--stations", type=int, default=8)
    asked.add_argument("--rounds", type=int, default=500)
    said = asked.parse_args()
    with postgres.running() if said.postgresql else nullcontext() as server:
        url = server.url(server.create()) if server else f"sqlite:///{Path(mkdtemp()) / 'stations.db'}"
        measure(url, said.stations, said.rounds)


def measure(url: str, stations: int, rounds: int) -> None:
    """Let stations work on an empty database, check that all of it is there once and right, and print what they met."""
    shop = build.new_shop(url)
    before, began = shop.facts(), time.perf_counter()
    found = at_once(pack_and_sell, shop.url, stations, rounds)
    seconds = time.perf_counter() - began
    waits = sorted(wait for one in found for wait in one.waits)
    codes = [code for one in found for code in one.codes]
    assert len(codes) == len(set(codes))
    with shop.ledger.reading() as connection:
        assert verify_chain(connection)[0] == before + len(waits)
        verify_projection(connection)
    grown = shop.dump()
    shop.rebuild()
    assert shop.dump() == grown
    middle, late = (waits[int(len(waits) * part)] * 1000 for part in (0.5, 0.99))
    print(f"{shop.ledger.engine.dialect.name}: {len(waits)} facts, {len(waits) / seconds:.0f} a second, {len(codes)} codes")
    print(f"a person waited {middle:.0f} ms (median), {late:.0f} ms (99 of 100), {waits[-1] * 1000:.0f} ms (longest)")
    shop.ledger.close()


if __name__ == "__main__":
    main()
