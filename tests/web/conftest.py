"""The pages without a browser: one workshop in a file, a client at the bench and a stranger's."""

import datetime as dt
import shutil

import build
import pytest
from page_hand import Hand

from labelsvc import settings
from labelsvc.ledger.database import open_ledger
from labelsvc.web import create_app

SPRING = dt.datetime(2026, 5, 25, 9, tzinfo=dt.UTC)  # a few days after the makers' packs were packed


def served(database):
    """Return the application over a database, in spring."""
    app = create_app(str(database), settings.layouts(), "for the tests only", lambda: SPRING)
    app.config["TESTING"] = True
    return app


@pytest.fixture(scope="session")
def cards(tmp_path_factory):
    """A database with the cards of the workshop, made once and copied for each test."""
    file = tmp_path_factory.mktemp("cards") / "workshop.db"
    build.new_shop(str(file)).ledger.close()
    return file


@pytest.fixture
def app(cards, tmp_path):
    """The application over a workshop of its own."""
    made = served(shutil.copyfile(cards, tmp_path / "workshop.db"))
    yield made
    made.extensions["labelsvc"].ledger.close()


@pytest.fixture
def makers(app, tmp_path):
    """The makers of the same workshop."""
    shop = build.Shop(open_ledger(str(tmp_path / "workshop.db")))
    yield shop
    shop.ledger.close()


@pytest.fixture
def bench(app, makers):
    """Ada at the bench."""
    hand = Hand(app.test_client(), makers)
    hand.post("/who", other="Ada")
    return hand


@pytest.fixture
def stranger(app, makers):
    """Someone who scanned the QR of a pack."""
    return Hand(app.test_client(), makers)


@pytest.fixture
def empty(tmp_path):
    """Ada in a workshop where nothing is recorded yet."""
    made = served(tmp_path / "new.db")
    hand = Hand(made.test_client(), None)
    hand.post("/who", other="Ada")
    yield hand
    made.extensions["labelsvc"].ledger.close()
