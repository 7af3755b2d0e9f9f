"""Copies taken while the work goes on: whole, read again, put back into either kind of database, never over anything."""

import datetime as dt
import gzip
import json
import sqlite3
import threading

import build
import pytest
from by_hand import Hand
from sqlalchemy import insert, select

from labelsvc.errors import ConflictError, InputError, LedgerIntegrityError, StorageError
from labelsvc.ledger import archive, backup, tables
from labelsvc.ledger.database import open_ledger
from labelsvc.operations import keeping


@pytest.fixture
def worked(file_shop):
    """A workshop with a whole stretch of work, a correction, someone at the bench and a request that came with a key."""
    first = file_shop.packed("350 g", "340 g")[1]
    file_shop.sell(first, at="2026-05-22")
    file_shop.correct(file_shop.record("supplier", name="Hill Farm").fact, None)
    build.record(file_shop.ledger, "supplier", dict(name="Once Farm"), now=build.NOW, once="a key")
    with file_shop.ledger.writing() as connection:
        connection.execute(insert(tables.people).values(name="Ada", name_key="ada", role="bench_hand"))
    return file_shop


@pytest.fixture(params=["sqlite", "postgresql"])
def target(request, tmp_path):
    """The URL of an empty database to put it back into."""
    if request.param == "sqlite":
        yield f"sqlite:///{tmp_path}/back.db"
        return
    server = request.getfixturevalue("server")
    name = server.create()
    yield server.url(name)
    server.drop(name)


def test_backup_when_put_back_into_either_kind_then_everything_is_as_it_was(worked, target, tmp_path):
    file = tmp_path / "backup"
    found = keeping.backup(worked.ledger, file)
    assert found == keeping.verify(worked.ledger)
    assert keeping.restore(file, target) == found
    back = build.Shop(open_ledger(target))
    assert beside(back) == beside(worked)
    assert keeping.verify(back.ledger, deep=True) == found
    assert back.dump() == worked.dump()
    again = build.record(back.ledger, "supplier", dict(name="Once Farm"), now=build.NOW, once="a key")
    assert again.fact == found[0]  # the retry of a request from before the backup is still one
    assert back.receive() == worked.receive()  # the next code is the next one: none is given out twice
    back.ledger.close()


def test_export_when_taken_in_by_the_other_kind_and_out_again_then_the_same_bytes(worked, target, tmp_path):
    hand, other = Hand(worked.url), Hand(target)
    out = hand("export", "facts").out
    file = tmp_path / "facts.jsonl"
    file.write_text(out, encoding="utf-8")
    assert other("import", "facts", str(file), "--json").json["facts"] == len(out.splitlines())
    for what in ("facts", "postings", "contacts", "sales"):
        assert other("export", what).out == hand("export", what).out
    assert other("verify", "--deep", "--json").json["deep"] is True


def test_backup_when_others_write_meanwhile_then_it_is_one_moment_and_nobody_waits(worked, tmp_path):
    stop, waits, counts = threading.Event(), [], []

    def work():
        shop = build.Shop(open_ledger(worked.url))
        while not stop.is_set():
            waits.append(shop.receive())
        shop.ledger.close()

    working = threading.Thread(target=work)
    working.start()
    try:
        before = worked.facts()
        while len(waits) < 5 and len(counts) < 500:
            counts.append(keeping.backup(worked.ledger, tmp_path / f"backup {len(counts)}")[0])
    finally:
        stop.set()
        working.join(60)
    assert before <= counts[0] <= counts[-1]
    assert len(waits) >= 5
    assert worked.facts() == before + len(waits)


def test_backup_when_the_file_is_there_then_it_is_not_touched(worked, tmp_path):
    file = tmp_path / "backup"
    file.write_text("something else")
    with pytest.raises(
        ConflictError, match=r"^file: expected a file that is not there yet: a backup is never overwritten, got /"
    ):
        keeping.backup(worked.ledger, file)
    assert file.read_text() == "something else"
    assert [one.name for one in tmp_path.iterdir() if "backup" in one.name] == ["backup"]


def test_backup_when_the_folder_is_missing_then_the_error_says_so(worked, tmp_path):
    with pytest.raises(
        StorageError, match=r"^file: expected a place where a backup can be written, got /.*No such file or directory$"
    ):
        keeping.backup(worked.ledger, tmp_path / "nowhere" / "backup")


def test_restore_when_the_database_holds_facts_then_they_stay_and_nothing_comes_in(worked, tmp_path):
    file = tmp_path / "backup"
    keeping.backup(worked.ledger, file)
    before = worked.dump()
    with pytest.raises(
        ConflictError, match=r"^database: expected an empty one: nothing is ever overwritten, got one that holds \d+ facts$"
    ):
        keeping.restore(file, worked.url)
    assert worked.dump() == before


def beside(shop):
    """Return what stands beside the facts."""
    with shop.ledger.reading() as connection:
        return {table.name: connection.execute(select(table)).all() for table in archive.BESIDE}


def changed(line, **fields):
    return json.dumps({**json.loads(line), **fields})


@pytest.mark.parametrize(
    ("spoil", "error", "found"),
    [
        (lambda lines: lines[:4] + lines[5:], LedgerIntegrityError, "line 5: fact 6 does not follow fact 4"),
        (lambda lines: [*lines[:4], lines[5], lines[4], *lines[6:]], LedgerIntegrityError,
         "line 5: fact 6 does not follow fact 4"),
        (lambda lines: [*lines[:4], changed(lines[4], recorded_by="Eve"), *lines[5:]], LedgerIntegrityError,
         "line 5: fact 5 was changed after it was sealed"),
        (lambda lines: [*lines[:4], "}", *lines[5:]], InputError, "line 5: expected a fact as export facts writes it, got }"),
        (lambda lines: [*lines[:4], '{"seq": 5}', *lines[5:]], InputError, "line 5: expected a fact as export facts writes it"),
        (lambda lines: [*lines[:4], "[]", *lines[5:]], InputError, "line 5: expected a fact as export facts writes it"),
        (lambda lines: [*lines[:4], changed(lines[4], kind="soap"), *lines[5:]], InputError, "newer version"),
        (lambda lines: [*lines[:4], changed(lines[4], kind=["cut"]), *lines[5:]], InputError, "line 5: expected a fact"),
        (lambda lines: [*lines[:4], "[" * 100_000, *lines[5:]], InputError, "line 5: expected a fact"),
        (lambda lines: [*lines, '{"table": "facts", "row": {}}'], InputError, "table: expected one of attachments, "),
    ],
)  # fmt: skip
def test_import_when_a_line_is_wrong_then_it_is_named_and_nothing_comes_in(worked, target, tmp_path, spoil, error, found):
    lines = Hand(worked.url)("export", "facts").out.splitlines()
    file = tmp_path / "facts.jsonl"
    file.write_text("\n".join(spoil(lines)), encoding="utf-8")
    with pytest.raises(error, match=found):
        keeping.restore(file, target)
    empty = build.Shop(open_ledger(target))
    assert empty.facts() == 0
    empty.ledger.close()


def test_restore_when_the_backup_was_cut_short_then_nothing_comes_in(worked, target, tmp_path):
    file = tmp_path / "backup"
    file.write_bytes(gzip.compress("\n".join(Hand(worked.url)("export", "facts").out.splitlines()).encode())[:-900])
    with pytest.raises(LedgerIntegrityError, match=r"^the file .* is damaged: "):
        keeping.restore(file, target)
    empty = build.Shop(open_ledger(target))
    assert empty.facts() == 0
    empty.ledger.close()


def test_restore_when_there_is_no_such_file_then_the_error_says_so(target, tmp_path):
    with pytest.raises(InputError, match=r"^file: expected a file that backup or export facts wrote, got /.*none$"):
        keeping.restore(tmp_path / "none", target)


@pytest.mark.parametrize("kind", ["sqlite"])
def test_backup_when_the_disk_is_full_then_the_error_says_so_and_nothing_is_left(worked, tmp_path, monkeypatch):
    def full(*_args):
        raise sqlite3.OperationalError("database or disk is full")  # what SQLite says of a full disk, and no OSError

    monkeypatch.setattr(backup, "_copy_pages", full)
    monkeypatch.setattr(backup, "_copy_lines", full)
    with pytest.raises(StorageError, match=r"a place where a backup can be written, got .*database or disk is full"):
        keeping.backup(worked.ledger, tmp_path / "copy")
    assert list(tmp_path.glob("copy*")) == []


@pytest.mark.parametrize("kind", ["sqlite"])
def test_backup_of_a_file_is_one_file_that_only_its_owner_reads(worked, tmp_path):
    file = tmp_path / "backup.db"
    keeping.backup(worked.ledger, file)
    assert file.stat().st_mode & 0o777 == 0o600
    assert sorted(one.name for one in tmp_path.iterdir() if one.name.startswith("backup")) == ["backup.db"]
    with sqlite3.connect(f"file:{file}?mode=ro", uri=True) as copy:
        assert copy.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        assert copy.execute("PRAGMA journal_mode").fetchone() == ("delete",)
    copy.close()


def test_backup_of_the_day_when_it_is_there_then_not_again(worked, tmp_path):
    file = keeping.backup_of_the_day(worked.ledger, tmp_path, build.NOW)
    assert file == tmp_path / "labelsvc-2026-11-25.backup"
    assert keeping.backup_of_the_day(worked.ledger, tmp_path, build.NOW) is None
    assert keeping.backup_of_the_day(worked.ledger, tmp_path, build.NOW + dt.timedelta(days=1)) is not None
