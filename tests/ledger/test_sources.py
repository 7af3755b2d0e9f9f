"""Where nitrite comes from: the bag's own strength, plants in place of curing salt, and nitrite not mixed with salt.

Sums: 20 g of 0.6 % on 1000 g are 120 mg/kg; of 0.5 % they are 100 mg/kg. The court: OVG Lüneburg 13 LC 110/13 (a vegetable
concentrate in place of curing salt is an additive use that is not authorised). Pure nitrite: note on E 249-250.
"""

from decimal import Decimal

import pytest
from build import body

from labelsvc.errors import BlockedError, InputError
from labelsvc.ledger import read
from labelsvc.operations.making import doses_of


def dose(shop, code):
    with shop.ledger.reading() as connection:
        return doses_of(connection, [read.find(connection, code)], None, [])[0].ingoing.as_json()


def nitrite(shop, code):
    return dose(shop, code)["nitrite"]["ppm_as_sodium_nitrite"]


def test_dose_follows_the_strength_of_the_very_bag(shop):
    by_card, by_bag = shop.green_piece("1000 g"), shop.green_piece("1000 g")
    shop.cure([by_card], (shop.ingredient("curing salt"), "20 g"))
    weaker = shop.ingredient("curing salt", sodium_nitrite_percent="0.5")
    shop.cure([by_bag], (weaker, "20 g"))
    assert (nitrite(shop, by_card), nitrite(shop, by_bag)) == ("120", "100")
    assert dose(shop, by_bag)["salt_percent"] == "1.99"  # 20 g less 0.1 g of nitrite, on 1000 g


def test_two_bags_of_one_ingredient_count_each_by_its_own_strength_also_in_one_mix(shop):
    one, two = shop.cut(shop.receive(), "1000 g", "1000 g")
    weak, strong = shop.ingredient("curing salt", sodium_nitrite_percent="0.5"), shop.ingredient("curing salt")
    shop.cure([one, two], (weak, "20 g"), (strong, "20 g"))  # each gets 10 g and 10 g: 50 + 60
    assert nitrite(shop, one) == nitrite(shop, two) == "110"


def test_strength_corrected_over_the_limit_holds_what_was_cured_from_the_bag(shop):
    piece = shop.green_piece("1000 g")
    bag = shop.record("receive", **{**bag_of("curing salt"), "sodium_nitrite_percent": "0.5"})
    shop.cure([piece], (bag.codes[0], "20 g"))
    assert not shop.state(piece).is_held
    shop.correct(bag.fact, {**bag_of("curing salt"), "sodium_nitrite_percent": "0.61"})  # 122 mg/kg: over the EU's 119.98
    assert [held.finding["rule"] for held in shop.state(piece).held_for] == ["eu.nitrite.non_heat_treated"]


def bag_of(name, weight="1 kg"):
    return dict(supplier="Meadow Farm", kind="ingredient", name=name, weight=weight)


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        (dict(kind="part", name="belly", sodium_nitrite_percent="0.6"), "kind"),
        (dict(name="curing salt", sodium_nitrite_percent="60", salt_percent="41"), "sodium_nitrite_percent"),
    ],
)
def test_strength_that_cannot_be_is_refused(shop, changes, field):
    with pytest.raises(InputError) as refused:
        shop.record("receive", **{**bag_of("curing salt"), **changes})
    assert refused.value.field == field


def celery_cured(shop, market, **changes):
    fields = dict(name="celery powder", category="vegetable nitrate source", allergens=["celery"])
    shop.record("ingredient", **{**fields, **changes})
    shop.record(
        "product", **{**body("product"), "markets": [market], "class": "dry_cured" if market == "us" else "non_heat_treated"}
    )
    piece = shop.green_piece("1000 g")
    return piece, shop.cure([piece], (shop.ingredient("salt"), "25 g"), (shop.ingredient("celery powder"), "3 g"))


@pytest.mark.parametrize("market", ["eu", "gb"])
def test_plant_in_place_of_curing_salt_is_stopped_by_law(shop, market):
    piece, _ = celery_cured(shop, market)
    stop = next(held.finding for held in shop.state(piece).held_for if held.is_stop)
    assert stop["rule"] == f"{market}.plant_nitrate.every"
    assert "1333/2008" in stop["citation"]
    with pytest.raises(BlockedError, match="Nobody can lift"):
        shop.record("lift", at="2026-03-04", lots=[piece], reason="it says natural", by="Ada")


def test_plant_by_its_declared_nitrate_counts_as_a_source_and_its_nitrate_is_not_counted(shop):
    parts = [dict(name="nitrate", percent="2.75")]
    piece, _ = celery_cured(shop, "eu", category="vegetable", components=parts)
    assert any(held.finding["rule"] == "eu.plant_nitrate.every" for held in shop.state(piece).held_for)
    assert dose(shop, piece)["nitrate"]["mg_per_kg_as_ion"] == "0"


def test_plant_in_the_us_is_shown_with_the_statements_it_brings(shop):
    piece, _ = celery_cured(shop, "us")
    with shop.ledger.reading() as connection:
        row = read.find(connection, piece)
        findings = doses_of(connection, [row], "us", [row.state.cured_on])[0].findings
    note = next(one for one in findings if one.rule == "us.plant_nitrate.every")
    assert (note.severity, note.exceeded) == ("note", False)
    assert "except for those naturally occurring in celery powder" in note.message


def test_celery_as_a_spice_is_no_source(shop):
    shop.record("ingredient", name="celery seed", category="spice", allergens=["celery"])
    piece = shop.green_piece("1000 g")
    shop.cure([piece], (shop.ingredient(), "30 g"), (shop.ingredient("celery seed"), "2 g"))
    assert not shop.state(piece).is_held


def pure(shop):
    shop.record("ingredient", name="sodium nitrite")
    return shop.record("receive", **bag_of("sodium nitrite"))


@pytest.mark.parametrize("country", ["FR", "GB"])
def test_pure_nitrite_is_no_stock_in_the_eu_and_great_britain(shop, country):
    shop.record("workshop", **{**body("workshop"), "country": country})
    bag = pure(shop).codes[0]
    assert "no stock of a workshop" in shop.state(bag).held_for[0].reason
    with pytest.raises(BlockedError):
        shop.cure([shop.green_piece()], (bag, "0.1 g"))


def test_pure_nitrite_in_the_us_is_received(shop):
    shop.record("workshop", **{**body("workshop"), "country": "US"})
    assert not shop.state(pure(shop).codes[0]).is_held


def test_declared_parts_follow_the_bag(shop):
    from labelsvc.operations.making import as_stated
    from labelsvc.recipe import Component
    from labelsvc.shape import Percent, Text

    card = (Component(name=Text("salt"), percent=Percent("99.4")), Component(name=Text("sodium nitrite"), percent=Percent("0.6")))
    parts = as_stated(card, (("sodium nitrite", Decimal("0.5")),))
    assert [(part.name, part.percent) for part in parts] == [("salt", Decimal("99.5")), ("sodium nitrite", Decimal("0.5"))]
    assert parts[1].additive.e_number == "E 250"
