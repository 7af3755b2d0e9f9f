"""String a piece at the tub: one press, and the tag has come out of the printer of the station."""

import os
from pathlib import Path

import printed
import pytest

from labelsvc import settings
from labelsvc.operations import printers

PICTURES = os.environ.get("LABELSVC_TEST_PICTURES")  # a folder to look at the pages in


def keep_picture(bench, name):
    if PICTURES:
        bench.page.screenshot(path=Path(PICTURES) / f"{name}_{bench.page.viewport_size['width']}.png", full_page=True)


@pytest.fixture
def printer(tag_and_label_printer):
    for file in tag_and_label_printer.kept.iterdir():
        file.unlink()
    return tag_and_label_printer


def test_stringing_when_the_station_has_a_printer_then_one_press_prints_the_tag(bench, printer, tmp_path):
    layouts = ("hanging_tag_60x120",)
    printers.add(bench.shop.ledger, "tags at the tub", printer.uri, layouts, settings.layouts())
    bench.shop.hanging_piece()
    piece = bench.shop.green_piece(marker="M 01")
    bench.shop.cure([piece], (bench.shop.ingredient(), "25 g"), tub="white tub")
    bench.clock.set("2026-11-26")
    bench.open("/string")
    bench.sees("Waiting to be strung")
    keep_picture(bench, "string")
    bench.open(f"/string?piece={piece}")
    bench.fill("weight", "1015")
    with bench.page.expect_event("load"):
        bench.press("Record and print the tag")
    bench.sees("Printed on tags at the tub.")
    keep_picture(bench, "string_printed")
    (document,) = printer.documents()
    received = tmp_path / "received.pdf"
    received.write_bytes(document)
    assert piece in printed.symbols(received, 8)[0].values()
    assert bench.shop.state(piece).phase == "hanging"
    assert not bench.is_wide()


def test_printing_when_the_labels_are_used_up_then_the_page_says_so_and_hears_when_it_has_printed(bench, printer):
    printers.add(bench.shop.ledger, "tags at the tub", printer.uri, (), settings.layouts())
    piece = bench.shop.hanging_piece()
    bench.open(f"/lot/{piece}")
    with printer.being("reason", "media-empty-error"):
        with bench.page.expect_event("load"):
            bench.press("Print the tag")
        bench.sees("tags at the tub has it and says: out of labels. It prints when that is put right.")
        keep_picture(bench, "out_of_labels")
        bench.open("/printers")
        bench.sees("Printing: out of labels.")
        keep_picture(bench, "printers")
        bench.page.go_back()
        bench.sees("out of labels")
    bench.sees("Printed on tags at the tub.")
