"""Printers on the pages: entered, tried, and what the press that records sends to a real one."""

import re
import time
from dataclasses import replace

import build
import label_printer
import printed
import pytest

from labelsvc import settings
from labelsvc.ledger import printers as rows
from labelsvc.ledger import sendings
from labelsvc.ledger.sendings import SentLabel
from labelsvc.operations import labelling, printers
from labelsvc.printing import ipp

TAG, SALE = "hanging_tag_60x120", "sale_label_70x100"


@pytest.fixture
def kind():
    """The pages are the same on both kinds of database."""
    return "sqlite"


def kept(shop, printer, *layouts, name="Tags"):
    return printers.add(shop.ledger, name, printer.uri, layouts, settings.layouts())


def sent_to(page):
    """Return the address that the page asks for news of what it sent."""
    return page.text.partition('data-ask="')[2].partition('"')[0].replace("&amp;", "&")


def over(bench, page):
    """Ask as the page does, until it is over; return what was said last."""
    address, told = sent_to(page), page
    if not address:
        return page
    for _ in range(1200):
        told = bench.get(address)
        if "data-ask" not in told.text:
            return told
        time.sleep(0.05)
    raise AssertionError(told.words)


def out_of_labels(bench, page):
    """Ask until the printer says that it waits for labels; return what was said."""
    for _ in range(1200):
        told = bench.get(sent_to(page))
        if "out of labels" in told.words:
            return told
        time.sleep(0.05)
    raise AssertionError(told.words)


def again_of(page):
    return re.search(r'action="(/printing/tag/\d+/again)"', page.text).group(1)


def ended(app, page, jobs):
    """Return how the printer itself says that the jobs behind a page's Print again ended."""
    sent = app.extensions["labelsvc"].tray.find(int(again_of(page).split("/")[3])).sending
    assert len(sent.labels) == jobs
    return [printers.at(sent.printer).job(one.job).state for one in sent.labels]


def in_cure(shop):
    piece = shop.green_piece()
    shop.cure([piece], (shop.ingredient(), "30 g"))
    return piece


def strung(bench, piece, **more):
    return bench.post("/string", piece=piece, weight="1000 g", place="room 1", weight_is="gross", **more)


@pytest.fixture
def printer(tag_and_label_printer):
    for file in tag_and_label_printer.kept.iterdir():
        file.unlink()
    return tag_and_label_printer


def test_printers_when_there_is_none_then_the_page_says_how_to_find_one(bench):
    words = bench.get("/printers").words
    assert "There is no printer yet." in words
    assert "/ipp/print" in words
    assert 'href="/printers"' in bench.get("/more").text


def test_printer_when_entered_tried_and_removed_then_the_page_says_how_it_is(bench, printer):
    page = bench.post("/printers", name="Tags", uri=printer.uri, layouts=[TAG])
    assert "Tags is kept." in page.words
    assert "Ready. Loaded: hanging tag 60x120." in page.words
    assert "8 dots a mm" in page.words
    number = printers.known(bench.shop.ledger)[0].number
    assert "Printed on Tags." in bench.post(f"/printers/{number}/try").words
    assert len(printer.documents()) == 1
    assert "There is no printer yet." in bench.post(f"/printers/{number}/remove").words


def test_printer_when_its_address_is_none_then_the_error_stands_beside_it_and_nothing_typed_is_lost(bench):
    page = bench.post("/printers", name="Tags", uri="file:///etc/passwd", layouts=[SALE])
    assert page.status == 400
    assert "Expected the address of a printer, such as ipp://192.0.2.7/ipp/print" in page.beside("uri")
    assert 'value="Tags"' in page.beside("name")
    assert f'value="{SALE}" checked' in page.text


def test_printer_when_it_cannot_be_reached_then_it_may_be_kept_and_says_so(bench):
    page = bench.post("/printers", name="Tags", uri="ipp://127.0.0.1:1/ipp/print")
    assert "Nobody who listens at its address. Is it switched on" in page.words
    assert "labels are drawn for those of their layout until it answers." in page.words


@pytest.mark.parametrize("first", ["its page", "a test label", "a tag"])
def test_printer_entered_while_it_was_off_when_it_is_reached_then_its_dots_are_taken(bench, printer, first):
    with bench.shop.ledger.writing() as connection:
        rows.put_printer(connection, "Tags", printer.uri, (TAG,), None)  # as it is kept where nobody answers
    (off,) = printers.known(bench.shop.ledger)
    if first == "its page":
        assert "8 dots a mm" in bench.get("/printers").words
    elif first == "a test label":
        assert "Printed on Tags." in bench.post(f"/printers/{off.number}/try").words
    else:
        over(bench, strung(bench, in_cure(bench.shop)))
    assert printers.known(bench.shop.ledger) == [replace(off, dots_per_mm=8)]


def test_stringing_when_the_station_has_a_printer_then_the_tag_is_printed_by_that_press(bench, printer):
    kept(bench.shop, printer, TAG)
    piece = in_cure(bench.shop)
    page = strung(bench, piece)
    assert f"The tag of {piece} is ready" in page.words
    assert "Printing on Tags." in page.words or "Printed on Tags." in page.words
    assert "Printed on Tags." in over(bench, page).words
    assert len(printer.documents()) == 1
    assert printer.told()["IPP_PRINT_SCALING"] == "none"


def test_stringing_when_the_printer_is_off_then_it_is_strung_at_once_and_printed_again_as_a_reprint(bench, printer):
    kept(bench.shop, printer, TAG)
    piece = in_cure(bench.shop)
    printer.stop()
    try:
        page = strung(bench, piece)
        facts = bench.shop.facts()
        told = over(bench, page)
    finally:
        printer.start()
    assert "Tags did not print it: nobody who listens at its address." in told.words
    assert bench.shop.state(piece).phase == "hanging"
    again = bench.post(again_of(told))
    assert "Printed on Tags." in over(bench, again).words
    assert len(printer.documents()) == 1
    assert bench.shop.facts() == facts + 1
    assert "printed again" in bench.get(f"/lot/{piece}").words
    assert "Tags did not print it" in bench.get(f"/lot/{piece}").words


def test_stringing_when_the_labels_are_used_up_then_it_says_so_until_filled(bench, printer):
    kept(bench.shop, printer, TAG)
    with printer.being("reason", "media-empty-error"):
        page = strung(bench, in_cure(bench.shop))
        told = out_of_labels(bench, page)
        assert "Tags has it and says: out of labels. It prints when that is put right." in told.words
    assert "Printed on Tags." in over(bench, page).words
    assert len(printer.documents()) == 1


def test_printing_again_when_the_printer_still_holds_the_first_then_it_comes_out_once(app, bench, printer):
    kept(bench.shop, printer, TAG)
    piece = in_cure(bench.shop)
    with printer.being("reason", "media-empty-error"):
        first = out_of_labels(bench, strung(bench, piece))
        assert "Take it back and print again" in first.words
        facts = bench.shop.facts()
        again = bench.post(again_of(first))
        twice = bench.post(again_of(first))  # from the first page, which still stands there
    assert again.where == twice.where
    assert bench.shop.facts() == facts + 1
    told = over(bench, again)
    assert "Printed on Tags." in told.words
    assert ended(app, first, 1) == ["canceled"]
    assert ended(app, told, 1) == ["completed"]
    old = bench.get(again_of(first).removesuffix("/again").replace("/tag", "")).words
    assert "Taken back from Tags." in old
    assert "Print again" not in old


def test_printing_again_when_the_printer_holds_the_first_and_is_off_then_nothing_is_sent_that_might_come_out_twice(
    bench, printer
):
    kept(bench.shop, printer, TAG)
    with printer.being("reason", "media-empty-error"):
        first = out_of_labels(bench, strung(bench, in_cure(bench.shop)))
        facts = bench.shop.facts()
        printer.stop()
        try:
            page = bench.post(again_of(first))
        finally:
            printer.start()
    assert "Expected Tags to give back what it has not printed; got nobody who listens at its address." in page.words
    assert bench.shop.facts() == facts
    assert "Printed on Tags." in over(bench, bench.post(again_of(first))).words  # it was off, and has forgotten the first


def test_printing_again_when_printed_then_as_often_as_asked(bench, printer):
    kept(bench.shop, printer, TAG)
    piece = in_cure(bench.shop)
    page = over(bench, strung(bench, piece))
    facts = bench.shop.facts()
    for _ in range(2):
        page = over(bench, bench.post(again_of(page)))
        assert "Printed on Tags." in page.words
    assert len(printer.documents(3)) == 3
    assert bench.shop.facts() == facts + 2
    assert "asked for after it was printed" in bench.get(f"/lot/{piece}").words


def test_stringing_when_no_printer_is_chosen_then_it_is_remembered_and_the_pdf_opens(bench, printer):
    kept(bench.shop, printer, TAG)
    page = strung(bench, in_cure(bench.shop), printer="")
    assert "Open the tag to print it" in page.words
    assert (
        '<option value="" selected>No printer: the PDF opens</option>' in bench.get("/string?piece=" + in_cure(bench.shop)).text
    )
    assert list(printer.kept.iterdir()) == []


def test_stringing_when_only_sale_labels_are_loaded_then_the_tag_does_not_go_there(bench, printer):
    kept(bench.shop, printer, SALE)
    page = strung(bench, in_cure(bench.shop))
    assert "Open the tag to print it" in page.words
    assert "Print the tag on" not in page.text


def test_packing_when_the_station_has_a_printer_then_each_pack_has_its_label_and_the_session_remembers(bench, printer):
    kept(bench.shop, printer, SALE, name="Labels")
    kept(bench.shop, printer, SALE, name="Other labels")
    piece = bench.shop.hanging_piece(hung="720 g")
    bench.shop.release(piece, at="2026-05-20")
    said = dict(market="eu", language="en", form="prepacked", session="neck")
    page = bench.post("/pack", from_=piece, first="2 x 100 g", printer="Labels", **said)
    told = over(bench, page)
    assert "2 of 2 are printed." in told.words or "Printed on Labels." in told.words
    page = bench.post(page.where.partition("?")[0], weight="150 g")
    assert "Printed on Labels." in over(bench, page).words
    assert len(printer.documents(3)) == 3
    assert printer.told(2)["IPP_MEDIA_COL"].startswith("{media-size={x-dimension=7000 y-dimension=10000}")


def test_what_was_sent_when_the_service_is_started_anew_then_it_is_told_and_asked_of_the_printer(bench, started_anew, printer):
    kept(bench.shop, printer, TAG)
    piece = in_cure(bench.shop)
    with printer.being("reason", "media-empty-error"):
        first = out_of_labels(bench, strung(bench, piece))
        anew = started_anew()
        sent = anew.get("/printers").words.partition("Sent lately")[2]
        assert f"{piece[:7]} {piece[7:]} tag, Tags" in sent
        assert "out of labels" in out_of_labels(anew, first).words
    assert "Printed on Tags." in over(anew, first).words
    assert len(printer.documents()) == 1


def test_stringing_when_the_answer_is_lost_then_the_printers_own_list_tells_that_it_has_the_tag(bench, printer):
    with label_printer.losing(printer) as (uri, lost):
        lost.add(ipp.PRINT_JOB)
        printers.add(bench.shop.ledger, "Tags", uri, (TAG,), settings.layouts())
        assert "Printed on Tags." in over(bench, strung(bench, in_cure(bench.shop))).words
    assert len(printer.documents()) == 1


def test_printing_again_when_the_answer_was_lost_then_it_is_looked_for_first_and_comes_out_once(bench, printer):
    with label_printer.losing(printer) as (uri, lost):
        lost |= {ipp.PRINT_JOB, ipp.GET_JOBS}
        printers.add(bench.shop.ledger, "Tags", uri, (TAG,), settings.layouts())
        told = over(bench, strung(bench, in_cure(bench.shop)))
        assert "Whether Tags has the label is not known: its answer was lost, and now no whole answer." in told.words
        facts = bench.shop.facts()
        refused = bench.post(again_of(told))
        assert "Expected Tags to give back what it has not printed; got no whole answer. It may still come out" in refused.words
        lost.remove(ipp.GET_JOBS)
        printer.documents()
        found = bench.post(again_of(told))
        assert "It came out on Tags after all: nothing was sent again." in found.words
    assert len(printer.documents()) == 1
    assert bench.shop.facts() == facts


def test_what_was_being_sent_when_the_service_ended_then_the_printers_own_list_tells(bench, started_anew, printer, tmp_path):
    where = kept(bench.shop, printer, TAG)
    how = dict(layouts=settings.layouts(), now=build.NOW)
    issued = [labelling.tag(bench.shop.ledger, bench.shop.hanging_piece(), **how) for _ in range(2)]
    sent = [SentLabel(one.fact, one.lots, printers.titled("Label")) for one in issued]
    with bench.shop.ledger.writing() as connection:
        number = sendings.put_sending(connection, where, "tag", sent, 500).number
    printers.send(where, issued[0].pdf, sent[0].title, 8)  # and the service ended before it wrote that down
    page = started_anew().get(f"/printing/{number}")
    assert "The answer to one was lost. Not sent after it: 1. 1 of 2 are printed." in page.words
    anew = started_anew()
    assert "Printed on Tags." in over(anew, anew.post(again_of(page))).words
    _, second = printer.documents(2)
    received = tmp_path / "received.pdf"
    received.write_bytes(second)
    assert issued[1].lots[0] in printed.symbols(received, 8)[0].values()
