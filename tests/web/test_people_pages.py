"""Who stands at the bench: names alone until someone is recorded, then PINs and badges; a bench left alone asks again."""

import datetime as dt

import pytest
from page_hand import Hand

from labelsvc import settings
from labelsvc.operations import people
from labelsvc.web import create_app

SPRING = dt.datetime(2026, 5, 25, 9, tzinfo=dt.UTC)  # the day on which the pages are opened


@pytest.fixture
def ada(bench):
    return people.add_person(bench.shop.ledger, "Ada", "responsible", "4711")


@pytest.fixture
def badge(bench, ada):
    return people.give_badge(bench.shop.ledger, ada.number, settings.layouts()).text


def test_people_when_the_first_is_recorded_then_everyone_is_chosen_from_them(bench):
    page = bench.get("/people")
    assert "Nobody is recorded" in page.words
    assert 'value="Ada"' in bench.get("/people/new").text  # who stands here is likely to be the first
    bench.post("/people/new", name="Ben", role="packer", pin="4711")
    page = bench.get("/weigh")
    assert "Who is there?" in page.words
    assert "Ben" in page.words
    assert bench.post("/who", other="Someone").status == 400


def test_a_pin_when_typed_then_facts_say_who(bench, ada):
    piece = bench.shop.hanging_piece()
    page = bench.post("/who", number=str(ada.number), onward=f"/weigh?piece={piece}")
    assert page.where.startswith(f"/who/{ada.number}?onward=/weigh")
    assert "got another one" in bench.post(f"/who/{ada.number}", pin="1").words
    bench.post(f"/who/{ada.number}", pin="4711")
    bench.post("/weigh", piece=piece, weight="900")
    assert "weighed 900 g, 880 g Ada" in bench.get(f"/lot/{piece}").words


def test_a_pin_when_wrong_too_often_then_the_page_says_how_long_to_wait(bench, ada):
    for _ in range(5):
        page = bench.post(f"/who/{ada.number}", pin="0000")
    assert "Wait 30 seconds, or scan the badge." in page.words
    assert "a try in" not in page.words
    assert "5 wrong PINs" in bench.post(f"/who/{ada.number}", pin="4711").words


def test_a_badge_when_scanned_on_any_page_then_it_leads_back_there(bench, badge):
    answer = bench.post("/go", code=badge, onward="/cut?from=X", follow=False)
    assert answer.where == "/cut?from=X"
    assert ">Ada</button>" in bench.get("/cut").text


def test_a_badge_when_it_opens_nothing_then_it_says_so_and_no_address_shows_it(bench, ada, badge):
    wrong = badge[:-1] + ("1" if badge[-1] == "0" else "0")
    page = bench.post("/go", code=wrong)
    assert page.status == 400
    assert "got one that opens nothing" in page.words
    assert wrong not in page.text
    assert '<form class="scan" method="post"' in page.text


def test_a_badge_when_its_holder_left_then_the_open_page_asks_again(bench, ada, badge):
    bench.post("/go", code=badge)
    assert bench.get("/cut").where == "/cut"
    people.change_person(bench.shop.ledger, ada.number, name="Ada", role="packer", left_on=SPRING.date())
    assert "Who is there?" in bench.get("/cut").words
    assert bench.post("/who", other="Cleo", onward="/cut").where == "/cut"  # nobody is recorded as here: never locked out


def test_a_name_when_it_has_no_pin_and_no_badge_then_pressing_it_will_do(bench):
    ben = people.add_person(bench.shop.ledger, "Ben")
    assert bench.post("/who", number=str(ben.number), onward="/cut").where == "/cut"


def test_a_person_when_changed_then_the_list_says_so(bench, ada, badge):
    bench.post("/go", code=badge)
    bench.post(f"/people/{ada.number}", name="Ada Quill", role="packer", pin="", left_on="")
    assert "Ada Quill packer PIN and badge" in bench.get("/people").words
    bench.post(f"/people/{ada.number}/no-pin")
    assert "Ada Quill packer badge" in bench.get("/people").words
    page = bench.post(f"/people/{ada.number}", name="Ada Quill", role="packer", pin="12")
    assert "Expected 4 to 8 digits" in page.beside("pin")
    assert bench.client.post(f"/people/{ada.number}/badge", data={"csrf": "a token"}).mimetype == "application/pdf"


def left_alone(database, minutes):
    """Return Ada's bench, signed in, and how to let time pass."""
    clock = {"now": SPRING}
    app = create_app(database, settings.layouts(), "for the tests only", lambda: clock["now"], idle_minutes=minutes)
    app.config["TESTING"] = True

    def wait(**time):
        clock["now"] += dt.timedelta(**time)

    return app, wait


@pytest.mark.parametrize(("minutes", "asks"), [(10, True), (0, False)])
def test_a_bench_when_left_alone_for_longer_than_the_setting_then_it_asks_again(bench, ada, badge, cards_url, minutes, asks):
    piece = bench.shop.hanging_piece()
    app, wait = left_alone(cards_url, minutes)
    hand = Hand(app.test_client(), None)
    hand.post("/go", code=badge)
    wait(minutes=10)
    assert hand.get(f"/weigh?piece={piece}").where == f"/weigh?piece={piece}"  # and this was seen
    wait(minutes=10, seconds=1)
    answer = hand.post(f"/weigh?piece={piece}", piece=piece, weight="900", follow=False)
    assert ("/who?onward=/weigh?piece%3D" in answer.where) is asks
    assert ("Who is there?" in hand.get(f"/lot/{piece}").words) is asks  # not the buyer's page
    app.extensions["labelsvc"].ledger.close()
