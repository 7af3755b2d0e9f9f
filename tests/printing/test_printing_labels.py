"""Labels leave through a real printer process: what it received is what we drew, at the size we asked for, and reads."""

import ctypes
import ctypes.util
import threading

import build
import label_printer
import printed
import pytest
import zxingcpp
from by_hand import Hand

from labelsvc import settings
from labelsvc.errors import ConflictError, NotFoundError, PrinterError
from labelsvc.ledger.database import open_ledger
from labelsvc.operations import labelling, printers

TAG, SALE = "hanging_tag_60x120", "sale_label_70x100"
NOW = build.NOW


@pytest.fixture(scope="module")
def workshop(tmp_path_factory):
    """A workshop with a piece that hangs and a pack that may be sold; returns the hand of a person and their codes."""
    file = tmp_path_factory.mktemp("workshop") / "workshop.db"
    shop = build.new_shop(str(file))
    piece = shop.hanging_piece()
    pack = shop.packed("340 g", "350 g")
    shop.ledger.close()
    return Hand(file), piece, pack


@pytest.fixture
def hand(workshop, tag_and_label_printer):
    """The person at the keyboard, with the printer known by its name; it forgot what it printed before."""
    hand, _, _ = workshop
    if not hand("printers", "--json").json["printers"]:
        hand("printers", "add", "Tags", tag_and_label_printer.uri, "--layout", TAG, "--layout", SALE)
    for file in tag_and_label_printer.kept.iterdir():
        file.unlink()
    return hand


def media(wide, high):
    """The size as the printer's own program writes the collection it was sent, with the margins it says it has."""
    sides = " ".join(f"media-{side}-margin=0" for side in ("top", "bottom", "left", "right"))
    return f"{{media-size={{x-dimension={wide} y-dimension={high}}} {sides}}}"


def test_tag_when_printed_then_the_printer_has_our_pdf_at_its_size_unscaled(hand, workshop, tag_and_label_printer, tmp_path):
    file, piece = tmp_path / "tag.pdf", workshop[1]
    answer = hand("tag", piece, "--printer", "tags", "--output", str(file), "--json").json
    (document,) = tag_and_label_printer.documents()
    assert document == file.read_bytes()
    told = tag_and_label_printer.told()
    assert told["IPP_MEDIA_COL"] == media(6000, 12000)
    assert told["IPP_PRINT_SCALING"] == "none"  # the printer's own default is fit
    assert answer["printer"]["name"] == "Tags"
    assert answer["printer"]["state"] == "completed"
    received = tmp_path / "received.pdf"
    received.write_bytes(document)
    (symbols,) = printed.symbols(received, 8)  # the printer said 203 dots an inch
    assert piece in symbols.values()


def test_sale_labels_when_printed_then_a_page_each_with_its_symbols(hand, workshop, tag_and_label_printer, tmp_path):
    lot, *packs = workshop[2]
    answer = hand("sale-label", lot, "--printer", "Tags")
    assert answer.out.splitlines()[-1] == "Printed on Tags."
    (document,) = tag_and_label_printer.documents()
    assert tag_and_label_printer.told()["IPP_MEDIA_COL"] == media(7000, 10000)
    received = tmp_path / "received.pdf"
    received.write_bytes(document)
    pages = printed.symbols(received, 8)
    assert len(pages) == len(packs) == 2
    assert all(any(lot in said for said in page.values()) for page in pages)


def test_printers_when_listed_then_each_says_how_it_is(hand, tag_and_label_printer):
    assert hand("printers").out == f"Tags  {tag_and_label_printer.uri}  ready  loaded: {TAG}, {SALE}\n"
    (said,) = hand("printers", "--json").json["printers"]
    assert (said["state"], said["reasons"], said["layouts"]) == ("ready", [], [TAG, SALE])


def test_tag_when_the_labels_are_used_up_then_it_says_so_and_prints_once_when_filled(hand, workshop, tag_and_label_printer):
    with tag_and_label_printer.being("reason", "media-empty-error"):
        answer = hand("tag", workshop[1], "--printer", "Tags", "--json").json["printer"]
        assert answer["message"] == "Tags has it and says: out of labels. It prints when that is put right."
        assert hand("printers", "--json").json["printers"][0]["message"] == "printing: out of labels"
    where = printers.at(printers.KnownPrinter(1, "Tags", tag_and_label_printer.uri, ()))
    while not (sent := printers.follow(where, answer["job"])).state.is_over:
        pass  # it says that it is empty until it has looked again
    assert sent.in_words == "Printed on Tags."
    assert len(tag_and_label_printer.documents()) == 1


def test_tag_when_the_printer_gives_it_up_then_exit_1_and_the_label_is_kept(hand, workshop, tag_and_label_printer):
    with tag_and_label_printer.being("broken"):
        refused = hand.refused("tag", workshop[1], "--printer", "Tags", "--json")
    assert refused.code == 1
    assert refused.error["field"] == "printer"
    assert (refused.error["expected"], refused.error["got"]) == ("Tags to print it", "a job that was aborted there")
    assert "The label is kept as fact" in refused.error["message"]


def test_tag_when_the_printer_is_off_then_exit_1_and_nothing_is_lost_or_doubled(hand, workshop, tag_and_label_printer):
    facts = hand.facts()
    issued = hand("tag", workshop[1], "--printer", "Tags", "--json").json["fact"]
    after = hand.facts()
    assert after - facts <= 1  # the label, unless one that says the same was printed before
    tag_and_label_printer.stop()
    try:
        refused = hand.refused("tag", workshop[1], "--printer", "Tags", "--json")
        assert hand("printers", "--json").json["printers"][0]["state"] == "no answer"
    finally:
        tag_and_label_printer.start()
    assert (refused.code, hand.facts()) == (1, after)
    assert refused.error["got"] == "nobody who listens at its address"
    assert f"The label is kept as fact {issued}: run labelsvc reprint {issued}" in refused.error["message"]
    again = hand("reprint", str(issued), "--reason", "the printer was off", "--printer", "Tags", "--json").json
    assert (again["file"], again["printer"]["state"], hand.facts()) == (None, "completed", after + 1)
    first, second = tag_and_label_printer.documents(2)
    assert first == second


def test_labels_when_the_printer_is_busy_then_the_second_waits_for_the_first(hand, workshop, tag_and_label_printer):
    """This printer takes one job at a time, and answers another with server-error-busy (RFC 8011, B.1.5.8)."""
    where = printers.KnownPrinter(1, "Tags", tag_and_label_printer.uri, ())
    ledger = open_ledger(str(hand.database))
    issued = labelling.tag(ledger, workshop[1], layouts=settings.layouts(), now=NOW)
    ledger.close()
    with tag_and_label_printer.being("slow"):
        first = printers.send(where, issued.pdf, "first", 8, patience=0)
        assert first.in_words == "Printing on Tags."
        second = threading.Thread(target=printers.send, args=(where, issued.pdf, "second", 8))
        second.start()
        second.join(0.7)
        assert second.is_alive()
    second.join(20)
    assert not second.is_alive()
    assert len(tag_and_label_printer.documents(2)) == 2


def test_job_when_taken_back_then_it_ends_there(hand, workshop, tag_and_label_printer, tmp_path):
    where = printers.KnownPrinter(1, "Tags", tag_and_label_printer.uri, ())
    hand("tag", workshop[1], "--output", str(tmp_path / "tag.pdf"))
    with tag_and_label_printer.being("slow"):
        sent = printers.send(where, (tmp_path / "tag.pdf").read_bytes(), "a tag", 8, patience=0)
        tag_and_label_printer.documents()  # it has begun: taken back any sooner, this printer may print it all the same
        printers.at(where).cancel(sent.job)
    with pytest.raises(PrinterError, match="got a job that was canceled there"):
        printers.follow(printers.at(where), sent.job)


def test_printer_when_tried_then_a_label_of_each_that_is_loaded_says_that_it_is_none(hand, tag_and_label_printer, tmp_path):
    answer = hand("printers", "try", "tags")
    assert answer.out == "Printed on Tags.\n" * 2
    for document in tag_and_label_printer.documents(2):
        file = tmp_path / "test.pdf"
        file.write_bytes(document)
        assert "TEST:THROWAWAY" in printed.words(file)[0]


def test_tag_when_other_labels_are_loaded_then_it_is_not_issued_and_says_which(hand, workshop, tag_and_label_printer):
    hand("printers", "add", "Sale labels only", tag_and_label_printer.uri, "--layout", SALE)
    facts = hand.facts()
    refused = hand.refused("tag", workshop[1], "--printer", "sale labels only", "--json")
    assert (refused.code, hand.facts()) == (1, facts)
    assert refused.error["expected"] == "one with labels for hanging tag 60 x 120 mm loaded"
    assert refused.error["got"] == f"one with {SALE}"
    assert hand("printers", "remove", "Sale labels only").out == "Sale labels only is removed\n"


def test_label_when_of_a_size_that_the_printer_has_not_then_nothing_is_sent(hand, workshop, tag_and_label_printer):
    refused = hand.refused("sale-label", workshop[2][0], "--layout", "sale_label_100x150", "--printer", "Tags", "--json")
    assert refused.code == 1
    assert refused.error["expected"] == "Tags to print labels of 100 x 150 mm"
    assert list(tag_and_label_printer.kept.glob("document-*")) == []


def test_printer_when_it_takes_no_pdf_then_it_gets_its_own_dots(hand, workshop, printers_folder, tmp_path):
    with label_printer.running(printers_folder, formats="image/pwg-raster,image/urf") as printer:
        hand("printers", "add", "Dots", printer.uri)
        answer = hand("tag", workshop[1], "--printer", "Dots", "--json").json
        (document,) = printer.documents()
        assert printer.told()["IPP_MEDIA_COL"] == media(6000, 12000)
    assert answer["printer"]["state"] == "completed"
    head, dots = read_by_another(document, tmp_path)
    assert head == dict(width=480, height=960, bits=1, dpi=(203, 203), points=(170, 340), wide=60, colours=3, pages=1)
    bright = b"".join(bytes(0 if row >> bit & 1 else 255 for bit in range(7, -1, -1)) for row in dots)
    found = zxingcpp.read_barcodes(memoryview(bright).cast("B", (960, 480)))
    assert {workshop[1], f"https://labels.example.com/lot/{workshop[1]}"} <= {one.text for one in found}


def test_printer_when_it_takes_neither_then_it_says_what_it_takes(hand, workshop, printers_folder):
    with label_printer.running(printers_folder, formats="image/jpeg,image/urf") as printer:
        hand("printers", "add", "Pictures", printer.uri)
        refused = hand.refused("tag", workshop[1], "--printer", "Pictures", "--json")
    hand("printers", "remove", "Pictures")
    assert refused.code == 1
    assert refused.error["got"] == "image/jpeg, image/urf"
    assert "Open the PDF" in refused.error["message"]


def test_printer_when_its_dots_are_not_those_of_the_label_then_it_says_so(hand, workshop, printers_folder):
    with label_printer.running(printers_folder, formats="image/pwg-raster", resolution=300) as printer:
        assert hand("printers", "add", "Finer", printer.uri, "--json").json["dots_per_mm"] == 12
        refused = hand.refused("tag", workshop[1], "--printer", "Finer", "--dots-per-mm", "8", "--json")
        assert refused.error["expected"] == "Finer with 8 dots a mm, about 203 an inch"
        assert hand("tag", workshop[1], "--printer", "Finer", "--json").json["printer"]["state"] == "completed"
    hand("printers", "remove", "Finer")


def test_printer_when_kept_and_forgotten_then_on_both_kinds_of_database(shop):
    shelf = settings.layouts()
    printers.add(shop.ledger, " Tags  at the tub ", "ipp://printer.example.com/ipp/print", (TAG, TAG), shelf)
    with pytest.raises(ConflictError, match="a name that no printer has yet"):
        printers.add(shop.ledger, "tags at the TUB", "ipp://other.example.com/", (), shelf)
    (kept,) = printers.known(shop.ledger)
    assert (kept.name, kept.layouts) == ("Tags at the tub", (TAG,))
    assert printers.remove(shop.ledger, "TAGS at the tub").uri == "ipp://printer.example.com/ipp/print"
    with pytest.raises(NotFoundError, match="There is none yet"):
        printers.named(shop.ledger, "Tags at the tub")


class _Head(ctypes.Structure):
    """The page header of the printing system's own library (cups/raster.h, cups_page_header2_t), as far as it is read here."""

    _fields_ = [
        ("media", ctypes.c_char * 64 * 4), ("before", ctypes.c_uint * 5), ("dpi", ctypes.c_uint * 2), ("box", ctypes.c_uint * 4),
        ("feed", ctypes.c_uint * 13), ("points", ctypes.c_uint * 2), ("trays", ctypes.c_uint * 3), ("width", ctypes.c_uint),
        ("height", ctypes.c_uint), ("media_type", ctypes.c_uint), ("bits", ctypes.c_uint), ("bits_pixel", ctypes.c_uint),
        ("wide", ctypes.c_uint), ("order", ctypes.c_uint), ("colours", ctypes.c_uint), ("compression", ctypes.c_uint * 4),
        ("number_of_colours", ctypes.c_uint), ("scaling", ctypes.c_float * 7), ("numbers", ctypes.c_uint * 16),
        ("rest", ctypes.c_char * 2048),
    ]  # fmt: skip


def read_by_another(document, folder):
    """Return head and rows of a raster as the library reads it that printers and queues of this kind are built on."""
    library = next((name for name in ("cups", "cupsimage") if ctypes.util.find_library(name)), None)
    assert library, "libcups comes with the printer's own program"
    cups = ctypes.CDLL(ctypes.util.find_library(library))
    cups.cupsRasterOpen.restype = ctypes.c_void_p
    for name in ("cupsRasterReadHeader2", "cupsRasterReadPixels", "cupsRasterClose"):
        getattr(cups, name).argtypes = [ctypes.c_void_p, *{"cupsRasterReadHeader2": [ctypes.c_void_p], "cupsRasterClose": []}.get(
            name, [ctypes.c_char_p, ctypes.c_uint])]  # fmt: skip
    file = folder / "page.pwg"
    file.write_bytes(document)
    with file.open("rb") as opened:
        raster = cups.cupsRasterOpen(opened.fileno(), 0)
        head = _Head()
        assert cups.cupsRasterReadHeader2(raster, ctypes.byref(head)) == 1
        row = ctypes.create_string_buffer(head.wide)
        read = []
        for _ in range(head.height):
            assert cups.cupsRasterReadPixels(raster, row, head.wide) == head.wide
            read.append(row.raw)
        cups.cupsRasterClose(raster)
    said = dict(width=head.width, height=head.height, bits=head.bits, dpi=tuple(head.dpi), points=tuple(head.points))
    return {**said, "wide": head.wide, "colours": head.colours, "pages": head.numbers[0]}, b"".join(read)
