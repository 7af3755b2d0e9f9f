"""The first account, a phone of one's own, a tablet that all share and its loss, in a real browser."""

import os
from pathlib import Path

import pytest
from bench_hand import Bench

from labelsvc.operations import people

PASSWORD = "four green apples"  # invented
PICTURES = os.environ.get("LABELSVC_TEST_PICTURES")  # a folder to look at the pages in


@pytest.fixture
def tablet(bench, browser):
    """Another device, at the same width."""
    context = browser.new_context(viewport=bench.page.viewport_size)
    context.set_default_timeout(5000)
    yield Bench(context.new_page(), bench.address, bench.clock, bench.shop)
    context.close()


def looked_at(bench, name):
    """The page fits, its targets are large; where someone wants to look, there is a picture."""
    if PICTURES:
        bench.page.screenshot(path=Path(PICTURES) / f"{name}_{bench.page.viewport_size['width']}.png", full_page=True)
    assert not bench.is_wide(), name
    heights = bench.page.evaluate(
        "[...document.querySelectorAll('button, .press, input:not([type=hidden]), select, a.line, a.plain')]"
        ".filter((one) => one.offsetParent).map((one) => [one.innerText || one.name, one.offsetHeight])"
    )
    assert [one for one in heights if one[1] < 48] == [], name


def first_account(bench):
    bench.open("/people")
    bench.press("Make the account of the responsible person")
    bench.fill("name", "Ada")
    bench.fill("new_password", PASSWORD)
    looked_at(bench, "first")
    bench.press("Make the account")
    bench.sees("The account is made.")


def sign_in(at, name, way):
    at.fill("name", name)
    at.fill("password", PASSWORD)
    at.choose("as", way)
    at.press("Sign in")


def test_the_first_account_when_made_then_a_wrong_password_is_told_and_the_right_one_leads_on(bench, tablet):
    first_account(bench)
    looked_at(bench, "after_first")
    tablet.open("/people")
    looked_at(tablet, "sign_in")
    tablet.fill("name", "Ada")
    tablet.fill("password", "four green pears")
    tablet.press("Sign in")
    tablet.sees("Expected a name and its password; got something else.")
    looked_at(tablet, "sign_in_wrong")
    assert tablet.page.locator('[name="password"]').input_value() == ""
    sign_in(tablet, "Ada", "A device of my own")
    assert tablet.page.url.endswith("/people")
    tablet.sees("responsible")
    tablet.press("Ada")


def test_a_tablet_when_signed_in_as_a_bench_then_a_pin_says_who_and_when_lost_it_is_signed_out(bench, tablet):
    first_account(bench)
    people.add_person(bench.shop.ledger, "Ben", "bench_hand", "4711")
    tablet.open("/weigh")
    tablet.fill("device", "tablet at the slicer")
    sign_in(tablet, "Ada", "A bench that all share, by PIN and badge")
    tablet.sees("Who is there?")
    tablet.press("Ben")
    tablet.page.wait_for_selector("#pin")
    tablet.page.keyboard.type("4711")
    tablet.page.keyboard.press("Enter")
    tablet.sees("Nothing hangs")
    tablet.open("/release")
    tablet.sees("Expected the responsible person; got Ben, a bench hand.")
    looked_at(tablet, "not_allowed")
    for path in ("/account", "/tokens", "/sign-ins"):
        bench.open(path)
        looked_at(bench, path.strip("/"))
    bench.press("Sign out tablet at the slicer")
    bench.sees("Signed out.")
    tablet.open("/weigh")
    tablet.sees("Sign in")
    assert tablet.page.locator('[name="password"]').count() == 1


def test_a_token_when_made_then_it_is_shown_once(bench):
    first_account(bench)
    bench.open("/tokens")
    bench.fill("name", "scale in the cold room")
    bench.fill("until", "2027-01-31")
    bench.press("Make the token")
    bench.sees("Copy it now: it is shown this once and kept nowhere.")
    looked_at(bench, "token")
    text = bench.page.locator(".token code").inner_text()
    assert text.startswith("labelsvc_")
    bench.press("I have copied it")
    assert text not in bench.page.content()
    looked_at(bench, "tokens_one")
