"""The shortest ways, counted: what a scanner types and what a finger presses is all that is done; nothing else is touched.

``Counted`` lets a test do nothing but scan (text and Enter, typed wherever the page is), type a figure where the page waits for
it, and press; a test says how often.
"""

import re

import pytest
from bench_hand import Bench


class Counted:
    """A person whose scans, figures and presses are counted."""

    def __init__(self, bench: Bench, *, by_touch: bool):
        self.bench, self.page, self.by_touch = bench, bench.page, by_touch
        self.scans = self.figures = self.presses = 0

    def scan(self, text):
        """The scanner is a keyboard: it types into whatever waits, and ends with Enter."""
        self.scans += 1
        self.page.keyboard.type(text)
        with self.page.expect_event("load"):
            self.page.keyboard.press("Enter")

    def figure(self, text):
        """Type a figure where the page waits for one."""
        self.figures += 1
        self.page.keyboard.type(text)

    def press(self, words):
        """By touch on the button, or by Enter in the field that was typed in."""
        self.presses += 1
        button = self.page.locator("main button").filter(has_text=re.compile(f"^{re.escape(words)}")).first
        with self.page.expect_event("load"):
            if not self.by_touch:
                self.page.keyboard.press("Enter")
            elif self.bench.has_touch:
                button.tap()
            else:
                button.click()

    @property
    def done(self):
        return self.scans, self.figures, self.presses


@pytest.fixture(params=["touch", "keys"])
def counted(request, bench):
    """The bench by touch, and by keys alone."""
    return Counted(bench, by_touch=request.param == "touch")


def in_tub(bench, count, **more):
    """Pieces in the blue tub, each with its marker; a first one was strung in room 1 before."""
    bench.shop.hanging_piece()
    animal = bench.shop.receive()
    rows = [dict(product="Cured neck", weight="1000 g", marker=f"M {number:02}") for number in range(1, count + 1)]
    pieces = list(bench.shop.record("cut", **{"from": animal}, pieces=rows).codes)
    bench.shop.cure(pieces, (bench.shop.ingredient(), f"{count * 25} g"), tub="white tub")
    bench.clock.set("2026-11-26")
    return pieces


def test_stringing_when_the_marker_is_scanned_then_one_scan_one_weight_one_press(counted):
    bench = counted.bench
    (piece,) = in_tub(bench, 1)
    bench.open("/")
    counted.scan("m01")
    counted.figure("1015")
    counted.press("Record and print the tag")
    bench.sees(f"The tag of {piece} is ready")
    assert counted.done == (1, 1, 1)
    state = bench.shop.state(piece)
    assert (state.phase, state.place, state.hang_milligrams) == ("hanging", "room 1", 1_015_000)
    assert piece in bench.decoded(f"/tag/{piece}.pdf")[0]


def test_stringing_when_twelve_lie_in_one_tub_then_one_scan_and_twelve_weights(counted):
    bench = counted.bench
    pieces = in_tub(bench, 12)
    bench.open("/")
    counted.scan("white tub")
    for number in range(12):
        counted.figure(str(1001 + number))
        counted.press("Record and print the tag")
        bench.sees(f"The tag of {pieces[number]} is ready")
    assert counted.done == (1, 12, 12)
    assert [bench.shop.state(piece).hang_milligrams for piece in pieces] == [1_001_000 + 1000 * number for number in range(12)]


def released(bench, count=1):
    pieces = [bench.shop.hanging_piece(hung="720 g") for _ in range(count)]
    for piece in pieces:
        bench.shop.release(piece, at="2026-05-20")
    bench.clock.set("2026-05-21")
    return pieces


def test_packing_when_the_tag_is_scanned_then_each_weight_and_press_gives_a_label(counted):
    bench = counted.bench
    (piece,) = released(bench)
    bench.open("/")
    counted.scan(piece)
    for number, weight in enumerate(("120", "131", "125"), start=1):
        counted.figure(weight)
        counted.press("Weigh and label" if number == 1 else "Label it")
        bench.sees(f"Open the label of /{number}")
    assert counted.done == (1, 3, 3)
    lot = re.search(r"K[0-9]{6}[0-9A-Z]{3}", bench.page.content())[0]
    assert len(bench.decoded(f"/sale-label/{lot}.pdf")) == 3


def test_packing_when_the_next_piece_comes_then_the_station_remembers_and_the_difference_posts_itself(counted):
    bench = counted.bench
    first, second = released(bench, 2)
    bench.open(f"/pack?from={first}")
    bench.fill("first", "690")
    bench.press("More")
    bench.choose("form", "Packed for direct sale")
    bench.fill("slicer", "the red one")
    bench.press("Weigh and label")
    bench.sees("Open the label of /1")
    bench.press("End the session")
    bench.press("End the session")
    bench.sees("The session is ended: 1 packs")
    assert bench.shop.state(first).phase == "used up"  # 10 g of 700 g have dried, and nobody was asked
    bench.open("/")
    counted.scan(second)
    counted.figure("690")
    counted.press("Weigh and label")
    bench.sees("Open the label of /1")
    assert counted.done == (1, 1, 1)
    lot = re.search(r"K[0-9]{6}[0-9A-Z]{3}", bench.page.content())[0]
    state = bench.shop.state(lot)
    assert (state.market, state.language, state.form, state.slicer) == ("eu", "en", "direct", "the red one")


def test_weighing_when_the_tag_is_scanned_then_one_scan_one_weight_one_press(counted):
    bench = counted.bench
    piece = bench.shop.hanging_piece()
    bench.clock.set("2026-05-20")
    bench.open("/")
    counted.scan(piece)
    counted.figure("905")
    counted.press("Record the weight")
    bench.sees("905 g on the scale")
    assert counted.done == (1, 1, 1)


def test_a_scan_when_no_field_waits_for_it_then_it_goes_to_the_box_on_top(counted):
    bench = counted.bench
    piece = bench.shop.hanging_piece()
    bench.open("/cards")
    counted.scan(piece)
    assert f"/weigh?piece={piece}" in bench.page.url


@pytest.mark.parametrize("moment", ["string", "pack"])
def test_the_network_when_cut_before_sending_then_what_was_typed_is_sent_once_when_it_is_back(bench, moment):
    if moment == "string":
        (piece,) = in_tub(bench, 1)
        bench.open("/string?tub=white tub")
        field, figure, press = "weight", "1015", "Record and print the tag"
    else:
        (piece,) = released(bench)
        bench.open(f"/pack?from={piece}")
        field, figure, press = "first", "120", "Weigh and label the first pack"
    before = bench.shop.facts()
    bench.page.context.set_offline(True)
    bench.fill(field, figure)
    bench.press(press)
    assert bench.page.locator("#offline").is_visible()
    bench.page.context.set_offline(False)
    bench.page.reload()  # as a tablet does that was put away
    bench.sees("What you typed before is back")
    assert bench.page.locator(f'[name="{field}"]').input_value() == figure
    bench.press(press)
    bench.sees("ready" if moment == "string" else "Open the label of /1")
    assert bench.shop.facts() == before + 2  # the piece and its tag, or the pack and its label


def test_a_tick_when_the_page_is_loaded_again_then_it_is_back_with_what_was_typed(bench):
    bench.open("/cards/product")
    bench.fill("name", "Cured loin")
    tick = bench.page.locator('[name="skin_on"]')
    tick.evaluate("one => { const folded = one.closest('details'); if (folded) folded.open = true; }")
    tick.check()
    bench.page.reload()
    bench.sees("What you typed before is back")
    assert bench.page.locator('[name="name"]').input_value() == "Cured loin"
    assert tick.is_checked()
