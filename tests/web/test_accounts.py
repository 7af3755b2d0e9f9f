"""Accounts: the first start, signing in and out, lost devices, tokens, and what a stranger learns, which is nothing."""

import datetime as dt
import html
import logging
import re
from urllib.parse import urlsplit

import build
import pytest
from page_hand import Hand

from labelsvc import settings
from labelsvc.errors import ConflictError, InputError
from labelsvc.operations import accounts, people
from labelsvc.web import create_app
from labelsvc.web.station import COOKIE

PASSWORD = "four green apples"  # invented
SPRING = dt.datetime(2026, 5, 25, 9, tzinfo=dt.UTC)  # the day on which the pages are opened


@pytest.fixture
def ada(makers):
    """The responsible person's account."""
    person = people.add_person(makers.ledger, "Ada", "responsible", "4711")
    return accounts.set_password(makers.ledger, person.number, PASSWORD, SPRING)


@pytest.fixture
def elsewhere(app, makers):
    """Someone at another machine of the network."""
    client = app.test_client()
    client.environ_base["REMOTE_ADDR"] = "192.0.2.7"
    return Hand(client, makers)


@pytest.fixture
def phone(elsewhere, ada):
    """Ada's phone, signed in."""
    elsewhere.post("/sign-in", name="Ada", password=PASSWORD, as_="own", device="Ada's phone")
    return elsewhere


# --- the first start ---------------------------------------------------------------------------------------------------


def test_a_ledger_when_it_has_no_account_then_this_machine_does_everything_and_no_other_anything(stranger, elsewhere):
    lot = stranger.packed("330 g", "340 g")[0]
    assert stranger.client.get("/api/v1/lots").status_code == 200
    assert stranger.get("/").where.startswith("/who")  # names alone will do
    page = elsewhere.get("/")
    assert page.status == 401
    assert "This workshop has no account yet" in page.words
    assert "labelsvc person NAME --role responsible --password-prompt" in page.words
    answer = elsewhere.client.get("/api/v1/lots")
    assert (answer.status_code, answer.headers["WWW-Authenticate"]) == (401, "Bearer")
    assert "has no account yet" in answer.get_json()["error"]["message"]
    assert elsewhere.get(f"/lot/{lot}").status == 200
    for path in ("/first-account", "/who", "/sign-in"):
        assert "This workshop has no account yet" in elsewhere.get(path).words


@pytest.mark.parametrize(
    "asked",
    [
        dict(headers={"X-Forwarded-For": "127.0.0.1"}), dict(headers={"Forwarded": "for=127.0.0.1"}),
        dict(headers={"Via": "1.1 example.com"}), dict(headers={"Host": "labels.example.com"}),
        dict(headers={"Host": "127.0.0.1.example.com:8321"}), dict(environ_base={"REMOTE_ADDR": "192.0.2.7"}),
    ],
)  # fmt: skip
def test_a_request_when_it_was_passed_on_or_asks_another_name_then_it_is_not_from_this_machine(stranger, asked):
    assert stranger.client.get("/api/v1/lots", **asked).status_code == 401


@pytest.mark.parametrize("host", ["localhost", "localhost:8321", "127.0.0.1:8321", "[::1]:8321", "[::1]"])
def test_a_request_when_it_asks_a_name_of_this_machine_then_it_is_let_in(stranger, host):
    assert stranger.client.get("/api/v1/lots", headers={"Host": host}).status_code == 200


def test_the_first_account_when_made_then_its_maker_is_signed_in_and_all_others_must(bench, stranger):
    page = bench.post("/first-account", name="Ada", new_password="short")
    assert "Expected 12 to 200 letters; got 5 letters." in page.beside("new_password")
    assert 'value="Ada"' in page.text
    assert "short" not in page.text
    page = bench.post("/first-account", name="Ada", new_password=PASSWORD)
    assert "The account is made." in page.words
    assert bench.get("/people").status == 200
    assert "Ada responsible password" in bench.get("/people").words
    assert stranger.get("/").where.startswith("/sign-in?onward")
    assert stranger.client.get("/api/v1/lots").status_code == 401
    assert stranger.get("/first-account").where.startswith("/sign-in")  # a second one is not made like that


def test_the_first_account_when_there_is_one_then_no_second_is_made_so(makers, ada):
    with pytest.raises(ConflictError):
        accounts.make_first_account(makers.ledger, "Eve", PASSWORD)


def test_the_last_responsible_account_when_it_would_go_then_it_stays(makers, ada):
    for change in (dict(role="packer"), dict(role="responsible", left_on=SPRING.date())):
        with pytest.raises(ConflictError, match=r"^role: expected at least one responsible person with a password, got the last"):
            people.change_person(makers.ledger, ada.number, name="Ada", **change)
    ben = people.add_person(makers.ledger, "Ben", "responsible")
    accounts.set_password(makers.ledger, ben.number, PASSWORD, SPRING)
    assert people.change_person(makers.ledger, ada.number, name="Ada", role="packer").role == "packer"


def test_a_password_when_of_a_bench_hand_before_the_responsible_person_has_one_then_refused(makers):
    ben = people.add_person(makers.ledger, "Ben")
    with pytest.raises(ConflictError, match=r"^role: expected the responsible person's account first, got Ben, bench hand"):
        accounts.set_password(makers.ledger, ben.number, PASSWORD, SPRING)


@pytest.mark.parametrize("password", ["", "eleven tens", "a" * 201, "aaaaaaaaaaaaaa", "Ada  of the Yard"])
def test_a_password_when_it_cannot_be_then_the_field_says_so(makers, password):
    with pytest.raises(InputError, match=r"^new_password: expected"):
        accounts.make_first_account(makers.ledger, "Ada of the yard", password)
    assert not accounts.has_accounts(makers.ledger)


# --- signing in and out ------------------------------------------------------------------------------------------------


def test_a_sign_in_when_right_then_it_leads_on_and_facts_say_who(elsewhere, ada):
    assert elsewhere.get("/people").where == "/sign-in?onward=/people"
    page = elsewhere.post("/sign-in?onward=/people", name="ada", password=PASSWORD, as_="own")
    assert page.where == "/people"
    animal = elsewhere.client.post("/api/v1/record/receive", json=build.body("receive")).get_json()["codes"][0]
    assert "Ada" in elsewhere.get(f"/lot/{animal}").words


def test_a_sign_in_when_wrong_then_it_does_not_say_which_and_waits_longer_each_time(elsewhere, ada):
    said = set()
    for name in ("Ada", "Nobody"):
        page = elsewhere.post("/sign-in", name=name, password="four green pears")
        assert page.status == 400
        said.add(page.beside("password"))
        assert "four green" not in page.text
    assert len(said) == 1
    for _ in range(4):
        page = elsewhere.post("/sign-in", name="Ada", password="wrong wrong wrong")
    assert "Wait 30 seconds." in page.words
    assert "Expected a try in 30 seconds; got one now." in elsewhere.post("/sign-in", name="Ada", password=PASSWORD).words


def test_a_sign_in_when_many_names_are_tried_from_one_address_then_it_waits_and_another_does_not(stranger, elsewhere, ada):
    for number in range(20):
        page = elsewhere.post("/sign-in", name=f"name {number}", password="wrong wrong wrong")
    assert "Wait 30 seconds." in page.words
    assert "Expected a try in" in elsewhere.post("/sign-in", name="Ada", password=PASSWORD).words
    assert "Today" in stranger.post("/sign-in", name="Ada", password=PASSWORD, as_="own").words


def test_a_cookie_when_given_then_no_script_reads_it_and_by_https_it_stays_there(app, makers, ada):
    for scheme, is_secure in (("http", False), ("https", True)):
        client, base = app.test_client(), f"{scheme}://localhost"
        token = re.search(r'name="csrf" value="([^"]+)"', client.get("/sign-in", base_url=base).get_data(as_text=True)).group(1)
        sent = {"csrf": token, "name": "Ada", "password": PASSWORD, "as": "own"}
        cookies = client.post("/sign-in", base_url=base, data=sent).headers.getlist("Set-Cookie")
        assert {one.partition("=")[0] for one in cookies} >= {COOKIE}
        for one in cookies:
            assert "HttpOnly" in one
            assert "SameSite=Lax" in one
            assert ("Secure" in one) is is_secure, one


def test_signing_out_when_pressed_then_what_the_browser_held_opens_nothing(phone):
    held = phone.client.get_cookie(COOKIE).value
    phone.post("/sign-out")
    phone.client.set_cookie(COOKIE, held)
    assert phone.get("/people").where.startswith("/sign-in")


def test_a_sign_in_when_unseen_for_a_working_day_then_it_has_ended(cards_url, makers, ada):
    clock = {"now": SPRING}
    app = create_app(cards_url, settings.layouts(), "for the tests only", lambda: clock["now"])
    hand = Hand(app.test_client(), makers)
    hand.post("/sign-in", name="Ada", password=PASSWORD, as_="own")
    clock["now"] += dt.timedelta(hours=12)
    assert hand.get("/people").status == 200  # and this was seen
    clock["now"] += dt.timedelta(hours=12, seconds=1)
    assert hand.get("/people").where.startswith("/sign-in")
    app.extensions["labelsvc"].ledger.close()


def test_a_lost_tablet_when_signed_out_from_elsewhere_then_it_does_nothing_more(phone, stranger):
    stranger.post("/sign-in", name="Ada", password=PASSWORD, as_="station", device="tablet at the slicer")
    assert "Who is there?" in stranger.get("/").words
    page = phone.get("/sign-ins")
    assert "tablet at the slicer A bench, signed in by Ada" in page.words
    number = re.search(r'/sign-ins/(\d+)/end"><input[^>]*><button[^>]*>Sign out tablet at the slicer', page.text).group(1)
    phone.post(f"/sign-ins/{number}/end")
    assert "tablet at the slicer" not in phone.get("/sign-ins").words
    assert stranger.get("/").where.startswith("/sign-in")
    assert phone.get("/people").status == 200


def test_a_password_when_changed_then_the_others_are_signed_out_and_this_one_is_not(phone, stranger):
    stranger.post("/sign-in", name="Ada", password=PASSWORD, as_="own")
    page = phone.post("/account", password="not the old one", new_password="five yellow pears")
    assert "Expected a name and its password" in page.beside("password")
    page = phone.post("/account", password=PASSWORD, new_password="five yellow pears")
    assert "The password is changed." in page.words
    assert phone.get("/people").status == 200
    assert stranger.get("/people").where.startswith("/sign-in")


def test_someone_when_they_left_then_what_they_signed_in_is_out(app, makers, ada):
    ben = people.add_person(makers.ledger, "Ben", "packer")
    accounts.set_password(makers.ledger, ben.number, PASSWORD, SPRING)
    hand = Hand(app.test_client(), makers)
    hand.post("/sign-in", name="Ben", password=PASSWORD, as_="own")
    assert hand.get("/pack").status == 200
    people.change_person(makers.ledger, ben.number, name="Ben", role="packer", left_on=SPRING.date())
    assert hand.get("/pack").where.startswith("/sign-in")
    assert hand.post("/sign-in", name="Ben", password=PASSWORD).status == 400


# --- a bench that all share --------------------------------------------------------------------------------------------


def test_a_bench_when_signed_in_then_a_pin_says_who_and_what_they_may(stranger, makers, ada):
    people.add_person(makers.ledger, "Ben", "bench_hand")
    stranger.post("/sign-in", name="Ada", password=PASSWORD, as_="station", device="tablet")
    assert stranger.client.get("/api/v1/lots").status_code == 401
    ben = people.person_named(makers.ledger, "Ben")
    stranger.post("/who", number=str(ben.number))
    assert stranger.get("/weigh").status == 200
    assert stranger.get("/release").status == 403
    stranger.post(f"/who/{ada.number}", pin="4711")
    assert stranger.get("/release").status == 200


def test_a_bench_when_only_the_responsible_person_may_sign_it_in_then_nobody_else_does(stranger, makers, ada):
    ben = people.add_person(makers.ledger, "Ben", "packer")
    accounts.set_password(makers.ledger, ben.number, PASSWORD, SPRING)
    page = stranger.post("/sign-in", name="Ben", password=PASSWORD, as_="station")
    assert page.status == 403
    assert "Expected the responsible person; got Ben, a packer. They sign a bench in." in page.words


def test_a_name_alone_when_it_is_the_responsible_persons_then_it_does_not_open_a_bench(stranger, makers, ada):
    people.take_pin_away(makers.ledger, ada.number)
    stranger.post("/sign-in", name="Ada", password=PASSWORD, as_="station")
    page = stranger.post("/who", number=str(ada.number))
    assert page.status == 400
    assert "the name alone will not do" in page.words


def test_a_pin_when_typed_where_no_bench_is_signed_in_then_nothing_opens(stranger, ada):
    assert stranger.post(f"/who/{ada.number}", pin="4711").where.startswith("/sign-in")
    assert stranger.get("/weigh").where.startswith("/sign-in")


# --- tokens ------------------------------------------------------------------------------------------------------------


def test_a_token_when_made_then_shown_once_and_it_opens_until_its_day(phone, app, makers):
    page = phone.post("/tokens", name="scale", role="bench_hand", until="2026-06-01")
    text = re.search(r"labelsvc_[\w-]{43}", page.text).group()
    assert text not in phone.get("/tokens").text
    assert "scale May do what a bench hand may. Made by Ada. Ends on 2026-06-01." in phone.get("/tokens").words
    program = app.test_client()
    sent = dict(headers={"Authorization": f"Bearer {text}"})
    animal = program.post("/api/v1/record/receive", json=build.body("receive"), **sent)
    assert animal.status_code == 200
    assert "scale" in phone.get(f"/lot/{animal.get_json()['codes'][0]}").words
    refused = program.post("/api/v1/record/release", json=dict(lot="X", by="Ada"), **sent)
    assert (refused.status_code, refused.get_json()["error"]["expected"]) == (403, "the responsible person")
    assert program.get("/people", **sent).status_code == 302  # pages are for people
    phone.post("/tokens/1/end")
    answer = program.get("/api/v1/lots", **sent)
    assert (answer.status_code, answer.get_json()["error"]["field"]) == (401, "Authorization")
    assert answer.get_json()["error"]["got"] == "one that opens nothing"


@pytest.mark.parametrize(("day", "opens"), [("2026-05-31", True), ("2026-06-01", False)])
def test_a_token_when_its_last_day_is_over_then_it_opens_nothing(makers, day, opens):
    today = SPRING.date()
    made = accounts.make_token(
        makers.ledger, "till", "reader", dt.date(2026, 6, 1), made_by="Ada", now=SPRING, today=today
    )  # fmt: skip
    assert (accounts.token_held(makers.ledger, made.text, dt.date.fromisoformat(day)) is not None) is opens


@pytest.mark.parametrize("until", ["2026-05-25", "2027-05-27"])
def test_a_token_when_it_would_end_today_or_after_more_than_a_year_then_refused(makers, until):
    with pytest.raises(InputError, match=r"^until: expected a day from 2026-05-26 to 2027-05-26, got"):
        accounts.make_token(
            makers.ledger, "till", "reader", dt.date.fromisoformat(until), made_by="Ada", now=SPRING, today=SPRING.date()
        )


# --- what a stranger learns --------------------------------------------------------------------------------------------


def test_a_stranger_when_following_every_link_then_learns_nothing_of_others(elsewhere, ada):
    lot, one, _ = elsewhere.packed("330 g", "340 g")
    elsewhere.shop.sell(one)
    other = elsewhere.shop.ingredient()
    seen, waiting = {}, [f"/lot/{one}", f"/lot/{lot}", "/", "/sign-in", "/lot?code=X", "/people", "/api/v1/lots", "/soap"]
    while waiting:
        path = waiting.pop()
        if path in seen:
            continue
        answer = elsewhere.client.get(path, follow_redirects=True, buffered=True)
        seen[path] = answer.get_data(as_text=True)
        links = re.findall(r'(?:href|src|action)="([^"#]+)', html.unescape(seen[path]))
        waiting += [urlsplit(link)._replace(fragment="").geturl() for link in links if link.startswith("/")]
    assert len(seen) >= 8
    for path, text in seen.items():
        shown = re.sub(r'name="(csrf|once)" value="[^"]*"', "", text)
        for inside in ("Meadow Farm", "Corner Shop", "Mrs Example", "pig 12", "room 1", "700 g", "Ada", other, "N2603", "P2603"):
            assert inside not in shown or path.startswith("/static/"), (path, inside)


def test_every_answer_when_given_then_it_carries_the_headers_also_an_error(app, phone, stranger):
    app.config["PROPAGATE_EXCEPTIONS"] = app.config["TESTING"] = False
    app._got_first_request = False  # so that a page can be added that breaks

    @app.get("/broken")
    def broken():
        raise RuntimeError("told to nobody")

    for hand, path, status in ((stranger, "/sign-in", 200), (stranger, "/soap", 404), (stranger, "/people", 302),
                               (stranger, "/api/v1/lots", 401), (stranger, "/static/bench.css", 200), (phone, "/people", 200),
                               (phone, "/broken", 500)):  # fmt: skip
        answer = hand.client.get(path)
        assert answer.status_code == status
        assert "told to nobody" not in answer.get_data(as_text=True)
        assert answer.headers["X-Content-Type-Options"] == "nosniff"
        assert answer.headers["Referrer-Policy"] == "same-origin"
        assert answer.headers["Cross-Origin-Opener-Policy"] == "same-origin"
        assert "default-src" in answer.headers["Content-Security-Policy"]
        answer.close()


def test_a_secret_when_typed_or_sent_then_no_log_and_no_page_shows_it(phone, stranger, caplog):
    caplog.set_level(logging.DEBUG)
    phone.post("/account", password=PASSWORD, new_password="five yellow pears")
    stranger.post("/sign-in", name="Ada", password="five yellow pearz")
    stranger.client.get("/api/v1/lots", headers={"Authorization": "Bearer labelsvc_secret"})
    for secret in ("five yellow", PASSWORD, "labelsvc_secret"):
        assert secret not in caplog.text


def test_the_qr_when_another_host_is_asked_for_then_it_stays(phone):
    from labelsvc.operations.labelling import tag

    piece = phone.shop.hanging_piece()
    asked = dict(headers={"Host": "evil.example.com", "X-Forwarded-Host": "evil.example.com"})
    phone.client.set_cookie(COOKIE, phone.client.get_cookie(COOKIE).value, domain="evil.example.com")
    token = re.search(r'name="csrf" value="([^"]+)"', phone.client.get("/account", **asked).get_data(as_text=True)).group(1)
    assert phone.client.post(f"/tag/{piece}", data={"csrf": token}, **asked).status_code == 302
    printed = phone.client.get(f"/tag/{piece}.pdf", **asked).get_data()
    assert printed[:5] == b"%PDF-", printed[-900:]
    issued = tag(phone.shop.ledger, piece, layouts=settings.layouts(), now=SPRING)
    assert qr_of(printed) == qr_of(issued.pdf) == {f"https://labels.example.com/lot/{piece}"}


def qr_of(pdf):
    """What an outside reader finds in the QR of a PDF."""
    import pypdfium2
    import zxingcpp

    found = zxingcpp.read_barcodes(pypdfium2.PdfDocument(pdf)[0].render(scale=4).to_pil())
    return {one.text for one in found if "QR" in str(one.format)}
