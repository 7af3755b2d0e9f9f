"""The whole story on screen: goods in, cut, cure, string, weigh, release, pack, sell, complaint, trace, recall, hold."""

import re

import pytest
from bench_hand import Bench


def codes_in(text, letter):
    """Return the codes of a kind in a text, each once, in order."""
    return list(dict.fromkeys(re.findall(rf"{letter}[0-9]{{6}}[0-9A-Z]{{3}}", text)))


def take_in(bench):
    """An animal and a container of salt; return their codes."""
    bench.clock.set("2026-03-02")
    bench.open("/goods-in")
    bench.choose("supplier", "Meadow Farm")
    for name, text in (("name", "half pig"), ("species", "pig"), ("weight", "42.6"), ("identity", "slap 1207")):
        bench.fill(name, text)
    bench.choose("trichinella.status", "tested")
    bench.press("Take it in")
    animal = codes_in(bench.told, "A")[0]
    bench.open("/goods-in?kind=ingredient")
    bench.choose("supplier", "Meadow Farm")
    bench.choose("name", "salt")
    bench.fill("weight", "5")
    bench.press("Take it in")
    return animal, codes_in(bench.told, "N")[0]


def cut_and_cure(bench, salt):
    """Two pieces out of the animal, found by its slap mark, into the blue tub; return their codes."""
    bench.scan("SLAP-1207")
    for row, (weight, marker) in enumerate((("1200", "M 017"), ("1000", ""))):
        bench.choose(f"pieces-{row}-product", "Cured neck")
        bench.fill(f"pieces-{row}-weight", weight)
        bench.fill(f"pieces-{row}-marker", marker)
    bench.press("Record the cut")
    pieces = codes_in(bench.told, "P")
    bench.choose("recipe", "neck cure")
    bench.press("Show the grams")
    bench.sees("55.00 g")  # 2.5 % of 1200 g + 1000 g
    bench.press("Weighed out: into the tub")
    bench.fill("tub", "blue tub")
    assert bench.page.locator('[name="mix-0-lot"]').input_value() == salt
    bench.fill("mix-0-weight", "55")
    bench.press("Record the cure")
    bench.sees("In the cure: 2 in blue tub")
    return pieces


def string_both(bench, pieces):
    """One scan of the tub and two weights; both tags are there and say the code."""
    bench.clock.set("2026-03-20")
    bench.scan("blue tub")
    bench.fill("weight", "1215")
    bench.fill("place", "room 1")
    bench.press("Record and print the tag")
    bench.sees("1 piece left to string")
    assert bench.page.locator('[name="place"]').input_value() == "room 1"
    bench.fill("weight", "1010")
    bench.press("Record and print the tag")
    for piece in pieces:
        assert piece in bench.decoded(f"/tag/{piece}.pdf")[0]


def weigh_and_release(bench):
    """The scale shows enough loss: the page asks whether it may be sold."""
    bench.clock.set("2026-05-20")
    bench.scan("m017")
    bench.fill("weight", "840")  # stop at 851 g: 30 % off 1215 g
    bench.press("Record the weight")
    bench.sees("May it be sold?")
    bench.press("Yes, release it")
    bench.sees("is released by Ada")


def pack_three(bench, piece):
    """Three packs, each with its label as soon as it is weighed; return the pack lot's code."""
    bench.clock.set("2026-05-21")
    bench.scan(piece)
    bench.fill("first", "120")
    bench.press("Weigh and label the first pack")
    lot = codes_in(bench.told, "K")[0]
    for weight in ("131", "2 x 125"):
        bench.fill("weight", weight)
        bench.press("Label it")
    bench.sees("4 packs")
    bench.press("End the session")
    bench.fill("from-0-rest", "320")
    bench.press("End the session")
    bench.sees("The session is ended: 4 packs")
    labels = bench.decoded(f"/sale-label/{lot}.pdf")
    assert len(labels) == 4
    assert f"https://labels.example.com/lot/{lot}/3" in labels[2]
    return lot


def sell_one(bench, lot):
    bench.clock.set("2026-05-22")
    bench.scan(f"https://labels.example.com/lot/{lot}/1")
    bench.choose("customer", "Corner Shop")
    bench.fill("document", "note 7")
    bench.press("Record the sale")
    bench.sees(f"Sold {lot}/1 to Corner Shop")


def complain_and_hold(bench, lot, animal):
    """Without a code the shop and the product lead to the pack; its first screen says what it is and who has it."""
    bench.clock.set("2026-05-25")
    bench.open("/complaint")
    bench.choose("product", "Cured neck")
    bench.choose("name", "Corner Shop")
    bench.press("Find it")
    bench.page.locator("a.line").filter(has_text="/1").click()
    for words in ("half pig", "Corner Shop", "blue tub", "Hold these"):
        bench.sees(words)
    assert animal in bench.told.replace(" ", "")
    bench.fill("text", "It smells of soap.")
    bench.press("Record the complaint")
    bench.sees("The complaint is recorded")
    bench.press("Hold these 4")
    bench.open(f"/lot/{lot}/1")
    bench.sees("HELD: complaint about")


def recall_from_salt(bench, salt, lot):
    """The salt went into both pieces and all packs; the search says whom to tell, and one press widens it."""
    bench.open("/recall")
    bench.press("Too much or too little cure")
    bench.fill("lot", salt)
    bench.press("Search")
    bench.sees("Corner Shop")
    bench.sees("everything that was in a tub with that")
    assert lot in bench.told.replace("\u2009", "")
    bench.press("Narrower: without what lay in the same tub")
    bench.sees("Where the grams went")


ON = [("sqlite", "phone"), ("sqlite", "desk"), ("postgresql", "phone")]


@pytest.mark.parametrize(("workshop_url", "bench"), ON, indirect=True)
def test_the_story_when_told_on_screen_then_every_moment_leads_to_the_next(bench):
    animal, salt = take_in(bench)
    pieces = cut_and_cure(bench, salt)
    string_both(bench, pieces)
    weigh_and_release(bench)
    lot = pack_three(bench, pieces[0])
    sell_one(bench, lot)
    complain_and_hold(bench, lot, animal)
    recall_from_salt(bench, salt, lot)


def test_an_error_when_a_row_is_wrong_then_it_stands_beside_that_row_and_nothing_is_lost(bench):
    animal = bench.shop.receive()
    bench.open(f"/cut?from={animal}")
    bench.choose("pieces-0-product", "Cured neck")
    bench.fill("pieces-0-weight", "1200")
    bench.choose("pieces-2-product", "Cured neck")
    bench.fill("pieces-2-weight", "12oo")
    bench.fill("trim", "300")
    bench.press("Record the cut")
    beside = bench.page.locator(".field.has-problem")
    assert beside.count() == 1
    assert beside.locator("input").get_attribute("name") == "pieces-2-weight"
    assert "12oo" in beside.inner_text() or "12oo" in beside.locator(".problem").inner_text()
    assert bench.page.locator('[name="pieces-0-weight"]').input_value() == "1200"
    assert bench.page.locator('[name="pieces-2-weight"]').input_value() == "12oo"
    assert bench.page.locator('[name="trim"]').input_value() == "300"


def test_a_question_when_a_weight_is_unusual_then_yes_records_it(bench):
    piece = bench.shop.hanging_piece()
    bench.open(f"/weigh?piece={piece}")
    bench.fill("weight", "350")  # 330 g net, a third of the 980 g that hung
    bench.press("Record the weight")
    bench.sees("Is that right?")
    bench.press("Yes, record it")
    bench.sees("350 g on the scale")
    assert bench.shop.state(piece).milligrams == 330_000


def test_a_draft_when_the_network_is_cut_then_it_is_kept_and_sent_later(bench):
    piece = bench.shop.hanging_piece()
    bench.open(f"/weigh?piece={piece}")
    bench.page.context.set_offline(True)
    bench.fill("weight", "901")
    bench.press("Record the weight")
    assert bench.page.locator("#offline").is_visible()
    bench.page.context.set_offline(False)
    bench.page.reload()
    bench.sees("What you typed before is back")
    assert bench.page.locator('[name="weight"]').input_value() == "901"
    bench.press("Record the weight")
    bench.open(f"/weigh?piece={piece}")
    assert bench.page.locator('[name="weight"]').input_value() == ""
    assert bench.shop.state(piece).milligrams == 881_000


def test_every_page_when_opened_then_it_fits_the_screen_and_its_targets_are_large(bench):
    lot, *_ = bench.shop.packed("330 g", "340 g")
    piece = bench.shop.hanging_piece()
    pages = ("/", "/goods-in", "/goods-in?kind=ingredient", "/cut", "/cure", "/string", f"/weigh?piece={piece}", "/pack", "/sell",
             "/complaint", f"/complaint?code={lot}", "/recall", f"/recall?reason=other&lot={lot}", "/cards", "/cards/product",
             f"/lot/{lot}", f"/lot/{piece}", f"/trace/{lot}", f"/release?lot={piece}", "/go?code=nothing", "/more",
             "/salt-again", "/take-out", "/turn", f"/split?from={piece}", f"/move?lot={piece}", "/check?what=laboratory",
             f"/count?lot={piece}", "/clean", "/incident", f"/incident?lots={piece}", "/markers")  # fmt: skip
    for path in pages:
        bench.open(path)
        assert not bench.is_wide(), path
        heights = bench.page.evaluate(
            "[...document.querySelectorAll('button, .press, input:not([type=hidden], [type=checkbox]), select, nav a, a.line')]"
            ".filter((one) => one.offsetParent).map((one) => [one.innerText || one.name, one.offsetHeight])"
        )
        assert [one for one in heights if one[1] < 48] == [], path


def test_a_scan_when_into_a_field_then_the_next_field_waits_and_nothing_is_sent(bench):
    piece = bench.shop.hanging_piece()
    bench.open("/weigh")
    bench.fill("piece", piece)
    bench.page.locator('[name="piece"]').press("Enter")
    bench.page.keyboard.type("902")
    assert bench.page.locator('[name="weight"]').input_value() == "902"
    bench.page.keyboard.press("Enter")
    bench.sees("902 g on the scale")


def test_a_row_when_one_more_is_pressed_then_it_takes_the_product_of_the_last(bench):
    animal = bench.shop.receive()
    bench.open(f"/cut?from={animal}")
    bench.choose("pieces-2-product", "Cured neck")
    bench.press("One more piece")
    assert bench.page.locator('[name="pieces-3-product"]').input_value() == "Cured neck"
    bench.fill("pieces-3-weight", "800")
    bench.press("Record the cut")
    bench.sees("1 cut: P")


def test_a_form_when_there_is_no_script_then_it_works_all_the_same(browser, served):
    address, clock, shop = served
    piece = shop.hanging_piece()
    context = browser.new_context(java_script_enabled=False)
    context.set_default_timeout(5000)
    bench = Bench(context.new_page(), address, clock, shop)
    bench.arrive("Ada")
    bench.scan(piece)
    bench.fill("weight", "903")
    bench.press("Record the weight")
    bench.sees("903 g on the scale")
    context.close()
