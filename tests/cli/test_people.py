"""``person``: record, change and list who works here, by command."""

import datetime as dt

import pypdfium2
import zxingcpp

from labelsvc.ledger.database import open_ledger
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
