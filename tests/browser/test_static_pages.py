"""The buyer's pages as files behind a plain server of files, read in a real Chromium at a phone's width."""

import subprocess
import sys
import time
import urllib.request
from contextlib import contextmanager

import build
import pytest
from click.testing import CliRunner

from labelsvc.cli.group import labelsvc as command
from labelsvc.codes.link import batch_link
from labelsvc.codes.lot_code import LotCode
from labelsvc.labels.shelf import Shelf
from labelsvc.operations.labelling import sale_label
from labelsvc.settings import shipped


@pytest.fixture
def labelled(tmp_path):
    """A pack lot of two with its labels, one of them sold, and a lot without labels."""
    shop = build.new_shop(str(tmp_path / "workshop.db"))
    shop.record("workshop", **build.body("workshop", contact="buyers@example.com"), at="2026-03-01")
    shop.lot, shop.one, shop.two = shop.packed("330 g", "340 g")
    sale_label(shop.ledger, shop.lot, layouts=Shelf(shipped("label_layouts")), now=build.NOW)
    shop.day = "2026-05-22"
    shop.sell(shop.one)
    yield shop
    shop.ledger.close()


def exported(shop, folder):
    done = CliRunner().invoke(
        command, ["export", "pages", "--folder", str(folder), "--database", shop.url], catch_exceptions=False
    )
    assert done.exit_code == 0
    return done.output


@contextmanager
def served(folder):
    """Serve a folder by the standard library's own server, as a process."""
    server = subprocess.Popen(
        [sys.executable, "-u", "-m", "http.server", "0", "--bind", "127.0.0.1", "--directory", str(folder)],
        stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True,
    )  # fmt: skip
    try:
        port = server.stdout.readline().split(" port ")[1].split()[0]
        for _ in range(50):
            try:
                urllib.request.urlopen(f"http://127.0.0.1:{port}/404.html").close()
                break
            except OSError:
                time.sleep(0.1)
        yield f"http://127.0.0.1:{port}"
    finally:
        server.terminate()
        server.wait()
        server.stdout.close()


@pytest.fixture
def page(browser):
    context = browser.new_context(viewport=dict(width=390, height=844))
    context.set_default_timeout(5000)
    yield context.new_page()
    context.close()


def test_the_pages_when_served_as_files_then_the_link_of_the_qr_leads_to_the_pack_in_one_request(labelled, tmp_path, page):
    exported(labelled, tmp_path / "out")
    asked = []
    with served(tmp_path / "out") as base:
        page.on("request", lambda request: asked.append(request.url))
        page.goto(batch_link(base, LotCode.parse(labelled.one)) + "/")
        told = page.locator("body").inner_text()
        assert "Cured neck" in told
        assert "330\u00a0g" in told
        assert "buyers@example.com" in told
        assert page.locator("form").count() == 0
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
        assert [url for url in asked if url.startswith("http")] == [f"{base}/lot/{labelled.one}/"]
        page.get_by_role("link", name="Deutsch").first.click()
        assert "Stimmt etwas nicht damit?" in page.locator("body").inner_text()
        assert "Is something wrong" not in page.locator("body").inner_text()


def test_the_pages_when_a_recall_is_published_then_only_those_files_change_and_the_warning_comes_first(labelled, tmp_path, page):
    first = exported(labelled, tmp_path / "out")
    assert " 4 files written" in first  # the lot, its two packs, and the page for no such code
    assert " 0 files written, 4 said the same" in exported(labelled, tmp_path / "out")
    number = labelled.record("open_case", what="recall", reason="glass", lots=[labelled.one]).fact
    labelled.record("publish", case=number, lots=[labelled.one], risk="foreign_body", by="Ada")
    assert " 2 files written" in exported(labelled, tmp_path / "out")  # the pack, and its lot
    with served(tmp_path / "out") as base:
        page.goto(f"{base}/lot/{labelled.one}/")
        assert page.locator("body").inner_text().lstrip().startswith("STOP\nRECALLED: do not eat this")
        page.goto(f"{base}/lot/{labelled.two}/")
        assert "RECALLED" not in page.locator("body").inner_text()


def test_the_pages_when_a_product_has_a_gtin_then_they_stand_at_its_digital_link_too(labelled, tmp_path):
    labelled.record("product", **{**build.body("product"), "gtin": "9521234543213"})
    exported(labelled, tmp_path / "out")
    link = batch_link("", LotCode.parse(labelled.one), "9521234543213").removeprefix("/")
    assert (tmp_path / "out" / link / "index.html").read_text() == (
        tmp_path / "out" / "lot" / labelled.one / "index.html"
    ).read_text()


def test_the_pages_when_exported_then_nothing_of_others_is_in_them_and_what_is_gone_is_removed(labelled, tmp_path):
    folder = tmp_path / "out"
    (folder / "lot" / "K1").mkdir(parents=True)
    (folder / "lot" / "K1" / "index.html").write_text("a pack that was a mistake")
    assert ", 1 removed" in exported(labelled, folder)
    text = (folder / "lot" / labelled.one / "index.html").read_text()
    for inside in ("Meadow Farm", "Corner Shop", "pig 12", "blue", "room 1", "Ada", "340 g"):
        assert inside not in text, inside
    assert len(text.encode()) <= 30_000


def test_the_pages_when_no_folder_is_given_then_it_is_asked_for(labelled):
    done = CliRunner().invoke(command, ["export", "pages", "--database", labelled.url])
    assert done.exception.message == "folder: expected a folder for pages, and for nothing else, got none"
