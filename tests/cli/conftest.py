"""Fixtures of the command line: a workshop's database in an empty folder, the demo built once, and both by commands alone."""

import pytest
from by_hand import Hand, Told


@pytest.fixture
def hand(tmp_path, monkeypatch):
    """An empty folder to work in; every command uses the database in it."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("LABELSVC_DATABASE", raising=False)
    monkeypatch.delenv("LABELSVC_WHO", raising=False)
    return Hand(tmp_path / "workshop.db")


@pytest.fixture(scope="session")
def demo(tmp_path_factory):
    """The demo workshop, built once by its command; tests only read it."""
    folder = tmp_path_factory.mktemp("demo")
    hand = Hand(folder / "demo.db")
    answer = hand("demo", "--no-serve", "--folder", str(folder / "pdf"), "--json")
    return Told(hand, folder / "pdf", answer.json)
