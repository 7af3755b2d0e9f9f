"""Each further moment through the pages: on a phone by touch, and at a desk."""

import re

import pytest

from labelsvc.ledger import journal


def given(bench):
    """The kind and fields of the last fact."""
    with bench.shop.ledger.reading() as connection:
        last = list(journal.facts_in_order(connection))[-1]
    return last.kind, bench.shop.fact_body(last.seq)["given"]


@pytest.fixture
def tub(bench):
    """Two pieces of 1200 g and 1000 g in the blue tub, and the salt they lie in."""
    one, two = bench.shop.cut(bench.shop.receive(), "1200 g", "1000 g")
    salt = bench.shop.ingredient()
    bench.shop.cure([one, two], (salt, "55 g"), tub="blue tub")
    return one, two, salt


def from_more(bench, words):
    bench.open("/")
    bench.press("More")
    bench.press(words)


def test_a_tub_when_salted_again_turned_and_emptied_then_each_press_leads_on(bench, tub):
    one, two, salt = tub
    bench.open("/")
    bench.press("Salt again")
    bench.fill("mix-0-lot", salt)
    bench.fill("mix-0-weight", "22")
    bench.press("Record the salt")
    bench.sees("Salted again")
    assert given(bench)[0] == "salt_again"
    bench.press("Turn")
    bench.press("It is turned")
    bench.sees("Turned: blue tub")
    assert given(bench) == ("turn", {"tub": "blue tub"})
    bench.press("Take out")
    bench.fill("pieces-0-weight", "1230")
    bench.press("Record it")
    bench.sees("Waiting to be strung")
    assert given(bench) == ("take_out", {"pieces": [{"code": one, "weight": "1230 g"}, {"code": two}]})


def test_a_counted_lot_when_split_then_its_pieces_have_codes(bench):
    lot = bench.shop.green_piece("3600 g", count=4)
    bench.open(f"/lot/{lot}")
    bench.press("Split it")
    bench.fill("pieces-0-weight", "900")
    bench.fill("pieces-1-weight", "1000")
    bench.fill("pieces-1-marker", "M 9")
    bench.press("Record the split")
    bench.sees("2 pieces: P")
    assert bench.shop.state("M 9").milligrams == 1_000_000


def test_a_hanging_piece_when_moved_checked_and_counted_then_its_record_says_so(bench):
    piece = bench.shop.hanging_piece()
    bench.open(f"/lot/{piece}")
    bench.press("Move it")
    bench.fill("place", "room 2")
    bench.press("It is moved")
    bench.sees("moved to room 2")
    bench.press("Check it")
    bench.press("Water activity")
    bench.fill("value", "0,91")
    bench.fill("method", "meter, calibrated")
    bench.press("Record the measurement")
    bench.sees("Water activity 0.91, meter, calibrated")
    assert given(bench)[1]["value"] == "0.91"
    bench.press("More")
    bench.press("Count it")
    bench.fill("weight", "970")
    bench.press("Record the count")
    bench.sees("counted, 970 g")
    assert bench.shop.state(piece).milligrams == 970_000


def test_a_slicer_when_cleaned_then_it_says_how(bench):
    from_more(bench, "Cleaned")
    bench.fill("thing", "slicer 1")
    bench.choose("allergen_clean", "Allergen-clean: taken apart, washed, nothing left")
    bench.press("Record the cleaning")
    bench.sees("Cleaned: slicer 1, allergen-clean")
    assert given(bench) == ("clean", {"thing": "slicer 1", "allergen_clean": True})


def test_a_power_cut_when_recorded_then_each_piece_there_is_decided(bench):
    one, two = bench.shop.hanging_piece(), bench.shop.hanging_piece()
    from_more(bench, "Incident")
    bench.fill("place", "room 1")
    bench.fill("from", "2026-11-24T08:00")
    bench.press("Record it and hold what was there")
    bench.sees("It touched 2 lots")
    bench.choose("decisions-0-what", "May go on")
    bench.choose("decisions-1-what", "Destroyed")
    bench.fill("reason", "The first stayed cold inside.")
    bench.press("Record the decisions")
    bench.sees("Nothing is held any more")
    assert (bench.shop.state(one).is_held, bench.shop.state(two).phase) == (False, "destroyed")


def test_a_lost_tag_when_recorded_then_destroyed_is_chosen_and_one_press_does_it(bench):
    piece = bench.shop.hanging_piece()
    bench.open(f"/lot/{piece}")
    bench.press("More")
    bench.press("Something happened to it")
    bench.choose("kind", "Lost tag")
    bench.press("Record it and hold these")
    bench.sees("nobody can name for certain is destroyed")
    bench.open("/")
    bench.press("Lost tag")
    bench.press("Record the decisions")
    bench.sees("Nothing is held any more")
    assert bench.shop.state(piece).phase == "destroyed"


def test_markers_when_printed_ahead_then_one_scan_at_the_cut_names_the_piece(bench):
    animal = bench.shop.receive()
    from_more(bench, "Printed ahead")
    bench.fill("count", "2")
    bench.press("Reserve and print")
    bench.sees("2 markers are reserved")
    path = re.sub(r"^.*?(/markers/\d+)", r"\1.pdf", bench.page.url)
    (first,), (second,) = bench.decoded(path)
    bench.open(f"/cut?from={animal}")
    bench.choose("pieces-0-product", "Cured neck")
    bench.fill("pieces-0-weight", "1200")
    bench.page.locator('[name="pieces-0-marker"]').focus()
    bench.page.keyboard.type(first)
    bench.page.keyboard.press("Enter")  # as a scanner ends: the next field waits, nothing is sent yet
    assert bench.page.evaluate("document.activeElement.name") == "pieces-1-product"
    bench.press("Record the cut")
    bench.sees(f"1 cut: {first}")
    bench.scan(second)
    bench.sees("was printed ahead and is free")
    assert bench.page.locator('[name="pieces-0-marker"]').input_value() == second


def test_a_label_when_printed_anew_then_the_lot_shows_it(bench):
    lot, *_ = bench.shop.packed("330 g", "340 g")
    bench.open(f"/lot/{lot}")
    bench.press("Print the sale labels")
    bench.sees("2 labels of")
    assert len(bench.decoded(f"/sale-label/{lot}.pdf")) == 2
    assert given(bench)[0] == "issue_label"


def test_who_when_one_press_changes_it_then_the_last_people_are_buttons(bench):
    bench.page.locator(".person button").click()
    bench.fill("other", "Ben")
    bench.press("That is me")
    bench.page.locator(".person button").click()
    names = bench.page.locator(".names button")
    assert names.all_inner_texts() == ["Ben", "Ada"]
    names.nth(1).click()
    bench.page.wait_for_load_state()
    assert bench.page.locator(".person button").inner_text() == "Ada"
