"""The pages in a real Chromium, at the width of a phone and of a desk, over a real server with a clock that tests set."""

import datetime as dt
import os
import threading
from pathlib import Path

import build
import pytest
from bench_hand import Bench
from werkzeug.serving import make_server

from labelsvc import settings
from labelsvc.web import create_app

CHROMIUM = Path("/usr/bin/chromium")
WIDTHS = {"phone": dict(width=390, height=844), "desk": dict(width=1280, height=900)}


class Clock:
    """The present, as a test says it."""

    def __init__(self):
        self.now = build.NOW

    def __call__(self):
        return self.now

    def set(self, day):
        self.now = dt.datetime.fromisoformat(f"{day}T09:00+00:00")


@pytest.fixture(scope="session")
def browser():
    """Chromium; where it is missing, elsewhere than in CI, the tests say so and are left out."""
    missing = "" if CHROMIUM.exists() else f"{CHROMIUM} is not installed"
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        missing = "playwright is not installed"
    if missing:
        (pytest.fail if os.environ.get("CI") == "true" else pytest.skip)(missing)
    with sync_playwright() as playwright:
        opened = playwright.chromium.launch(executable_path=str(CHROMIUM), args=["--no-sandbox"])
        yield opened
        opened.close()


@pytest.fixture
def workshop_url(request, tmp_path):
    """An empty database for a workshop: an SQLite file, unless a test asks for postgresql."""
    if getattr(request, "param", "sqlite") == "sqlite":
        yield str(tmp_path / "workshop.db")
        return
    server = request.getfixturevalue("server")
    name = server.create()
    yield server.url(name)
    server.drop(name)


@pytest.fixture
def served(workshop_url):
    """A workshop with its cards behind a real server; gives its address, its clock and the makers' shop."""
    shop = build.new_shop(workshop_url)
    clock = Clock()
    app = create_app(workshop_url, settings.layouts(), "for the tests only", clock, idle_minutes=30)
    server = make_server("127.0.0.1", 0, app, threaded=True)
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.05})
    thread.start()
    yield f"http://127.0.0.1:{server.server_port}", clock, shop
    server.shutdown()
    thread.join()
    server.server_close()
    app.extensions["labelsvc"].ledger.close()
    shop.ledger.close()


@pytest.fixture(params=WIDTHS)
def bench(request, browser, served):
    """Someone at the bench with a phone, and someone with a desk."""
    address, clock, shop = served
    context = browser.new_context(viewport=WIDTHS[request.param], has_touch=request.param == "phone")
    context.set_default_timeout(30_000)  # a loaded machine is slow, not wrong
    at = Bench(context.new_page(), address, clock, shop, has_touch=request.param == "phone")
    at.arrive("Ada")
    yield at
    context.close()
