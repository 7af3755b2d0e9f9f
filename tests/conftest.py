"""Ledgers for the tests: one in memory that is thrown away, one in a file for what only a file can show."""

import build
import pytest


@pytest.fixture
def shop():
    """An invented workshop with its cards, in memory."""
    made = build.new_shop()
    yield made
    made.ledger.close()


@pytest.fixture
def file_shop(tmp_path):
    """The same workshop in an SQLite file."""
    made = build.new_shop(str(tmp_path / "workshop.db"))
    yield made
    made.ledger.close()
