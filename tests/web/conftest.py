"""The pages without a browser: one workshop in a file, a client at the bench and a stranger's."""

import datetime as dt

import build
import pytest
from page_hand import Hand

from labelsvc import settings
from labelsvc.ledger.database import open_ledger
from labelsvc.web import create_app

SPRING = dt.datetime(2026, 5, 25, 9, tzinfo=dt.UTC)  # a few days after the makers' packs were packed


def served(database):
    """Return the application over a database, in spring."""
    app = create_app(database, settings.layouts(), "for the tests only", lambda: SPRING)
    app.config["TESTING"] = True
    return app


@pytest.fixture
def app(cards_url):
    """The application over a workshop of its own."""
    made = served(cards_url)
    yield made
    made.extensions["labelsvc"].ledger.close()


@pytest.fixture
def makers(app, cards_url):
    """The makers of the same workshop."""
    shop = build.Shop(open_ledger(cards_url))
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
def empty(empty_url):
    """Ada in a workshop where nothing is recorded yet."""
    made = served(empty_url)
    hand = Hand(made.test_client(), None)
    hand.post("/who", other="Ada")
    yield hand
    made.extensions["labelsvc"].ledger.close()


@pytest.fixture
def started_anew(cards_url, makers):
    """Ada at the bench of a service that is started once more over the same ledger, each time it is called."""
    made = []

    def start():
        made.append(served(cards_url))
        hand = Hand(made[-1].test_client(), makers)
        hand.post("/who", other="Ada")
        return hand

    yield start
    for app in made:
        app.extensions["labelsvc"].ledger.close()
