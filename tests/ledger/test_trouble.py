"""What goes wrong around a ledger: a clear message, nothing lost, and the work goes on when the cause is gone."""

import datetime as dt
import shutil
from contextlib import closing

import build
import pytest
from by_hand import Hand
from sqlalchemy import text

from labelsvc.errors import InputError, LedgerIntegrityError, StorageError
from labelsvc.ledger.database import open_ledger
from labelsvc.operations import keeping
from labelsvc.operations.recording import record

AGAIN = r"\. Nothing half is kept: send it again once that is put right\.$"


def goods(shop, once=""):
    return record(shop.ledger, "receive", build.body("receive"), now=build.NOW, who="Ada", once=once)


def many(shop):
    for _ in range(200):
        goods(shop)


def goes_on(shop, before):
    """Nothing half was kept, and what was refused can be recorded now."""
    assert keeping.verify(shop.ledger, deep=True)[0] == before
    assert goods(shop, once="again").fact == before + 1


def settings(shop, kind, sqlite, postgresql):
    """Change how the database works, for everyone who comes."""
    if kind == "sqlite":
        with closing(shop.ledger.engine.raw_connection()) as pooled:
            pooled.execute(sqlite)
        return
    with shop.ledger.engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
        connection.execute(text(f"ALTER DATABASE {shop.ledger.url.database} SET {postgresql}"))
    shop.ledger.close()  # who is connected already keeps the old setting


def test_database_when_it_is_read_only_then_the_message_says_so_and_reading_goes_on(file_shop, kind):
    before = file_shop.facts()
    settings(file_shop, kind, "PRAGMA query_only=ON", "default_transaction_read_only TO on")
    with pytest.raises(StorageError, match=rf"^database: expected a database that can be written, got a read-only one{AGAIN}"):
        goods(file_shop)
    assert file_shop.facts() == before
    file_shop.ledger.close()
    if kind == "postgresql":
        with file_shop.ledger.engine.connect() as connection:
            connection.execute(text("SET default_transaction_read_only TO off"))
            connection.commit()
            connection.execute(text(f"ALTER DATABASE {file_shop.ledger.url.database} RESET default_transaction_read_only"))
            connection.commit()
        file_shop.ledger.close()
    goes_on(file_shop, before)


@pytest.mark.parametrize("kind", ["sqlite"])
def test_disk_when_full_then_the_message_says_so_and_nothing_is_half_written(file_shop):
    with closing(file_shop.ledger.engine.raw_connection()) as pooled:
        (pages,) = pooled.execute("PRAGMA page_count").fetchone()
        pooled.execute(f"PRAGMA max_page_count={pages}")
    with pytest.raises(StorageError, match=rf"^database: expected a disk with room to write, got a full disk{AGAIN}"):
        many(file_shop)
    before = file_shop.facts()
    file_shop.ledger.close()  # a new connection has no such limit
    goes_on(file_shop, before)


@pytest.mark.parametrize("kind", ["sqlite"])
def test_file_when_gone_and_back_then_the_message_says_so_and_no_empty_one_takes_its_place(file_shop, tmp_path):
    before, file = file_shop.facts(), tmp_path / "workshop.db"
    away = tmp_path / "away"
    away.mkdir()
    for one in sorted(tmp_path.glob("workshop.db*")):
        one.rename(away / one.name)
    for act in (goods, build.Shop.facts):
        with pytest.raises(
            StorageError, match=r"^database: expected the file /.*, got none: it was removed or its disk is gone$"
        ):
            act(file_shop)
    assert not file.exists()
    for one in sorted(away.iterdir()):
        one.rename(tmp_path / one.name)
    goes_on(file_shop, before)


@pytest.mark.parametrize("kind", ["sqlite"])
def test_file_when_replaced_by_another_then_the_work_goes_on_in_the_new_one(file_shop, tmp_path):
    copy = tmp_path / "copy.db"
    keeping.backup(file_shop.ledger, copy)
    goods(file_shop)
    for one in tmp_path.glob("workshop.db*"):
        one.unlink()
    shutil.copyfile(copy, tmp_path / "workshop.db")
    goes_on(file_shop, 10)


@pytest.mark.parametrize("kind", ["postgresql"])
def test_server_when_gone_and_back_then_the_message_says_so_and_the_work_goes_on(file_shop, server):
    before = file_shop.facts()
    server.stop("immediate")
    try:
        for act in (goods, build.Shop.facts):
            with pytest.raises(
                StorageError, match=r"^database: expected a database that answers, got none \(.*\)\. Nothing half"
            ):
                act(file_shop)
    finally:
        server.start()
    goes_on(file_shop, before)


@pytest.mark.parametrize("kind", ["postgresql"])
def test_server_when_started_anew_between_two_facts_then_nobody_notices(file_shop, server):
    before = file_shop.facts()  # leaves a connection in the pool
    server.stop("fast")
    server.start()
    goes_on(file_shop, before)


@pytest.mark.parametrize("kind", ["sqlite"])
def test_file_when_damaged_then_the_message_says_so(file_shop):
    file_shop.ledger.close()
    with open(file_shop.ledger.url.database, "r+b") as file:  # noqa: PTH123 - bytes in place
        file.seek(0)
        file.write(b"no database at all")
    with pytest.raises(LedgerIntegrityError, match=r"^the database is damaged: expected .* Restore a backup\.$"):
        file_shop.facts()


def test_clock_when_set_back_then_what_cannot_follow_says_so_and_goes_on_when_it_is_right(shop):
    animal = record(shop.ledger, "receive", build.body("receive"), now=build.NOW).codes[0]
    cut = build.body("cut", from_=animal)
    yesterday = build.NOW - dt.timedelta(days=1)
    with pytest.raises(
        InputError,
        match=r"The clock of this machine says 2026-11-24T09:00:00\.000000Z, "
        r"but the last fact was recorded at 2026-11-25T09:00:00\.000000Z: put the clock right, or say when it happened\.$",
    ):
        record(shop.ledger, "cut", cut, now=yesterday)
    assert shop.facts() == 11
    assert record(shop.ledger, "cut", cut, now=build.NOW).fact == 12


# --- the start of the service --------------------------------------------------------------------------------------------
# The PostgreSQL of the tests is set up to be quick: what it risks by that is said. One that is careful: test_power_cut.py.
RISKS = {
    "sqlite": [],
    "postgresql": [
        f"The PostgreSQL server works with {name} = off: a power cut may lose facts that were acknowledged. Set it to on."
        for name in ("fsync", "full_page_writes")
    ],
}


def test_start_when_all_is_well_then_it_says_how_many_facts_hold_and_what_the_server_risks(file_shop, kind):
    assert keeping.start_up(file_shop.ledger, build.NOW) == ["10 facts hold.", *RISKS[kind]]
    verified = Hand(file_shop.url)("verify", "--json")
    assert (verified.json["verified"], verified.json["risks"]) == (True, RISKS[kind])


def test_start_when_something_derived_is_missing_then_it_is_derived_anew(file_shop):
    grown = file_shop.dump()
    with file_shop.ledger.writing() as connection:
        connection.execute(text("DELETE FROM effective WHERE fact = 7"))
    found = keeping.start_up(file_shop.ledger, build.NOW)
    assert found[1] == "What was derived from them was wrong (fact 7 is not in the projections): it was derived anew."
    assert file_shop.dump() == grown


def test_start_when_the_clock_is_behind_then_it_says_so(file_shop):
    assert "put the clock right" in keeping.start_up(file_shop.ledger, build.NOW - dt.timedelta(hours=1))[1]


def test_start_when_a_fact_is_wrong_then_it_stops(file_shop, kind):
    say = {"sqlite": "DROP TRIGGER facts_no_update", "postgresql": "ALTER TABLE facts DISABLE TRIGGER ALL"}[kind]
    with file_shop.ledger.writing() as connection:
        connection.execute(text(say))
        connection.execute(text("UPDATE facts SET recorded_by = 'Eve' WHERE seq = 4"))
    with pytest.raises(LedgerIntegrityError, match=r"^fact 4 "):
        keeping.start_up(file_shop.ledger, build.NOW)


def test_ledger_when_its_folder_is_missing_then_the_error_names_it(tmp_path):
    with pytest.raises(InputError, match=r"^database: expected a database that can be opened, got sqlite:///.*"):
        open_ledger(f"sqlite:///{tmp_path}/no/such/folder.db")
