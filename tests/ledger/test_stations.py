"""Several stations at once, each a process of its own: nothing is lost, nothing is doubled."""

import datetime as dt
import multiprocessing

import build

from labelsvc.ledger.append import give_out_codes
from labelsvc.ledger.database import open_ledger
from labelsvc.ledger.verify import verify_chain


def take_codes(url, number, answers):
    ledger = open_ledger(url)
    found = []
    for _ in range(number):
        with ledger.writing() as connection:
            found += [str(code) for code in give_out_codes(connection, ["piece", "pack"], dt.date(2026, 11, 25))]
    answers.put(found)
    ledger.close()


def receive_goods(url, number, answers):
    shop = build.Shop(open_ledger(url))
    answers.put([shop.receive() for _ in range(number)])
    shop.ledger.close()


def at_once(work, url, stations, number):
    spawn = multiprocessing.get_context("spawn")
    answers = spawn.Queue()
    running = [spawn.Process(target=work, args=(url, number, answers)) for _ in range(stations)]
    for process in running:
        process.start()
    found = [answers.get(timeout=120) for _ in running]
    for process in running:
        process.join(60)
    assert [process.exitcode for process in running] == [0] * stations
    return [code for codes in found for code in codes]


def test_codes_taken_by_several_processes_at_once_are_all_different_without_a_gap(file_shop):
    codes = at_once(take_codes, file_shop.url, 3, 20)
    assert len(codes) == len(set(codes)) == 3 * 20 * 2
    assert len({code[7:-1] for code in codes}) == 120  # one count for all kinds


def test_facts_recorded_by_several_processes_at_once_are_all_there_once(file_shop):
    codes = at_once(receive_goods, file_shop.url, 3, 15)
    assert len(set(codes)) == 45
    with file_shop.ledger.reading() as connection:
        assert verify_chain(connection)[0] == file_shop.facts() == 10 + 45
    assert {file_shop.state(code).milligrams for code in codes} == {80_000_000}
    grown = file_shop.dump()
    file_shop.rebuild()
    assert file_shop.dump() == grown
