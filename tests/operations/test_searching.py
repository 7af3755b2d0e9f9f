"""Any suspicion, alone and together: what it starts from, and by which way each lot is reached."""

from decimal import Decimal

import build
import pytest

from labelsvc.errors import CodeError, InputError, NotFoundError
from labelsvc.labels.shelf import Shelf
from labelsvc.operations.labelling import sale_label
from labelsvc.operations.recalling import recall
from labelsvc.operations.searching import Suspicion
from labelsvc.settings import shipped
from labelsvc.trace.walk import Link, forward


def found(shop, **asked):
    return {one["code"]: one for one in recall(shop.ledger, Suspicion(**asked))["affected"]}


@pytest.fixture
def two(shop):
    """Two pieces of two animals with a herd mark each: the first sold to the shop, the second given away."""
    shop.salt = shop.ingredient(supplier_lot="H 552")
    shop.curing = shop.ingredient("curing salt", "1 kg")
    shop.animals = [shop.receive(identity=f"IE 12 {number}", herd_mark="HM 7" if number == 1 else "HM 8") for number in (1, 2)]
    shop.pieces = [shop.cut(animal, "1000 g")[0] for animal in shop.animals]
    shop.cure(shop.pieces[:1], (shop.salt, "25 g"), tub="blue", recipe="neck cure")
    shop.cure(shop.pieces[1:], (shop.salt, "20 g"), (shop.curing, "10 g"), tub="red")
    for piece in shop.pieces:
        shop.string(piece, "720 g", tare="20 g", at="2026-03-20")
        shop.release(piece, at="2026-05-20")
    shop.packs = [shop.pack([piece], "680 g", at="2026-05-21", slicer="slicer")[1] for piece in shop.pieces]
    shop.day = "2026-05-22"
    shop.sell(shop.packs[0])
    shop.record("give", to="Mrs Example", packs=[shop.packs[1]])
    return shop


def test_a_customer_when_searched_then_what_they_had_is_found_whatever_the_case(two):
    assert set(found(two, customer="corner shop")) == {two.packs[0]}
    assert set(found(two, customer="Mrs Example")) == {two.packs[1]}


def test_a_version_of_a_recipe_when_searched_then_only_what_was_cured_by_what_it_said_then_is_found(two):
    two.record("recipe", at="2026-04-01", name="neck cure", lines=[dict(ingredient="salt", percent_of_green="3")])
    two.day = "2026-04-02"
    later = two.cut(two.receive(), "1000 g")[0]
    two.cure([later], (two.salt, "30 g"), tub="blue", recipe="Neck cure")
    assert set(found(two, recipe="neck cure", recipe_version=1)) == {two.pieces[0], two.packs[0]}
    assert set(found(two, recipe="neck cure", recipe_version=2)) == {later}
    assert set(found(two, recipe="neck cure")) == {two.pieces[0], two.packs[0], later}
    answer = recall(two.ledger, Suspicion(recipe="neck cure", recipe_version=3))
    assert answer["affected"] == []
    assert answer["notes"] == ["neck cure has 2 versions: 1 since 2026-03-01, 2 since 2026-04-01."]


def test_a_version_when_no_recipe_or_no_number_of_one_is_given_then_it_is_asked_for():
    with pytest.raises(InputError, match="recipe: expected the recipe whose version is asked for, got nothing"):
        Suspicion(lots=("x",), recipe_version=1)
    with pytest.raises(InputError, match="recipe_version: expected a number from 1 on"):
        Suspicion(recipe="neck cure", recipe_version=0)


def test_a_recipe_when_searched_then_pieces_cured_by_it_are_found_with_their_packs(two):
    assert set(found(two, recipe="Neck Cure")) == {two.pieces[0], two.packs[0]}


@pytest.mark.parametrize(("mark", "which"), [("HM 7", 0), ("hm8", 1), ("IE 12 1", 0)])
def test_a_mark_when_searched_then_its_animal_is_found(two, mark, which):
    assert set(found(two, mark=mark)) == {two.animals[which], two.pieces[which], two.packs[which]}


def test_a_dose_when_searched_then_only_pieces_above_it_are_found(two):
    # 10 g of curing salt with 0.6 % sodium nitrite on 1000 g: 60 mg per kg
    assert set(found(two, dose_above=Decimal("59.9"))) == {two.pieces[1], two.packs[1]}
    assert found(two, dose_above=Decimal("60")) == {}


def test_a_rule_when_searched_then_the_packs_whose_label_relied_on_it_are_found(two):
    sale_label(two.ledger, two.packs[1], layouts=Shelf(shipped("label_layouts")), now=build.NOW)
    rules = two.fact_body(two.facts())["given"]["rules"]
    assert set(found(two, rule=rules[0])) == {two.packs[1]}
    assert found(two, rule="eu.no.such.rule") == {}


def test_several_parts_when_searched_together_then_only_what_fits_all_of_them_is_the_start(two):
    assert set(found(two, ingredient="salt", customer="Corner Shop")) == {two.packs[0]}
    assert set(found(two, lots=(two.salt,), mark="HM 8")) == {two.pieces[1], two.packs[1]}
    assert found(two, customer="Corner Shop", dose_above=Decimal("1")) == {}


def test_a_slicer_when_searched_since_its_last_cleaning_then_what_was_on_it_before_is_left_out(two):
    assert set(found(two, place="slicer", since_cleaning=True)) == set(two.packs)
    two.record("clean", thing="slicer", allergen_clean=False, at="2026-05-22T18:00")
    assert found(two, place="slicer", since_cleaning=True) == {}
    assert set(found(two, place="slicer")) == set(two.packs)


@pytest.mark.parametrize("scanned", [
    "https://labels.example.com/lot/{lot}/1", "]Q1https://labels.example.com/01/09521234543213/10/{lot}/21/1",
    "(01)09521234543213(10){lot}(21)1", "]C1010952123454321310{lot}\x1d211", "]C1{lot}/1", " {lot}/1 ",
])  # fmt: skip
def test_a_symbol_when_scanned_then_it_leads_to_the_pack(two, scanned):
    lot = two.packs[0].partition("/")[0]
    assert set(found(two, lots=(scanned.format(lot=lot),))) == {two.packs[0]}


def test_each_lot_when_found_then_it_says_by_which_way(two):
    ways = found(two, lots=(two.salt,))
    assert (ways[two.salt]["by"], ways[two.salt]["steps"]) == ("mass", 0)
    piece = ways[two.pieces[0]]
    # 25 g of salt in a piece of 1000 g green: 25 of 1025 g that ever came in
    assert (piece["by"], piece["steps"], piece["shared_grams"], piece["share_percent"]) == ("mass", 1, "25", "2.44")
    beside = found(two, lots=(two.packs[0],), reach="slicer")
    assert (beside[two.packs[0]]["by"], beside[two.packs[0]]["share_percent"]) == ("mass", "100")
    assert (beside[two.packs[1]]["by"], beside[two.packs[1]]["via"]) == ("slicer", "slicer")
    assert beside[two.pieces[0]]["by"] == "piece"


def test_shares_of_several_lots_when_both_went_in_then_they_add_up():
    # 10 of 1 and 30 of 2 go into 3, which is 40 in all; half of 3 goes into 4
    links = [Link(1, 3, 10), Link(2, 3, 30), Link(3, 4, 20)]
    reached = forward({1: 10, 2: 30}, links, {1: 10, 2: 30, 3: 40, 4: 20})
    assert {lot: (one.steps, one.milligrams) for lot, one in reached.items()} == {1: (0, 10), 2: (0, 30), 3: (1, 40), 4: (2, 20)}


def test_a_code_when_misread_then_the_nearest_that_is_there_is_named(two):
    lot = two.packs[0].partition("/")[0]
    swapped = lot[:-2] + lot[-1] + lot[-2]
    with pytest.raises(CodeError, match=rf"Near it: {lot}\."):
        found(two, lots=(swapped,))
    with pytest.raises(CodeError, match=rf"Near it: {lot}\."):
        found(two, lots=(lot[:-3] + lot[-2:],))
    with pytest.raises((CodeError, NotFoundError)) as told:
        found(two, lots=("K99010102",))
    assert "Near it" not in told.value.message


def test_since_cleaning_when_no_thing_is_named_then_it_is_asked_for():
    with pytest.raises(InputError, match="place: expected the slicer or other thing that was cleaned"):
        Suspicion(lots=("x",), since_cleaning=True)
