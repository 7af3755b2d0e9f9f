"""Pages for labels: every label of a lot with its layouts and sheets, reprint and void, and layouts to look at and change."""

import re
from html import unescape

import pypdfium2
import pytest
from page_hand import Hand

from labelsvc import settings
from labelsvc.labels.shelf import Shelf


def words(response) -> str:
    document = pypdfium2.PdfDocument(response.data)
    try:
        return " ".join(" ".join(page.get_textpage().get_text_range().split()) for page in document)
    finally:
        document.close()


def pages_of(response) -> int:
    document = pypdfium2.PdfDocument(response.data)
    try:
        return len(document)
    finally:
        document.close()


@pytest.fixture
def own(app, bench, tmp_path) -> Hand:
    """Ada at a bench with a folder for own layouts."""
    at = app.extensions["labelsvc"]
    at.layouts = Shelf(at.layouts.shipped, tmp_path / "mine")
    return bench


def send(hand, path: str, **fields):
    """Send a form and return the bare response."""
    token = re.search(r'name="csrf" value="([^"]+)"', hand.get("/layouts/hanging_tag_60x120").text)
    return hand.client.post(path, data={"csrf": token.group(1), **fields})


def typed_in(page: str) -> str:
    return unescape(re.search(r"<textarea[^>]*>(.*?)</textarea>", page, re.DOTALL).group(1))


def test_labels_of_a_lot_when_shown_then_those_it_may_have_as_it_stands(bench):
    piece = bench.shop.green_piece()
    assert "There is no label for it as it stands" in bench.get(f"/labels/{piece}").words
    bench.shop.cure([piece], (bench.shop.ingredient(), "30 g"), tub="blue tub")
    assert "Tub card of blue tub" in bench.get(f"/labels/{piece}").words
    lot, *_ = bench.packed("330 g", "340 g")
    shown = bench.get(f"/labels/{lot}").words
    for kind in ("Sale label", "Counter card", "Case label"):
        assert kind in shown
    assert "United States" not in shown
    assert "A4 with 8 labels of 70 x 100 mm" in shown


def test_tub_card_when_printed_from_its_tub_then_it_is_a_pdf_and_stands_in_the_record(bench):
    piece = bench.shop.green_piece()
    bench.shop.cure([piece], (bench.shop.ingredient(), "30 g"), tub="blue tub")
    assert bench.client.get("/tub-card/blue tub").headers["Location"] == f"/labels/{piece}"
    card = send(bench, "/labels/tub-card/blue tub")
    assert "blue tub" in words(card)
    assert "tub card 105x148" in bench.get(f"/lot/{piece}").words


def test_sale_labels_when_printed_on_a_sheet_from_its_last_position_then_two_sheets(bench):
    lot, *_ = bench.packed("330 g", "340 g")
    printed = send(bench, f"/labels/sale-label/{lot}", layout="sale_label_70x100", sheet="a4_8_of_70x100", start="8")
    assert printed.mimetype == "application/pdf"
    assert pages_of(printed) == 2


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"sheet": "a4_8_of_70x100", "start": "9"}, "a position of 1 to 8"),
        ({"start": "two"}, "the number of a position on the sheet"),
        ({"sheet": "a4_6_of_60x120"}, "labels of 60 x 120 mm"),
        ({"layout": "hanging_tag_60x120"}, "sale_label_70x100"),
    ],
)
def test_label_when_the_stock_cannot_be_then_it_says_so_and_nothing_is_kept(bench, fields, said):
    lot, *_ = bench.packed("330 g", "340 g")
    facts = bench.shop.facts()
    answer = send(bench, f"/labels/sale-label/{lot}", **fields)
    assert answer.status_code == 400
    assert said in unescape(answer.text)
    assert bench.shop.facts() == facts


def test_label_when_printed_again_or_void_then_the_record_says_why(bench):
    lot, one, _ = bench.packed("330 g", "340 g")
    send(bench, f"/labels/sale-label/{lot}")
    fact = bench.shop.facts()
    assert send(bench, f"/issued-label/{fact}/again", reason="torn").mimetype == "application/pdf"
    assert "torn" in bench.get(f"/lot/{one}").words
    assert send(bench, f"/issued-label/{fact}/again").status_code == 400
    send(bench, f"/issued-label/{fact}/void", reason="wrong roll", code=one)
    assert "void: wrong roll" in bench.get(f"/lot/{one}").words
    assert send(bench, f"/issued-label/{fact}/again", reason="torn").status_code == 409


def test_layouts_when_shown_then_each_has_its_picture(bench):
    page = bench.get("/layouts")
    names = re.findall(r'src="(/layouts/[a-z0-9_]+\.png)"', page.text)
    assert len(names) == len(settings.layouts().names())
    assert bench.client.get(names[0]).data.startswith(b"\x89PNG")


def test_layout_when_a_number_is_changed_then_what_comes_of_it_is_seen_and_nothing_is_kept(own):
    text = unescape(
        re.search(r"<textarea[^>]*>(.*?)</textarea>", own.get("/layouts/hanging_tag_60x120").text, re.DOTALL).group(1)
    )
    smaller = text.replace("box_mm = [3, 56.6, 41, 16.8]", "box_mm = [3, 56.6, 20, 16.8]")
    assert smaller != text
    seen = unescape(send(own, "/layouts/hanging_tag_60x120", text=smaller).text)
    assert "hanging_tag_60x120.toml stop_at: expected text that fits 20.0 x" in seen
    line = smaller.splitlines().index("[elements.stop_at]") + 1
    assert f"Line {line}" in seen
    outside = text.replace("box_mm = [3, 56.6, 41, 16.8]", "box_mm = [3, 56.6, 410, 16.8]")
    seen = unescape(send(own, "/layouts/hanging_tag_60x120", text=outside).text)
    assert f"Line {outside.splitlines().index('box_mm = [3, 56.6, 410, 16.8]') + 1}" in seen
    assert "your own" not in own.get("/layouts").words


def test_own_copy_when_kept_then_it_is_offered_and_printed(own):
    text = unescape(
        re.search(r"<textarea[^>]*>(.*?)</textarea>", own.get("/layouts/hanging_tag_60x120").text, re.DOTALL).group(1)
    )
    mine = text.replace('title = "Hanging tag 60 x 120 mm"', 'title = "My tag"')
    kept = send(own, "/layouts/hanging_tag_60x120/keep", text=mine, name="my_tag")
    assert kept.headers["Location"] == "/layouts/my_tag"
    piece = own.shop.hanging_piece()
    assert "My tag" in own.get(f"/labels/{piece}").words
    assert send(own, f"/labels/tag/{piece}", layout="my_tag").mimetype == "application/pdf"


def test_own_copy_when_its_name_is_none_then_what_was_typed_stays(own):
    answer = send(own, "/layouts/hanging_tag_60x120/keep", text="title = 'typed'", name="../x")
    assert "small letters, digits and underscores" in unescape(answer.text)
    assert "title = 'typed'" in unescape(answer.text)


def test_own_copy_when_another_has_its_name_then_that_one_is_not_written_over(own):
    send(own, "/layouts/hanging_tag_60x120/keep", text="title = 'mine'", name="my_tag")
    answer = send(own, "/layouts/hold_tag_60x120/keep", text="title = 'other'", name="my_tag")
    assert "a name that is free" in unescape(answer.text)
    assert "title = 'mine'" in unescape(own.get("/layouts/my_tag").text)
    send(own, "/layouts/my_tag/keep", text="title = 'changed'", name="my_tag")
    assert "title = 'changed'" in unescape(own.get("/layouts/my_tag").text)
    assert own.get("/layouts/my_tag?act=keep&name=stolen").status == 200  # a link keeps nothing
    assert own.get("/layouts/stolen").status == 404
    assert own.get("/layouts/my_tag/keep").status == 405


def test_layout_when_there_is_no_folder_then_it_says_how_to_have_one(bench):
    assert "LABELSVC_LAYOUTS=FOLDER" in bench.get("/layouts/hanging_tag_60x120").words
    assert bench.get("/layouts/nope").status == 404
