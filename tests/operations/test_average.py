"""Quantities and nutrition are declared by the product's average; a piece that strays from it is told; coats and nets count."""

import datetime as dt
from decimal import Decimal

import pytest
from build import body

from labelsvc.declaration.context import context_for
from labelsvc.ledger import read
from labelsvc.operations.average import Average, stray_findings
from labelsvc.operations.content import sale_said
from labelsvc.operations.declaring import declared
from labelsvc.units import Mass

DAY = dt.date(2026, 5, 22)
NOW = dt.datetime(2026, 5, 25, 9, tzinfo=dt.UTC)


def hung(shop, green, net, tub="blue"):
    """A released piece of so many grams of meat with 3 % salt, that hangs with so many grams net."""
    piece = shop.green_piece(f"{green} g")
    shop.cure([piece], (shop.ingredient(), f"{green * 3 // 100} g"), tub=tub)
    shop.string(piece, f"{net + 20} g", tare="20 g", at="2026-03-23")
    shop.release(piece, at="2026-05-20")
    return piece


def said(shop, code):
    with shop.ledger.reading() as connection:
        return sale_said(connection, read.find(connection, code), DAY)


def test_quantity_when_two_pieces_differ_then_the_average_and_how_many_it_rests_on(shop):
    first, second = hung(shop, 1000, 700), hung(shop, 1000, 650)
    shop.pack([first], "700 g", at="2026-05-21")
    lot, pack = shop.pack([second], "650 g", at="2026-05-22")
    # 2000 g of meat in 1350 g of product: 148.15 g for 100 g, not the second piece's own 153.85
    printed = said(shop, pack).content.text("quantity_statement")
    assert printed == "Made with 148\u00a0g of pork per 100\u00a0g of finished product"
    found = declared(shop.ledger, lot, now=NOW)
    assert found.pieces == 2
    working = next(one.working for one in found.particulars if one.element == "quantity_statement")
    assert working.startswith("average of 2 pieces; pork 148.15 g in 100 g, printed 148")
    assert "1000 g / 650 g x 100 = 153.85 g of pork" in working


def test_quantity_when_a_later_piece_is_packed_then_earlier_labels_say_what_they_said(shop):
    first, second = hung(shop, 1000, 700), hung(shop, 1000, 500)
    _, earlier = shop.pack([first], "700 g", at="2026-05-21")
    before = said(shop, earlier).content
    shop.pack([second], "500 g", at="2026-05-22")
    assert said(shop, earlier).content == before


@pytest.mark.parametrize(
    ("net", "strays"),
    [
        # with 700 g from the first 1000 g: 580 g give an average of 2000 / 1280 = 156.25, and 172.41 is 10.3 % more;
        # 590 g give 2000 / 1290 = 155.04, and 169.49 is 9.3 % more
        (580, True),
        (590, False),
    ],
)
def test_piece_when_it_strays_from_the_average_then_told(shop, net, strays):
    first, second = hung(shop, 1000, 700), hung(shop, 1000, net)
    shop.pack([first], "700 g", at="2026-05-21")
    _, pack = shop.pack([second], f"{net} g", at="2026-05-22")
    found = [one for one in said(shop, pack).findings if one.rule.endswith(".stray_piece")]
    assert [second in one.message for one in found] == [True] * strays


@pytest.mark.parametrize("market", ["eu", "gb", "us"])
@pytest.mark.parametrize(("percent", "strays"), [("9.99", False), ("10", False), ("10.01", True)])
def test_piece_when_more_than_a_tenth_from_the_average_then_it_strays(market, percent, strays):
    # common practice, no source: what strays by more than a tenth is looked at
    context = context_for(market, "en", DAY, Decimal(1))
    for side in (1, -1):
        average = Average((), Mass(Decimal(1)), 2, {"K1": side * Decimal(percent)}, False)
        assert [one.exceeded for one in stray_findings(average, context)] == [True] * strays


def test_packs_of_several_products_then_they_stand_for_themselves(shop):
    neck = hung(shop, 1000, 700)
    duck = shop.record("cut", from_=shop.receive(name="ducks", species="duck"),
                       pieces=[dict(product="Cured duck breast", weight="400 g")]).codes[0]  # fmt: skip
    shop.cure([duck], (shop.ingredient(), "12 g"), tub="white")
    shop.string(duck, "305 g", at="2026-03-23")
    shop.release(duck, at="2026-05-20")
    pack = shop.pack([neck, duck], "500 g", "500 g", product="Cured neck", at="2026-05-21")[1]
    # 1000 g of pork and 400 g of duck in 1000 g of product
    assert said(shop, pack).content.text("quantity_statement") == (
        "Made with 100\u00a0g of pork and 40\u00a0g of duck per 100\u00a0g of finished product"
    )


def test_netting_when_it_brings_an_allergen_then_only_that_is_declared(shop):
    shop.record("ingredient", name="spiced netting", category="netting", allergens=["mustard"])
    piece = hung(shop, 1000, 700)
    net = shop.ingredient("spiced netting", "1 kg")
    shop.record("coat", at="2026-04-01", pieces=[piece], what="netting", mix=[dict(lot=net, weight="8 g")])
    _, pack = shop.pack([piece], "700 g", at="2026-05-21")
    found = said(shop, pack)
    assert found.content.text("ingredients") == "Ingredients: pork, salt, spiced netting (mustard)"
    assert [run.text for run in found.content.runs("ingredients") if run.emphasised] == ["mustard"]
    assert found.allergens == ("mustard",)


def test_wash_with_wine_then_its_sulphites_are_declared_though_nobody_knows_how_much(shop):
    shop.record("ingredient", name="wine", allergens=["sulphites"])
    piece = hung(shop, 1000, 700)
    wine = shop.ingredient("wine", "1 kg")
    shop.record("coat", at="2026-04-01", pieces=[piece], what="wash", mix=[dict(lot=wine, weight="10 g")])
    _, pack = shop.pack([piece], "700 g", at="2026-05-21")
    assert said(shop, pack).allergens == ("sulphur dioxide and sulphites",)


def test_nutrition_when_a_piece_lay_in_excess_salt_then_none_is_computed(shop):
    shop.record("product", **{**body("product"), "meat": {"food": "10080"}})
    piece = shop.green_piece()
    shop.cure([piece], (shop.ingredient(), "300 g"), method="dry_excess")
    shop.record("take_out", pieces=[dict(code=piece, weight="980 g")], leftover="250 g", at="2026-03-20")
    shop.string(piece, "720 g", tare="20 g", at="2026-03-23")
    shop.release(piece, at="2026-05-20")
    lot, pack = shop.pack([piece], "700 g", at="2026-05-21")
    assert said(shop, pack).content.text("nutrition") == ""
    found = declared(shop.ledger, lot, now=NOW)
    assert any("a cure in excess salt is not known" in one.message for one in found.open)


def test_nutrition_when_the_meat_is_a_food_of_the_table_then_the_average_is_declared(shop):
    shop.record("product", **{**body("product"), "meat": {"food": "10080"}})
    piece = hung(shop, 1000, 700)
    _, pack = shop.pack([piece], "700 g", at="2026-05-21")
    # fat 123.6 / 7 = 17.66; salt: (610 + 30 x 387.58) mg sodium / 7 x 2.5 = 4.37 g
    text = said(shop, pack).content.text("nutrition").replace("\u00a0", " ")
    assert "fat 18 g" in text
    assert text.endswith("salt 4.4 g")
    assert Decimal("4.37") == round((Decimal(610) + 30 * Decimal("387.58")) / 7 * Decimal("2.5") / 1000, 2)


def test_origin_when_claimed_and_the_meat_is_from_elsewhere_then_it_stands_in_the_name(shop):
    shop.record("product", **{**body("product"), "origin_claim": "FR"})
    piece = shop.cut(shop.receive(origin="BR"), "1000 g")[0]
    shop.cure([piece], (shop.ingredient(), "30 g"))
    shop.string(piece, "720 g", tare="20 g", at="2026-03-23")
    shop.release(piece, at="2026-05-20")
    _, pack = shop.pack([piece], "700 g", at="2026-05-21")
    assert said(shop, pack).content.text("food_name") == "Cured neck (pork: non-EU)"
