"""The sealed chain: the database refuses every change, and a change made behind its back is found and named."""

import datetime as dt
import multiprocessing
import sqlite3

import build
import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory

from labelsvc.errors import LedgerIntegrityError
from labelsvc.ledger import verify
from labelsvc.ledger.append import give_out_codes
from labelsvc.ledger.database import HEAD, open_ledger
from labelsvc.ledger.migrations.run import configured
from labelsvc.ledger.tables import metadata

TRIGGERS = ("facts_no_update", "facts_no_delete", "facts_no_replace")


def raw(shop):
    return sqlite3.connect(shop.ledger.url.database)


def behind_its_back(shop, *statements):
    """Change the file as somebody would who knows how: without the triggers."""
    connection = raw(shop)
    for trigger in TRIGGERS:
        connection.execute(f"DROP TRIGGER {trigger}")
    for statement in statements:
        connection.execute(statement)
    connection.commit()
    connection.close()


def verified(shop):
    with shop.ledger.reading() as connection:
        return verify.verify_chain(connection)


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE facts SET body = '{}' WHERE seq = 3",
        "UPDATE facts SET hash = hash",
        "DELETE FROM facts WHERE seq = 3",
        "DELETE FROM facts",
        "INSERT OR REPLACE INTO facts SELECT * FROM facts WHERE seq = 3",
        "REPLACE INTO facts SELECT * FROM facts WHERE seq = 3",
        "INSERT INTO facts SELECT * FROM facts WHERE seq = 3 ON CONFLICT (seq) DO UPDATE SET body = '{}'",
        "UPDATE OR REPLACE facts SET seq = 4 WHERE seq = 3",
    ],
)
def test_change_of_a_fact_is_refused_by_the_database_itself(file_shop, statement):
    before = verified(file_shop)
    connection = raw(file_shop)
    with pytest.raises(sqlite3.IntegrityError, match=r"^facts are only ever appended: record a correction instead$"):
        connection.execute(statement)
    connection.close()
    assert verified(file_shop) == before


def test_triggers_are_there_after_migrating(file_shop):
    connection = raw(file_shop)
    found = {name for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'")}
    connection.close()
    assert found == set(TRIGGERS)


@pytest.mark.parametrize("column", ["kind", "version", "happened_at", "recorded_at", "recorded_by", "body"])
def test_verify_names_the_fact_of_which_one_byte_was_changed(file_shop, column):
    change = "version + 1" if column == "version" else f"substr({column}, 1, length({column}) - 1) || 'X'"
    behind_its_back(file_shop, f"UPDATE facts SET {column} = {change} WHERE seq = 5")
    with pytest.raises(
        LedgerIntegrityError, match=r"^fact 5 \(.*\) was changed after it was sealed: its contents do not fit its hash$"
    ):
        verified(file_shop)


def test_verify_names_the_fact_when_a_byte_of_the_file_was_changed(file_shop):
    file_shop.record("supplier", name="Byte Farm")
    with file_shop.ledger.engine.connect() as connection:
        connection.exec_driver_sql("ROLLBACK")
        connection.exec_driver_sql("PRAGMA wal_checkpoint(TRUNCATE)")
        connection.exec_driver_sql("BEGIN")
    file_shop.ledger.close()
    with open(file_shop.ledger.url.database, "r+b") as file:  # noqa: PTH123 - bytes in place
        content = file.read()
        place = content.index(b'{"day":"2026-03-02","given":{"name":"Byte Farm"}}')
        file.seek(place + 30)
        file.write(b"X")
    with pytest.raises(LedgerIntegrityError, match=r"^fact 11 \(supplier\) was changed after it was sealed"):
        verified(file_shop)


@pytest.mark.parametrize("gone", [1, 5, 9])
def test_verify_names_the_fact_that_is_missing(file_shop, gone):
    behind_its_back(file_shop, f"DELETE FROM facts WHERE seq = {gone}")
    with pytest.raises(
        LedgerIntegrityError, match=f"^fact {gone} is missing: expected it after fact {gone - 1}, got fact {gone + 1}$"
    ):
        verified(file_shop)


def test_verify_names_the_first_fact_when_two_are_reordered(file_shop):
    behind_its_back(
        file_shop,
        "UPDATE facts SET seq = -1 WHERE seq = 4",
        "UPDATE facts SET seq = 4 WHERE seq = 5",
        "UPDATE facts SET seq = 5 WHERE seq = -1",
    )
    with pytest.raises(LedgerIntegrityError, match=r"^fact 4 \(\w+\) does not follow fact 3: it was sealed after another one$"):
        verified(file_shop)


def test_projections_without_a_fact_are_found(file_shop):
    connection = raw(file_shop)
    connection.execute("DELETE FROM effective WHERE fact = 7")
    connection.commit()
    connection.close()
    with (
        file_shop.ledger.reading() as reading,
        pytest.raises(LedgerIntegrityError, match=r"^fact 7 is not in the projections: run rebuild$"),
    ):
        verify.verify_projection(reading)


def test_flow_that_does_not_sum_to_zero_is_found(file_shop):
    file_shop.receive()
    connection = raw(file_shop)
    connection.execute("UPDATE postings SET milligrams = milligrams + 1 WHERE kind = 'animal'")
    connection.commit()
    connection.close()
    with (
        file_shop.ledger.reading() as reading,
        pytest.raises(LedgerIntegrityError, match=r"^flow 1 of fact 11 does not sum to zero: run rebuild$"),
    ):
        verify.verify_projection(reading)


def test_same_facts_in_two_databases_give_the_same_head(file_shop, shop):
    for one in (file_shop, shop):
        one.packed("350 g", "340 g")
    assert verified(file_shop) == verified(shop)


def test_head_constant_is_the_newest_migration():
    assert ScriptDirectory.from_config(configured()).get_heads() == [HEAD]


def test_migrated_database_has_the_shape_of_the_tables(file_shop):
    with file_shop.ledger.engine.connect() as connection:
        assert compare_metadata(MigrationContext.configure(connection), metadata) == []


def test_opening_again_changes_nothing(file_shop):
    before = verified(file_shop)
    again = build.Shop(open_ledger(file_shop.ledger.url.database))
    assert verified(again) == before
    again.ledger.close()


# --- several stations at once -------------------------------------------------------------------------------------------
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
    found = [answers.get(timeout=60) for _ in running]
    for process in running:
        process.join(60)
    assert [process.exitcode for process in running] == [0] * stations
    return [code for codes in found for code in codes]


def test_codes_taken_by_several_processes_at_once_are_all_different_without_a_gap(file_shop):
    codes = at_once(take_codes, file_shop.ledger.url.database, 3, 20)
    assert len(codes) == len(set(codes)) == 3 * 20 * 2
    assert len({code[7:-1] for code in codes}) == 120  # one count for all kinds


def test_facts_recorded_by_several_processes_at_once_are_all_there_once(file_shop):
    codes = at_once(receive_goods, file_shop.ledger.url.database, 3, 15)
    assert len(set(codes)) == 45
    assert verified(file_shop)[0] == file_shop.facts() == 10 + 45
    assert {file_shop.state(code).milligrams for code in codes} == {80_000_000}
    grown = file_shop.dump()
    file_shop.rebuild()
    assert file_shop.dump() == grown
