"""The page behind the QR as a buyer sees it: what the label says, whether it may be eaten, and nothing else."""

import re

import pytest
from page_hand import Page


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


def test_the_buyers_page_when_only_held_then_nothing_of_it_is_told(stranger, packs):
    stranger.shop.record("hold", lots=[packs[0]], reason="Ada dropped a glass")
    page = stranger.get(f"/lot/{packs[1]}")
    assert "RECALLED" not in page.words
    assert "glass" not in page.text


def warn(shop, *packs, **more):
    number = shop.record("open_case", what="recall", reason="Ada dropped a glass", lots=[packs[0]]).fact
    shop.record("publish", **{"case": number, "lots": list(packs), "risk": "foreign_body", "by": "Ada", **more})
    return number


def test_the_buyers_page_when_published_then_nobody_can_miss_it_and_the_case_stays_inside(stranger, packs):
    warn(stranger.shop, packs[0], words="A jar broke.")
    page = stranger.get(f"/lot/{packs[1]}")
    shown = first_section(page)
    assert shown.startswith("STOP RECALLED: do not eat this Why: There may be glass, metal or plastic in it. A jar broke.")
    assert "Warned since 22 May 2026." in shown
    assert "Ada" not in page.text
    assert page.text.index('class="alarm"') < page.text.index("<h1")


def test_the_buyers_page_when_published_then_every_language_says_so(stranger, packs):
    warn(stranger.shop, packs[1], risk="allergen", allergen="mustard")
    text = stranger.get(f"/lot/{packs[1]}").text
    for words in ("contains mustard", "contient : moutarde", "enthält Senf", "senape", "mostaza"):
        assert words in text, words
    assert "RÜCKRUF" in text
    assert "RECALLED" not in stranger.get(f"/lot/{packs[2]}").words


def test_the_buyers_page_when_no_longer_published_then_it_warns_no_more(stranger, packs):
    number = warn(stranger.shop, packs[0])
    stranger.shop.record("unpublish", case=number, lots=[packs[0]], reason="all looked at", by="Ada")
    assert "RECALLED" not in stranger.get(f"/lot/{packs[1]}").words


def first_section(page):
    """What is shown before anyone chooses a language: the section that stands last."""
    return Page(200, "", page.text[page.text.index('class="first"') - 30 :], {}).words.partition(">")[2].strip()


def test_the_buyers_page_when_loaded_then_the_labels_language_is_shown_and_the_others_are_there(stranger, packs):
    text = stranger.get(f"/lot/{packs[1]}").text
    sections = re.findall(r'<section id="(..)" lang="(..)"( class="first")?>', text)
    assert [language for language, *_ in sections][-1] == "en"
    assert sorted(language for language, *_ in sections) == ["de", "en", "es", "fr", "it"]
    assert [bool(first) for *_, first in sections] == [False] * 4 + [True]


def test_the_buyers_page_when_someone_works_here_then_they_may_see_it_too(bench, packs):
    assert "What happened" in bench.get(f"/lot/{packs[1]}").words
    assert "Is something wrong with it?" in bench.get(f"/lot/{packs[1]}?see=buyer").words


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
    assert "Thistle Yard" in page.words
    assert "<b>soap" not in page.text


def test_the_buyers_page_when_it_is_a_lot_inside_or_a_marker_then_it_is_as_if_there_were_none(stranger, packs):
    salt = stranger.shop.ingredient(supplier_lot="H 552")
    for code in (salt, "H 552", "pig 12"):
        page = stranger.get(f"/lot/{code}")
        assert page.status in (400, 404)
        assert "No such code" in page.words


def test_a_code_when_typed_on_the_page_then_it_leads_to_its_pack(stranger, packs):
    page = stranger.get(f"/lot?code={packs[1].lower().replace('/', '%2F')}")
    assert "Cured neck" in page.words
    assert "No such code" in stranger.get("/lot?code=soap").words
    assert "No such code" in stranger.get("/lot").words


def test_a_buyers_complaint_when_the_code_is_none_of_ours_then_it_is_taken_all_the_same(stranger, bench):
    page = stranger.post("/lot/K2611250ZZ", text="It smells.", language="de")
    assert "Danke. Wir haben es." in page.words
    assert "It smells. (the code was given as K2611250ZZ)" in bench.get("/").words


def test_a_buyers_complaint_when_a_machine_fills_in_every_field_then_it_is_asked_once_more_and_nothing_is_lost(stranger, packs):
    before = stranger.shop.facts()
    page = stranger.post(f"/lot/{packs[1]}", text="Buy soap", subject="soap", language="en")
    assert page.status == 400
    assert "One field must stay empty" in page.words
    assert "Buy soap" in page.text
    assert stranger.shop.facts() == before


def test_buyers_complaints_when_they_flood_in_then_the_rest_is_told_where_to_call_and_keeps_what_was_typed(stranger, packs):
    for number in range(10):
        assert stranger.post(f"/lot/{packs[1]}", text=f"soap {number}").status == 200
    page = stranger.post(f"/lot/{packs[1]}", text="soap again", language="fr")
    assert page.status == 429
    assert "joignez-nous ici : Thistle Yard" in page.words
    assert "soap again" in page.text


def test_a_buyers_complaint_when_the_browser_keeps_no_cookie_then_it_is_taken(stranger, packs):
    answer = stranger.client.application.test_client(use_cookies=False).post(f"/lot/{packs[1]}", data={"text": "It smells."})
    assert answer.status_code == 200
    assert "Set-Cookie" not in answer.headers


def test_the_buyers_page_when_it_says_very_much_then_it_is_still_small(stranger):
    long = ", ".join(f"pepper of kind {number}" for number in range(40))
    shop = stranger.shop
    piece = shop.green_piece()
    shop.record("ingredient", name="spices", category="spice", components=[{"name": long, "percent": "100"}])
    mix = [(shop.ingredient(), "30 g"), (shop.ingredient("spices"), "30 g")]
    shop.cure([piece], *mix)
    shop.string(piece, "720 g", at="2026-03-20")
    shop.release(piece, at="2026-05-20")
    lot, one = shop.pack([piece], "700 g", at="2026-05-21")
    shop.day = "2026-05-22"
    for risk in ("germ", "cure", "warm"):
        warn(shop, lot, risk=risk)
    text = stranger.get(f"/lot/{one}").text
    assert long.rpartition(",")[2].strip() in text
    assert len(text.encode()) <= 30_000


def test_a_buyers_complaint_when_sent_then_it_stands_in_the_record_once(stranger, bench, packs):
    before = bench.shop.facts()
    for _ in range(2):
        page = stranger.post(f"/lot/{packs[1]}", text="It smells of soap.", contact="555 0100", once="the same form")
    assert "Thank you. We have it." in page.words
    assert bench.shop.facts() == before + 1
    assert "complaint: It smells of soap." in bench.get(f"/lot/{packs[1]}").words


@pytest.mark.parametrize("once", ["ü", "x" * 300, "a key"])
def test_a_buyers_complaint_when_it_was_pasted_with_what_no_one_can_print_then_it_is_taken(stranger, bench, packs, once):
    page = stranger.post(f"/lot/{packs[1]}", text="It smells\x00 of\x0b soap.", contact="555\x1b 0100", once=once)
    assert "Thank you. We have it." in page.words
    assert "It smells of soap." in bench.get("/").words


def test_a_buyers_complaint_when_empty_then_it_asks_and_keeps_what_was_typed(stranger, packs):
    page = stranger.post(f"/lot/{packs[1]}", text=" ", contact="555 0100")
    assert page.status == 400
    assert 'value="555 0100"' in page.text


def test_a_stranger_when_asking_for_the_workshops_pages_then_sees_none(stranger, packs):
    for path in (f"/trace/{packs[0]}", f"/sale-label/{packs[1]}.pdf", "/cards", f"/recall?reason=other&lot={packs[0]}"):
        assert "Who is there?" in stranger.get(path).words
