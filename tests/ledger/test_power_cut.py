"""What was acknowledged outlives a power cut, in which all that the disk had not yet made sure of is lost or torn.

The programs are the real ones, what they write is listened to, and their disk is put together as it would be found afterwards.
"""

import os
import random
import shutil
import subprocess
import sys
import time
from contextlib import closing, contextmanager, suppress
from pathlib import Path

import build
import postgres
import power_cut
import psycopg
import pytest
from sqlalchemy import select

from labelsvc.ledger.database import open_ledger
from labelsvc.ledger.tables import facts
from labelsvc.operations import keeping

ROUNDS = 25
TESTS = Path(__file__).parents[1]


def station(url, *settings, log=None):
    """Start a station at work, listened to where a log is named."""
    command = [sys.executable, "-m", "power_cut", url, str(ROUNDS), *settings]
    path = os.pathsep.join([str(TESTS.parent), str(TESTS)])
    heard = power_cut.strace(log, *command) if log else command
    return subprocess.Popen(heard, env={**os.environ, "PYTHONPATH": path}, cwd=TESTS, stdout=subprocess.PIPE, text=True)


def told(work):
    """Return everything that a station is told until it is done."""
    with work:
        answers = list(power_cut.answers(work.stdout))
    assert work.returncode == 0
    return answers


def cuts(calls, answers, *, after_answers, amid):
    """Yield moments of a power cut, what comes through, and what had been acknowledged by then.

    Args:
        calls: what was said to the disk.
        answers: what the station was told.
        after_answers: how many moments right after an answer, where nothing comes through of what was not synced.
        amid: how many in the midst of the writing, where parts of it do.
    """
    chance = random.Random(1)
    told = [(answer.at, None) for answer in chance.sample(answers, after_answers)]
    written = [(calls[chance.randrange(len(calls) // 2, len(calls))].over, random.Random(number)) for number in range(amid)]
    for moment, torn in sorted(told + written, key=lambda one: one[0]):
        yield moment, torn, [answer for answer in answers if answer.at <= moment]


def lost(url, acknowledged):
    """Return the acknowledged facts that are not there; what is there must verify deep."""
    with closing(open_ledger(url)) as ledger:
        keeping.verify(ledger, deep=True)
        with ledger.reading() as connection:
            there = dict(connection.execute(select(facts.c.seq, facts.c.body)).all())
    return [one for one in acknowledged if not all(code in there.get(one.fact, "") for code in one.codes)]


@pytest.fixture
def folder(cards_file, tmp_path):
    """A folder with a workshop's file, and in ``before`` what it was at the beginning."""
    folder = tmp_path / "disk"
    folder.mkdir()
    shutil.copyfile(cards_file, folder / "workshop.db")
    shutil.copytree(folder, tmp_path / "before")
    return folder


def test_sqlite_when_the_power_is_cut_then_everything_acknowledged_is_there(folder, tmp_path):
    answers = told(station(str(folder / "workshop.db"), log=tmp_path / "log"))
    calls = power_cut.heard(tmp_path / "log")
    assert any(call.call == "pwrite64" and call.file.endswith("workshop.db") for call in calls), "no checkpoint is among them"
    disk = power_cut.Disk(folder, tmp_path / "before", calls)
    for number, (moment, torn, acknowledged) in enumerate(cuts(calls, answers, after_answers=2, amid=3)):
        disk.go_on_until(moment)
        disk.after_a_power_cut(tmp_path / str(number), torn)
        assert lost(str(tmp_path / str(number) / "workshop.db"), acknowledged) == []


def test_sqlite_where_it_does_not_wait_for_the_disk_then_this_test_sees_what_is_lost(folder, tmp_path):
    answers = told(station(str(folder / "workshop.db"), "journal_mode=WAL", "synchronous=NORMAL", log=tmp_path / "log"))
    disk = power_cut.Disk(folder, tmp_path / "before", power_cut.heard(tmp_path / "log"))
    disk.go_on_until(answers[5].at)
    disk.after_a_power_cut(tmp_path / "after")
    assert lost(str(tmp_path / "after" / "workshop.db"), answers[:6]) != []


class Listened(postgres.Server):
    """A server that can be run with every write and sync of its processes listened to, and given another disk."""

    @property
    def data(self):
        return self._folder / "data"

    @contextmanager
    def at_work(self, log):
        """Run it as a careful server is run, then stop it as a power cut does."""
        words = ["-D", str(self.data), "-p", str(self._port), "-k", str(self._folder), "-cfsync=on", "-cfull_page_writes=on"]
        command, away = power_cut.strace(log, str(self._programs / "postgres"), *words), subprocess.DEVNULL
        with subprocess.Popen(command, user=self._owner, cwd=self.data, stdout=away, stderr=away) as running:
            while True:
                assert running.poll() is None, "the server did not start"
                with suppress(psycopg.OperationalError):
                    self.say("SELECT 1")
                    break
                time.sleep(0.05)
            yield
            self.stop("immediate")

    def found_after(self, disk, torn):
        """Start it on what a power cut left."""
        shutil.rmtree(self.data)
        disk.after_a_power_cut(self.data, torn)
        for one in (self.data, *self.data.rglob("*")):
            shutil.chown(one, self._owner) if self._owner else None
        self.start()


def test_postgresql_when_the_power_is_cut_then_everything_acknowledged_is_there(monkeypatch):
    monkeypatch.setattr(postgres, "Server", Listened)
    with postgres.running() as server:
        name = server.create()
        build.new_shop(server.url(name)).ledger.close()
        server.stop()
        before, log = Path(shutil.copytree(server.data, server.data.parent / "before")), server.data.parent / "heard"
        with server.at_work(log):
            work = station(server.url(name))
            work.stdout.readline()
            with closing(open_ledger(server.url(name))) as ledger:
                assert keeping.risks(ledger) == []
            server.say("CHECKPOINT")  # so that data files are written too
            answers = told(work)
        calls = power_cut.heard(log)
        assert any(call.call.startswith("pwrite") and "/base/" in call.file for call in calls), "no checkpoint is among them"
        disk = power_cut.Disk(server.data, before, calls)
        for moment, torn, acknowledged in cuts(calls, answers, after_answers=1, amid=1):
            disk.go_on_until(moment)
            server.found_after(disk, torn)
            assert lost(server.url(name), acknowledged) == []
            server.stop("immediate")
