"""People at the bench: PINs are slowed down when wrong, badges end and are read by an outside reader, nothing secret is kept."""

import datetime as dt

import build
import pypdfium2
import pytest
import zxingcpp
from sqlalchemy import text

from labelsvc import settings
from labelsvc.errors import ConflictError, InputError, NotFoundError
from labelsvc.ledger.tries import tries_of
from labelsvc.operations import people
from labelsvc.operations.tries import FREE_TRIES

TODAY = build.NOW.date()
LAYOUTS = settings.layouts()


@pytest.fixture
def ledger(shop):
    return shop.ledger


def after(seconds):
    return build.NOW + dt.timedelta(seconds=seconds)


def sign_in(ledger, person, pin, seconds=0):
    return people.sign_in_by_pin(ledger, person.number, pin, after(seconds), TODAY).name


def test_a_pin_when_right_then_it_says_who(ledger):
    ada = people.add_person(ledger, "Ada", "bench hand", "4711")
    assert sign_in(ledger, ada, "4711") == "Ada"


def test_a_pin_when_wrong_then_the_sentence_says_so_and_the_fifth_waits(ledger):
    ada = people.add_person(ledger, "Ada", pin="4711")
    for _ in range(FREE_TRIES - 1):
        with pytest.raises(InputError, match=r"^pin: expected the PIN of Ada, got another one\. Forgotten\?"):
            sign_in(ledger, ada, "0000")
    with pytest.raises(InputError, match=r"Wait 30 seconds, or scan the badge\.$"):
        sign_in(ledger, ada, "0000")
    with pytest.raises(InputError, match=r"^pin: expected a try in 1 second, got one now\. 5 wrong PINs: wait"):
        sign_in(ledger, ada, "4711", seconds=29)
    assert sign_in(ledger, ada, "4711", seconds=30) == "Ada"  # and the right one sets the count back
    with pytest.raises(InputError, match=r"Forgotten\?"):
        sign_in(ledger, ada, "0000", seconds=31)


def test_a_pin_when_wrong_again_and_again_then_the_wait_doubles_up_to_a_quarter_of_an_hour(ledger):
    ada = people.add_person(ledger, "Ada", pin="4711")
    clock, waits = 0.0, []
    for _ in range(FREE_TRIES + 7):
        with pytest.raises(InputError):
            sign_in(ledger, ada, "0000", clock)
        with ledger.reading() as connection:
            until = tries_of(connection, f"pin {ada.number}").wait_until
        waits.append((until - after(clock)).total_seconds() if until else 0)
        clock += waits[-1]
    assert waits == [0, 0, 0, 0, 30, 60, 120, 240, 480, 900, 900, 900]


@pytest.mark.parametrize("pin", ["123", "123456789", "12a4", "١٢٣٤", "12 34"])
def test_a_pin_when_it_cannot_be_then_it_is_refused(ledger, pin):
    with pytest.raises(InputError, match=r"^pin: expected 4 to 8 digits"):
        people.add_person(ledger, "Ada", pin=pin)
    assert people.staff(ledger) == []


def test_a_badge_when_printed_then_both_symbols_are_read_by_an_outside_reader_and_open(ledger):
    ada = people.add_person(ledger, "Ada Quill")
    badge = people.give_badge(ledger, ada.number, LAYOUTS)
    page = pypdfium2.PdfDocument(badge.pdf)[0]
    assert [round(side / 72 * 25.4) for side in page.get_size()] == [86, 54]
    found = {str(one.format).rpartition(".")[2]: one.text for one in zxingcpp.read_barcodes(page.render(scale=4).to_pil())}
    assert set(found.values()) == {badge.text}
    assert len(found) == 2
    assert badge.text not in page.get_textpage().get_text_range()
    assert people.sign_in_by_badge(ledger, f"]C0{badge.text.lower()} ", TODAY).name == "Ada Quill"


def test_a_badge_when_a_new_one_is_given_then_the_old_opens_nothing(ledger):
    ada = people.add_person(ledger, "Ada")
    old = people.give_badge(ledger, ada.number, LAYOUTS)
    people.give_badge(ledger, ada.number, LAYOUTS)
    with pytest.raises(InputError, match=r"^badge: expected the badge of someone who works here"):
        people.sign_in_by_badge(ledger, old.text, TODAY)


def test_someone_when_they_left_then_neither_badge_nor_pin_opens_from_that_day(ledger):
    ada = people.add_person(ledger, "Ada", pin="4711")
    badge = people.give_badge(ledger, ada.number, LAYOUTS)
    people.change_person(ledger, ada.number, name="Ada", role="packer", left_on=TODAY + dt.timedelta(days=1))
    assert sign_in(ledger, ada, "4711") == "Ada"
    people.change_person(ledger, ada.number, name="Ada", role="packer", left_on=TODAY)
    with pytest.raises(NotFoundError, match=r"who left on 2026-11-25"):
        sign_in(ledger, ada, "4711")
    with pytest.raises(InputError, match=r"one that opens nothing"):
        people.sign_in_by_badge(ledger, badge.text, TODAY)


def test_the_database_when_read_then_it_holds_neither_pin_nor_badge(ledger):
    ada = people.add_person(ledger, "Ada", pin="47114711")
    badge = people.give_badge(ledger, ada.number, LAYOUTS)
    with ledger.reading() as connection:
        row = connection.execute(text("SELECT * FROM people")).one()
    assert row.pin_hash.startswith("$argon2id$")
    assert "47114711" not in str(row)
    assert badge.text not in str(row)


def test_a_name_when_it_is_taken_then_it_is_refused(ledger):
    people.add_person(ledger, "Ada Quill")
    with pytest.raises(ConflictError, match=r"^name: expected a name that nobody has yet, got ada quill"):
        people.add_person(ledger, "ada  quill")
    with pytest.raises(InputError, match=r"^role: expected one of bench_hand, packer, responsible, reader, got king$"):
        people.add_person(ledger, "Ben", "king")
