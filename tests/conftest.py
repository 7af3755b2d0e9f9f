"""Ledgers for the tests, each on both kinds of database: SQLite and a PostgreSQL that the tests start themselves."""

import shutil

import build
import label_printer
import postgres
import pytest
from flask import Flask
from jinja2.bccache import Bucket, BytecodeCache

from labelsvc.ledger import database
from labelsvc.ledger.database import open_ledger

KINDS = ("sqlite", "postgresql")


class _Compiled(BytecodeCache):
    """Templates as they were compiled for the first application: nearly every test of a page makes one of its own."""

    def __init__(self):
        self._kept = {}

    def load_bytecode(self, bucket: Bucket):
        if bucket.key in self._kept:
            bucket.bytecode_from_string(self._kept[bucket.key])

    def dump_bytecode(self, bucket: Bucket):
        self._kept[bucket.key] = bucket.bytecode_to_string()


@pytest.fixture(scope="session", autouse=True)
def _templates_are_compiled_once():
    """Compile each template once a run, and not once a test: it took more than half the time of a test of the pages."""
    before = Flask.jinja_options
    Flask.jinja_options = {**before, "bytecode_cache": _Compiled()}
    yield
    Flask.jinja_options = before


@pytest.fixture(autouse=True)
def _let_go_of_the_server(monkeypatch):
    """Close the connections to PostgreSQL that a test opened: a forgotten one would be told of in whichever test runs later."""
    made, make = [], database._engine

    def remembered(url):
        made.append(make(url))
        return made[-1]

    monkeypatch.setattr(database, "_engine", remembered)
    yield
    for engine in made:
        if engine.dialect.name == "postgresql":
            engine.dispose()


@pytest.fixture(scope="session")
def server():
    """A PostgreSQL server, started when the first test asks for it."""
    with postgres.running() as started:
        yield started


@pytest.fixture(scope="session")
def cards_file(tmp_path_factory):
    """An SQLite file with the workshop's cards, to be copied."""
    file = tmp_path_factory.mktemp("cards") / "workshop.db"
    build.new_shop(str(file)).ledger.close()
    return file


@pytest.fixture(scope="session")
def cards_database(server):
    """The name of a PostgreSQL database with the workshop's cards, to be copied."""
    name = server.create()
    build.new_shop(server.url(name)).ledger.close()
    return name


@pytest.fixture(params=KINDS)
def kind(request):
    """The kind of database a test runs on."""
    return request.param


@pytest.fixture
def empty_url(request, kind, tmp_path):
    """The URL of a database in which there is nothing yet, not even a table."""
    if kind == "sqlite":
        yield f"sqlite:///{tmp_path}/new.db"
        return
    server = request.getfixturevalue("server")
    name = server.create()
    yield server.url(name)
    server.drop(name)


@pytest.fixture
def cards_url(request, kind, tmp_path):
    """The URL of a database of its own with the workshop's cards in it, which several processes may open."""
    if kind == "sqlite":
        yield f"sqlite:///{shutil.copyfile(request.getfixturevalue('cards_file'), tmp_path / 'workshop.db')}"
        return
    server = request.getfixturevalue("server")
    name = server.create(like=request.getfixturevalue("cards_database"))
    yield server.url(name)
    server.drop(name)


@pytest.fixture
def file_shop(cards_url):
    """An invented workshop with its cards, where several processes may open it."""
    made = build.Shop(open_ledger(cards_url))
    yield made
    made.ledger.close()


@pytest.fixture
def shop(request, kind):
    """The same workshop where only the test needs it: on SQLite in memory."""
    if kind == "postgresql":
        yield request.getfixturevalue("file_shop")
        return
    made = build.new_shop()
    yield made
    made.ledger.close()


@pytest.fixture(scope="session")
def printers_folder(tmp_path_factory):
    """A folder in which printers of the tests may run."""
    folder = tmp_path_factory.mktemp("printers")
    with label_printer.bus(folder):
        yield folder


@pytest.fixture(scope="module")
def tag_and_label_printer(printers_folder):
    """A real printer process that takes PDF, with hanging tags and sale labels loaded."""
    with label_printer.running(printers_folder) as printer:
        yield printer
