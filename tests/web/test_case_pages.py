"""Withdrawals, recalls, exercises and complaints on the pages, from the search to the closing."""

import re

import pytest


@pytest.fixture
def out(bench):
    """A pack of 330 g with the Corner Shop, one of 340 g in stock."""
    bench.lot, bench.one, bench.two = bench.packed("330 g", "340 g")
    bench.shop.sell(bench.one, document="note 7")
    bench.shop.record("customer", name="Corner Shop", address="1 Market Square, Exampleton", contact="+353 555 0100")
    return bench


def opened(bench, what="recall", lots=None):
    page = bench.post("/case/new", what=what, reason="Glass in a pack", lots=lots or bench.lot, asked="code x, reach mass")
    return int(re.search(r"/case/([0-9]+)", page.where).group(1)), page


def test_a_search_when_it_found_something_then_one_press_opens_the_case(out):
    page = out.get(f"/recall?reason=foreign&lot={out.lot}")
    assert "Open a recall" in page.words
    sent = dict(re.findall(r'<input type="hidden" name="(lots|asked|reason)" value="([^"]*)"', page.text))
    number, page = opened(out, lots=sent["lots"])
    assert f"Recall {number}: Glass in a pack" in page.words
    assert "Hold these" in page.words


def test_a_search_when_widened_step_by_step_then_it_ends_at_the_room(out):
    page, steps = out.get(f"/recall?reason=animal&lot={out.lot}"), []
    while match := re.search(r'href="([^"]+)">Wider: ([^<]+)', page.text):
        steps.append(match.group(2))
        page = out.get(match.group(1).replace("&amp;", "&"))
    assert [words.split()[-1] for words in steps] == ["tub", "session", "room"]
    assert "Narrower: without what hung in the same room" in page.words


def test_a_case_when_open_then_it_says_whom_to_call_next_with_the_number(out):
    number, page = opened(out)
    assert 'href="tel:+3535550100"' in page.text
    assert "Got 330 g in 1 pack" in page.words
    page = out.post(f"/case/{number}/tell", customer="Corner Shop", how="by telephone", still_had="330", answer="all of it")
    assert page.where.startswith(f"/case/{number}")
    assert "Everyone was told." in page.words
    assert "1 of 1 told" in page.words
    assert "still there 330 g" in page.words


def test_a_case_when_nobody_answers_then_they_are_still_to_be_told(out):
    number, _ = opened(out)
    page = out.post(f"/case/{number}/tell", customer="Corner Shop", how="by telephone", reached="false", answer="")
    assert "0 of 1 told" in page.words
    assert "by telephone: not reached" in page.words


def test_what_they_still_had_when_it_cannot_be_read_then_it_stands_beside_it_and_nothing_is_lost(out):
    number, _ = opened(out)
    page = out.post(f"/case/{number}/tell", customer="Corner Shop", how="by telephone", still_had="two", answer="they look")
    assert page.status == 400
    assert "problem" in page.beside("still_had")
    assert 'value="they look"' in page.text


def test_holding_in_a_case_when_pressed_then_it_leads_back_and_buyers_see_nothing(out, stranger):
    number, _ = opened(out)
    page = out.post(f"/hold?case={number}", lots=out.two, reason=f"case {number}: Glass in a pack")
    assert page.where.startswith(f"/case/{number}")
    assert "Everything that is still here is held: 1 lot" in page.words
    assert "RECALLED" not in stranger.get(f"/lot/{out.two}").words


def test_publishing_when_decided_on_the_page_then_buyers_are_warned_and_taking_back_ends_it(out, stranger):
    number, page = opened(out)
    assert "Nothing is published." in page.words
    form = out.get(f"/case/{number}/publish")
    assert "RÜCKRUF: nicht essen" in form.words
    assert "nobody has checked this translation" in form.words
    page = out.post(f"/case/{number}/publish", risk="foreign_body", by="Ada", lots=out.lot)
    assert "is warned first of all" in page.words
    assert "RECALLED" in stranger.get(f"/lot/{out.one}").words
    out.post(f"/case/{number}/unpublish", reason="another lot", by="Ada", lots=out.lot)
    assert "RECALLED" not in stranger.get(f"/lot/{out.one}").words


def test_the_steps_of_a_case_when_recorded_then_they_stand_in_it(out):
    number, _ = opened(out)
    assert "Art 19" in out.get(f"/case/{number}").words
    out.post(f"/case/{number}/authority_told", words="office, by telephone")
    out.post(f"/case/{number}/destroyed_there", lots=out.one, words="photo")
    out.post(f"/case/{number}/note", words="called twice")
    page = out.get(f"/case/{number}")
    for words in ("authority told: office, by telephone", "destroyed there 330 g", "note: called twice"):
        assert words in page.words
    page = out.post(f"/case/{number}/close", outcome="All of it is back or destroyed.")
    assert "All of it is back or destroyed." in page.words
    assert "closed" in out.get("/cases").words
    assert "Glass in a pack" not in out.get("/").words


def test_closing_when_someone_is_not_told_then_the_page_says_so(out):
    number, _ = opened(out)
    assert "1 of 1 are not told yet" in out.get(f"/case/{number}/close").words


def test_an_exercise_when_run_then_it_says_mock_on_everything_and_offers_neither_hold_nor_publishing(out):
    number, page = opened(out, "mock")
    assert "MOCK" in page.words
    assert "In earnest, 2 lots would be held" not in page.words  # one pack is in stock, the piece is used up
    assert "In earnest, 1 lot would be held" in page.words
    assert "Hold these" not in page.words
    assert f"/case/{number}/publish" not in page.text
    for path in ("tell?customer=Corner+Shop", "authority_told", "close", "note"):
        assert "MOCK" in out.get(f"/case/{number}/{path}").words
    assert "MOCK exercise" in out.get("/").words
    assert out.post(f"/case/{number}/publish", risk="germ", by="Ada", lots=out.lot).status == 409


def test_a_case_when_there_is_none_then_it_says_so(out):
    assert out.get("/case/999").status == 404
    assert "There was none yet" in out.get("/cases").words


# --- complaints ------------------------------------------------------------------------------------------------------
def test_a_complaint_when_taken_then_it_waits_on_the_first_page_until_it_is_decided(out):
    page = out.post(f"/complaint?code={out.one}", code=out.one, text="It tastes of soap.", contact="555")
    number = re.search(r"/complaint/([0-9]+)", page.where).group(1)
    for words in ("It tastes of soap.", "555", "The same printed lot", "pig 12", "Corner Shop"):
        assert words in page.words
    assert "It tastes of soap." in out.get("/").words
    page = out.post(f"/complaint/{number}", decision="The bag was scented.", answer="new bags, a pack for free")
    assert "The bag was scented." in page.words
    assert "It tastes of soap." not in out.get("/").words
    assert f"complaint {number} decided: The bag was scented." in out.get(f"/lot/{out.one}").words


def test_two_complaints_when_they_meet_in_one_piece_then_both_say_so(out):
    for code in (out.one, out.two):
        page = out.post(f"/complaint?code={code}", code=code, text="It tastes of soap.")
    assert "has this in common: the same printed lot, the same piece, P" in page.words
    assert "in common with number" in out.get("/").words
    assert "in common with number" in out.get("/complaints").words


def test_a_complaint_when_neither_code_nor_delivery_is_known_then_it_is_taken_and_the_code_can_be_put_in(out):
    page = out.post("/complaint", text="Bought somewhere, tastes of soap.", contact="")
    assert "It names no code of ours" in page.words
    number = re.search(r"/complaint/([0-9]+)", page.where).group(1)
    assert out.get("/complaint/1").status == 404
    assert out.get(f"/fact/{number}").status == 200


def test_cases_and_complaints_when_asked_for_over_http_then_they_are_the_same(out):
    number, _ = opened(out)
    out.shop.record("complaint", code=out.one, text="soap")
    case = out.client.get(f"/api/v1/cases/{number}").json
    assert (case["what"], case["effectiveness"]["out"]) == ("recall", "330")
    assert out.client.get("/api/v1/cases").json["cases"][0]["case"] == number
    complaint = out.client.get("/api/v1/complaints").json["complaints"][0]
    assert out.client.get(f"/api/v1/complaints/{complaint['complaint']}").json == complaint
    assert out.client.get("/api/v1/cases/1").status_code == 404
