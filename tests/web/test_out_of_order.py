"""The pages while the database is away: each says so in plain words, and all goes on by itself when it is back."""

import shutil
from contextlib import contextmanager

import build
import pytest

from labelsvc import settings
from labelsvc.web import create_app


@contextmanager
def away(kind, request, shop, tmp_path):
    """Take the database away for a while: the file of it, or the server."""
    if kind == "postgresql":
        server = request.getfixturevalue("server")
        server.stop("immediate")
        try:
            yield
        finally:
            server.start()
        return
    safe = tmp_path / "safe"
    safe.mkdir()
    files = [one.name for one in tmp_path.glob("workshop.db*")]
    for name in files:
        shutil.move(tmp_path / name, safe / name)
    yield
    for name in files:
        shutil.move(safe / name, tmp_path / name)


@pytest.mark.parametrize("path", ["/", "/more", "/api/v1/lots"])
def test_page_when_the_database_is_away_then_it_says_so_and_is_there_again_with_it(kind, request, file_shop, tmp_path, path):
    app = create_app(file_shop.url, settings.layouts(), "for the tests only", lambda: build.NOW)
    client, where = app.test_client(), {"base_url": "http://127.0.0.1/"}
    there = client.get(path, **where).status_code
    with away(kind, request, file_shop, tmp_path):
        refused = client.get(path, **where)
        assert refused.status_code == 503
        assert {"sqlite": "xpected the file ", "postgresql": "xpected a database that answers"}[kind] in refused.text
    assert client.get(path, **where).status_code == there < 500
    app.extensions["labelsvc"].ledger.close()
