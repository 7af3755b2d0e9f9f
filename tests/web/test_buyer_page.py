"""The page behind the QR as a buyer sees it: what the label says, whether it may be eaten, and nothing else."""

import re

import pytest


@pytest.fixture
def packs(stranger):
    return stranger.packed("330 g", "340 g")


def without_tokens(text):
    """The page without its random tokens, in which any short word may stand by chance."""
    return re.sub(r'name="(csrf|once)" value="[^"]*"', "", text)


@pytest.mark.parametrize("path", ["/lot/{lot}/1", "/01/09521234543213/10/{lot}/21/1", "/lot/{lot}"])
def test_the_buyers_page_when_the_qr_is_scanned_then_it_says_what_the_label_says(stranger, packs, path):
    page = stranger.get(path.format(lot=packs[0]))
    assert page.status == 200
    for words in ("Cured neck", "best before", "Keep cold", "pork", "salt", "Thistle Yard, 2 Thistle Yard, Exampleton"):
        assert words in page.words


def test_the_buyers_page_when_looked_into_then_nothing_of_the_workshop_is_in_it(stranger, packs):
    stranger.shop.sell(packs[1])
    text = without_tokens(stranger.get(f"/lot/{packs[1]}").text)
    for inside in ("Meadow Farm", "Corner Shop", "pig 12", "blue", "room 1", "Ada", "s1", "N2603", "P2603", "A2603"):
        assert inside not in text, inside


def test_the_buyers_page_when_loaded_then_it_is_one_small_request_without_script(stranger, packs):
    page = stranger.get(f"/lot/{packs[1]}")
    assert len(page.text.encode()) <= 30_000
    for asking in ("<script", "<img", "stylesheet", "url(", "@import"):
        assert asking not in page.text
    assert page.headers["Content-Security-Policy"].startswith("default-src 'none'; style-src 'sha256-")


def test_the_buyers_page_when_held_then_nobody_can_miss_it_and_the_reason_stays_inside(stranger, packs):
    stranger.shop.record("hold", lots=[packs[0]], reason="Ada dropped a glass")
    page = stranger.get(f"/lot/{packs[1]}")
    assert page.words.startswith("DO NOT EAT THIS")
    assert "glass" not in without_tokens(page.text)


def test_the_buyers_page_when_it_is_a_piece_then_it_says_only_what_it_is(stranger):
    piece = stranger.shop.hanging_piece()
    page = stranger.get(f"/lot/{piece}")
    assert "has not been released for sale" in page.words
    assert "1000" not in without_tokens(page.text)


@pytest.mark.parametrize(("code", "status"), [("P26030203X", 400), ("P26112501V", 404), ("<b>soap", 400)])
def test_the_buyers_page_when_there_is_no_such_code_then_it_says_so(stranger, code, status):
    page = stranger.get(f"/lot/{code}")
    assert page.status == status
    assert "No such code" in page.words
    assert "<b>soap" not in page.text


def test_a_buyers_complaint_when_sent_then_it_stands_in_the_record_once(stranger, bench, packs):
    before = bench.shop.facts()
    for _ in range(2):
        page = stranger.post(f"/lot/{packs[1]}", text="It smells of soap.", contact="555 0100", once="the same form")
    assert "Thank you. We have it." in page.words
    assert bench.shop.facts() == before + 1
    assert "complaint: It smells of soap." in bench.get(f"/lot/{packs[1]}").words


def test_a_buyers_complaint_when_empty_then_it_asks_and_keeps_what_was_typed(stranger, packs):
    page = stranger.post(f"/lot/{packs[1]}", text=" ", contact="555 0100")
    assert page.status == 400
    assert 'value="555 0100"' in page.text


def test_a_stranger_when_asking_for_the_workshops_pages_then_sees_none(stranger, packs):
    for path in (f"/trace/{packs[0]}", f"/sale-label/{packs[1]}.pdf", "/cards", f"/recall?reason=other&lot={packs[0]}"):
        assert "Who is there?" in stranger.get(path).words
