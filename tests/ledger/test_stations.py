"""Several stations at once, each a process of its own: nothing is lost, nothing doubled, and no lock error reaches anyone.

The whole of it (8 stations, 500 codes and packings each) is a command: ``python -m benchmarks.stations`` in ``tests``.
"""

import multiprocessing
import threading
import time

import build
import pytest
from benchmarks.stations import at_once, pack_and_sell, packed_apart, take_codes

from labelsvc.errors import ConflictError, InputError, StorageError
from labelsvc.ledger.database import open_ledger
from labelsvc.ledger.turns import turn
from labelsvc.ledger.verify import verify_chain, verify_projection

STATIONS, ROUNDS = 8, 4


def test_codes_taken_by_several_processes_at_once_are_all_different_without_a_gap(file_shop):
    codes = [code for found in at_once(take_codes, file_shop.url, STATIONS, 20) for code in found.codes]
    assert len(codes) == len(set(codes)) == STATIONS * 20 * 2
    assert len({code[7:-1] for code in codes}) == STATIONS * 20 * 2  # one count for all kinds


def test_facts_recorded_by_several_processes_at_once_are_all_there_once(file_shop):
    before = file_shop.facts()
    found = at_once(pack_and_sell, file_shop.url, STATIONS, ROUNDS)
    codes = [code for one in found for code in one.codes]
    assert len(codes) == len(set(codes))
    with file_shop.ledger.reading() as connection:
        assert verify_chain(connection)[0] == before + sum(one.facts for one in found)
        verify_projection(connection)
    grown = file_shop.dump()
    file_shop.rebuild()
    assert file_shop.dump() == grown


def test_piece_that_all_pack_at_once_goes_to_one_and_the_others_are_told(file_shop):
    piece = file_shop.hanging_piece(hung="720 g")
    file_shop.release(piece, at="2026-05-20")
    told = [one for found in at_once(packed_apart, file_shop.url, 4, piece) for one in found.codes]
    winners = [one for one in told if not one.startswith("from")]
    assert len(winners) == 1
    others = {one for one in told if one.startswith("from")}
    assert len(others) == 1
    assert others.pop() == f"from[0].piece: expected a piece of which something is left, got {piece}, which is used up"
    assert file_shop.state(piece).milligrams == 0


def hold_the_turn(url, entered, may_go):
    ledger = open_ledger(url)
    with ledger.writing():
        entered.set()
        may_go.wait(60)
    ledger.close()


def test_writer_that_waits_is_let_in_when_the_other_is_done(file_shop):
    apart = multiprocessing.get_context("forkserver")
    entered, may_go = apart.Event(), apart.Event()
    other = apart.Process(target=hold_the_turn, args=(file_shop.url, entered, may_go))
    other.start()
    assert entered.wait(60)
    codes = []
    waiting = threading.Thread(target=lambda: codes.append(file_shop.receive()))
    waiting.start()
    time.sleep(0.3)
    assert codes == []
    may_go.set()
    waiting.join(30)
    other.join(30)
    assert len(codes) == 1


def test_writer_whose_patience_ends_says_so_and_does_not_keep_the_turn(tmp_path):
    file = tmp_path / "turn"
    with (
        turn(file),
        pytest.raises(
            StorageError,
            match=r"^database: expected a turn to write, got none in 0.1 seconds: another program keeps the database busy$",
        ),
        turn(file, patience=0.1),
    ):
        pass
    with turn(file, patience=5):  # neither the first nor the one who gave up keeps it
        pass


def test_conflict_when_it_is_told_then_nothing_of_it_is_kept(file_shop):
    piece = file_shop.hanging_piece(hung="720 g")
    before = file_shop.facts()
    with pytest.raises((ConflictError, InputError)):
        file_shop.string(piece, "900 g")
    assert file_shop.facts() == before
    again = build.Shop(open_ledger(file_shop.url))
    assert again.dump() == file_shop.dump()
    again.ledger.close()
