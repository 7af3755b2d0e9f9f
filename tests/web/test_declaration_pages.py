"""What a label will say and what is missing, on the page and by command; deciding on allergens; coats; selling by standing."""

import pytest
from build import body

from labelsvc.errors import BlockedError


def test_declaration_of_packs_then_each_thing_with_its_rule_its_working_and_what_is_missing(bench):
    lot, _ = bench.packed("700 g")
    page = bench.get(f"/declaration/{lot}")
    assert "Ingredients: pork, salt" in page.words
    assert "1000 g / 700 g x 100 = 142.86 g of pork" in page.words
    assert "Regulation (EU) No 1169/2011, Art 22" in page.words
    assert "the meat is not on the card of Cured neck" in page.words
    assert "/cards/product?name=Cured+neck&amp;open=all" in page.text
    assert "/declaration/" in bench.get(f"/lot/{lot}").text


def test_declaration_of_a_piece_then_as_if_it_were_packed_today_for_any_market(bench):
    piece = bench.shop.hanging_piece(hung="720 g")
    bench.shop.release(piece, at="2026-05-20")
    page = bench.get(f"/declaration/{piece}")
    assert "As if it were packed today: European Union, English." in page.words
    german = bench.get(f"/declaration/{piece}?market=eu&language=de")
    assert "Zutaten: Schweinefleisch, Salz" in german.words
    british = bench.get(f"/declaration/{piece}?market=gb&language=en")
    assert "Missing before it may be printed" in british.words  # a French workshop needs an address in the UK
    assert "/cards/workshop?" in british.text


def test_declaration_of_a_product_then_that_of_its_last_packs(bench):
    lot, _ = bench.packed("700 g")
    assert bench.get("/declaration?product=Cured+neck").where.endswith(f"/declaration/{lot}")
    assert bench.get("/declaration?product=Cured+duck+breast").status == 409


def test_declaration_of_something_else_then_it_says_what_it_needs(bench):
    page = bench.get(f"/declaration/{bench.shop.ingredient()}")
    assert page.status == 409
    assert "packs, or a piece of which something is left" in page.words


def undecided(shop):
    """Packs whose piece shared a bowl with mustard, entered late: nobody was asked."""
    shop.record("ingredient", name="mustard", allergens=["mustard"])
    shop.day = "2026-03-01"
    salt, mustard = shop.ingredient(), shop.ingredient("mustard", "1 kg")
    shop.day = "2026-03-05"
    piece = shop.green_piece()
    shop.cure([piece], (salt, "30 g"), tub="white", things=["bowl"])
    shop.string(piece, "720 g", tare="20 g", at="2026-03-23")
    shop.release(piece, at="2026-05-20")
    lot, _ = shop.pack([piece], "700 g", at="2026-05-21")
    packing = shop.last.fact
    shop.day = "2026-03-03"
    shop.cure([shop.green_piece()], (salt, "30 g"), (mustard, "5 g"), tub="red", things=["bowl"], at="2026-03-04")
    return lot, packing


def test_deciding_then_the_answer_stands_in_the_packing_and_the_label_warns(bench):
    lot, packing = undecided(bench.shop)
    page = bench.get(f"/declaration/{lot}")
    assert "Undecided: bowl held mustard" in page.words
    assert f"/decide-allergens/{packing}?code={lot}" in page.text
    done = bench.post(f"/decide-allergens/{packing}?code={lot}", may_contain="mustard", reason="the bowl was only rinsed")
    assert "May contain: mustard" in done.words
    assert bench.shop.state(f"{lot}/1").may_contain == ("mustard",)
    nothing = bench.post(f"/decide-allergens/{packing}?code={lot}", reason="swabbed, the record was forgotten")
    assert "May contain" not in nothing.words
    assert bench.shop.state(f"{lot}/1").may_contain == ()


def test_packing_when_asked_about_allergens_then_the_question_stands_beside_its_field(bench):
    undecided(bench.shop)
    shop = bench.shop
    shop.day = "2026-04-01"
    piece = shop.green_piece()
    shop.cure([piece], (shop.ingredient(), "30 g"), tub="red")
    shop.string(piece, "720 g", tare="20 g", at="2026-04-20")
    shop.release(piece, at="2026-05-20")
    page = bench.post("/pack", from_=piece, first="700 g", market="eu", language="en", form="prepacked", session="s2")
    assert "red held mustard" in page.beside("may_contain")


def test_coat_page_then_the_coat_is_in_the_piece(bench):
    piece = bench.shop.hanging_piece()
    pepper = bench.shop.ingredient("pepper", "1 kg")
    assert f'value="{piece}"' in bench.get(f"/coat?pieces={piece}").text or piece in bench.get(f"/coat?pieces={piece}").text
    page = bench.post("/coat", pieces=piece, what="coating", mix__0__lot=pepper, mix__0__weight="12")
    assert page.where == f"/lot/{piece}"
    assert "coating put on" in page.words


def test_product_card_then_what_labels_need_is_kept_and_shown_again(bench):
    given = {**{key: ", ".join(value) if isinstance(value, list) else str(value) for key, value in body("product").items()}}
    given |= {"packed_in": "vacuum", "perishable": "false", "control.what": "ph", "control.value": "4,9",
              "control.record": "log 3", "meat.food": "10080", "per_100g.fat": ""}  # fmt: skip
    bench.post("/cards/product", **{f"{key}_" if key == "class" else key: value for key, value in given.items()})
    page = bench.get("/cards/product?name=Cured+neck&open=all")
    assert '<option value="false" selected>No</option>' in page.beside("perishable")
    assert 'value="4.9"' in page.beside("control.value")
    assert '<option value="10080" selected>' in page.beside("meat.food")


@pytest.mark.parametrize(("standing", "customer", "stopped"), [
    ("us_retail_exempt", "Corner Shop", True), ("us_retail_exempt", "Mrs Example", False), ("us_inspected", "Corner Shop", False),
])  # fmt: skip
def test_selling_by_a_us_retail_exempt_shop_then_to_household_consumers_only(shop, standing, customer, stopped):
    shop.record("workshop", **{**body("workshop"), "standing": standing}, at="2026-03-03")
    _, pack = shop.packed("700 g")
    if not stopped:
        assert shop.sell(pack, customer=customer, at="2026-05-22")
        return
    with pytest.raises(BlockedError) as blocked:
        shop.sell(pack, customer=customer, at="2026-05-22")
    assert blocked.value.findings[0]["rule"] == "us.labelling.retail_exempt"
    assert blocked.value.field == "customer"


def test_command_declaration_then_the_same_by_words_and_as_json(bench, capsys):
    from labelsvc.cli.group import run

    lot, _ = bench.packed("700 g")
    database = bench.shop.url
    assert run(["declaration", lot, "--database", database]) == 0
    told = capsys.readouterr().out
    assert "ingredients: Ingredients: pork, salt" in told
    assert "To look at" in told
    assert run(["declaration", lot, "--database", database, "--json"]) == 0
    assert '"average_of_pieces": 1' in capsys.readouterr().out
