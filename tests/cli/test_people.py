"""``person``: record, change and list who works here, by command."""

import datetime as dt

import pypdfium2
import zxingcpp

from labelsvc.cli.options import now as now_by_command
from labelsvc.ledger.database import open_ledger
from labelsvc.operations.accounts import check_password, token_held
from labelsvc.operations.people import sign_in_by_badge


def test_person_when_recorded_then_listed_with_pin_and_badge(hand, tmp_path):
    assert "Nobody is recorded" in hand("person").out
    answer = hand("person", "Ada", "--pin", "--badge", "badge.pdf", "--role", "responsible person", "--json", given="4711\n")
    assert answer.json["people"] == [
        {"name": "Ada", "role": "responsible", "pin": True, "badge": True, "password": False, "left": None}
    ]
    assert "4711" not in answer.out
    hand("person", "ada", "--left", "2026-01-31")
    assert hand("person").out == "Ada  responsible, pin and badge, left on 2026-01-31\n"


def test_person_when_a_badge_is_printed_then_it_opens(hand, tmp_path):
    hand("person", "Ada", "--badge", "badge.pdf")
    page = pypdfium2.PdfDocument(tmp_path / "badge.pdf")[0].render(scale=4).to_pil()
    text = zxingcpp.read_barcodes(page)[0].text
    ledger = open_ledger(str(tmp_path / "workshop.db"))
    assert sign_in_by_badge(ledger, text, dt.date(2026, 1, 31)).name == "Ada"
    ledger.close()


def test_person_when_given_what_cannot_be_then_the_field_is_named(hand):
    assert hand.ask("person", "Ada", "--role", "king").err.startswith("role: expected one of")
    assert hand.ask("person", "Ada", "--left", "spring").err == "left: expected a day such as 2026-03-02, got spring\n"
    assert hand.ask("person", "Ada", "--badge", "no/such/badge.pdf").err.startswith("badge: expected a file in a folder")


def test_person_when_given_a_password_then_it_is_kept_unseen_and_a_token_is_shown_once(hand, tmp_path):
    answer = hand("person", "Ada", "--role", "responsible", "--password-prompt", given="four green apples\n")
    assert answer.out == "Ada  responsible, password\n"
    assert "apples" not in answer.out + answer.err
    (tmp_path / "secret.txt").write_text("five yellow pears\nnot this line\n", encoding="utf-8")
    assert hand("person", "Ben", "--role", "packer", "--password-file", "secret.txt").out == "Ben  packer, password\n"
    ledger = open_ledger(str(tmp_path / "workshop.db"))
    now = dt.datetime(2026, 1, 31, 9, tzinfo=dt.UTC)
    for name, password in (("Ada", "four green apples"), ("Ben", "five yellow pears")):
        assert check_password(ledger, name, password, "127.0.0.1", now, now.date()).name == name
    until = (now_by_command().date() + dt.timedelta(days=30)).isoformat()
    made = hand("token", "till", "--role", "packer", "--until", until, "--json").json
    assert token_held(ledger, made["token"], dt.date.fromisoformat(until) - dt.timedelta(days=1)).role == "packer"
    ledger.close()
    assert hand("token").out == f"1  till  packer, until {until}\n"
    assert hand("token", "--end", "1").out == f"1  till  packer, ended, was until {until}\n"


def test_person_when_the_password_or_token_cannot_be_then_the_field_is_named(hand):
    refused = hand.ask("person", "Ada", "--role", "responsible", "--password-prompt", given="short\n")
    assert refused.err.removeprefix("Password: ").startswith("new_password: expected 12 to 200 letters, got 5 letters")
    assert hand.ask("token", "till").err == "until: expected the day it ends on, got nothing\n"
    assert hand.ask("token", "till", "--until", "spring").err == "until: expected a day such as 2026-03-02, got spring\n"
    assert hand.ask("token", "--end", "7").err == "token: expected the number of a token, got 7\n"
