"""Who stands at the bench, in a real browser: a PIN by touch and by keys, a badge scanned over a page that is half filled in."""

import datetime as dt

import pytest

from labelsvc import settings
from labelsvc.operations import people


@pytest.fixture
def ada(bench):
    """Ada has a PIN and a badge; return her number and what her badge says."""
    person = people.add_person(bench.shop.ledger, "Ada", "responsible", "4711")
    return person.number, people.give_badge(bench.shop.ledger, person.number, settings.layouts()).text


def test_a_pin_when_pressed_on_the_pad_then_it_says_who(bench, ada):
    bench.open("/weigh")
    bench.press("Ada")
    for digit in "47112":
        bench.page.locator(f'.pad button[value="{digit}"]').click()
    bench.page.locator('.pad button[value="back"]').click()
    bench.press("OK")
    bench.sees("Nothing hangs")
    assert bench.page.locator(".person button").inner_text() == "Ada"


def test_a_pin_when_typed_on_keys_then_it_says_who_and_a_wrong_one_is_told(bench, ada):
    bench.open("/weigh")
    bench.press("Ada")
    bench.page.wait_for_selector("#pin")
    bench.page.keyboard.type("4712")
    bench.page.keyboard.press("Enter")
    bench.sees("Expected the PIN of Ada; got another one.")
    bench.page.wait_for_load_state()
    bench.page.keyboard.type("4711")
    bench.page.keyboard.press("Enter")
    bench.sees("Nothing hangs")


def test_a_badge_when_scanned_over_a_half_filled_page_then_nothing_typed_is_lost(bench, ada):
    animal = bench.shop.receive()
    bench.scan(ada[1])
    bench.open(f"/cut?from={animal}")
    bench.choose("pieces-0-product", "Cured neck")
    bench.fill("pieces-0-weight", "1200")
    bench.fill("trim", "300")
    ben = people.add_person(bench.shop.ledger, "Ben")
    bench.scan(people.give_badge(bench.shop.ledger, ben.number, settings.layouts()).text)
    bench.sees("What you typed before is back")
    assert bench.page.locator(".person button").inner_text() == "Ben"
    assert bench.page.url.endswith(f"/cut?from={animal}")
    for name, value in (("pieces-0-product", "Cured neck"), ("pieces-0-weight", "1200"), ("trim", "300")):
        assert bench.page.locator(f'[name="{name}"]').input_value() == value
    bench.press("Record the cut")
    bench.sees("1 cut")


def test_a_bench_when_left_alone_then_it_asks_and_what_was_typed_comes_back(bench, ada):
    piece = bench.shop.hanging_piece()
    bench.clock.set("2026-05-20")
    bench.scan(ada[1])
    bench.open(f"/weigh?piece={piece}")
    bench.fill("weight", "901")
    bench.clock.now += dt.timedelta(minutes=31)
    bench.press("Record the weight")
    bench.sees("Who is there?")
    bench.scan(ada[1])
    bench.sees("What you typed before is back")
    assert bench.page.locator('[name="weight"]').input_value() == "901"
    bench.press("Record the weight")
    bench.sees("901 g on the scale")


def test_the_people_pages_when_looked_at_then_they_fit_and_their_targets_are_large(bench, ada):
    bench.open(f"/who/{ada[0]}")
    looked_at(bench, "the pad")
    bench.scan(ada[1])
    for path in ("/people", "/people/new", f"/people/{ada[0]}", "/who"):
        bench.open(path)
        looked_at(bench, path)


def looked_at(bench, where):
    assert not bench.is_wide(), where
    heights = bench.page.evaluate(
        "[...document.querySelectorAll('button, .press, input:not([type=hidden]), select, a.line')]"
        ".filter((one) => one.offsetParent).map((one) => [one.innerText || one.name, one.offsetHeight])"
    )
    assert [one for one in heights if one[1] < 48] == [], where
