"""The rules as a page, figures of the workshop's own, and what a held lot offers to do about it."""

import datetime as dt

import pytest
from build import body

from labelsvc.rules.load import MARKETS, PRACTICE, all_rules, is_lacking, rules_of


@pytest.fixture
def lacking():
    """A limit of the EU that has no confirmed figure now."""
    return next(rule for rule in all_rules("eu") if is_lacking(rule) and rule.until is None)


def test_rules_when_opened_then_each_says_how_it_is_known_and_where_it_stands(bench):
    page = bench.get("/rules?market=gb&on=2026-03-02&about=nitrite non heat")
    assert "150 mg/kg as sodium nitrite, product when the additive goes in" in page.words
    assert "gb.nitrite.non_heat_treated" in page.words
    assert "category 08.3.1" in page.words


def test_rules_when_the_day_is_before_a_change_then_the_figure_of_that_day_stands_there(bench):
    before, after = (
        bench.get(f"/rules?market=eu&on={day}&about=eu nitrite non heat treated").words for day in ("2025-10-08", "2025-10-09")
    )
    assert "150 mg/kg as sodium nitrite" in before
    assert "80 mg/kg as nitrite ion" in after


@pytest.mark.parametrize("market", [*MARKETS, PRACTICE])
def test_rules_when_all_are_asked_for_then_every_rule_in_force_stands_there(bench, market):
    on = dt.date(2026, 3, 2)
    assert "All rules of this market" in bench.get(f"/rules?market={market}&on={on}").words
    page = bench.get(f"/rules?market={market}&on={on}&about=")
    assert [rule for rule in rules_of(market, on) if rule not in page.words] == []


def test_rules_when_the_market_is_unknown_then_says_so(bench):
    page = bench.get("/rules?market=jp")
    assert page.status == 400
    assert "Expected one of eu, gb, us" in page.words


def test_figure_when_entered_then_it_stands_with_its_source_among_the_rules(bench, lacking):
    page = bench.get(f"/rules?market=eu&about={lacking.id}")
    assert f"rule={lacking.id}" in page.text
    page = bench.post("/figure", rule=lacking.id, value="41,5", unit="mg/kg", source="the vet's letter of 2 May", by="Ines")
    assert "Your figure: 41.5 mg/kg, from the vet's letter of 2 May, by Ines" in page.words


def test_figure_when_its_unit_is_another_then_the_error_stands_beside_it(bench, lacking):
    page = bench.post("/figure", rule=lacking.id, value="40", unit="ppm as salt", source="a letter", by="Ines")
    assert page.status == 400
    assert "Expected mg/kg, as" in page.beside("unit")


def test_lot_when_a_measured_value_is_lacking_then_the_page_leads_to_it_and_lets_go(bench):
    shop = bench.shop
    shop.record("product", **{**body("product"), "markets": ["gb"], "class": "dry_cured_bacon"})
    piece = shop.green_piece()
    shop.cure([piece], (shop.ingredient("curing salt"), "15 g"))
    shop.string(piece, "1000 g", at="2026-03-20")
    page = bench.get(f"/lot/{piece}")
    assert "HELD: Dry cured bacon" in page.words
    assert "Record what was measured" in page.words
    done = bench.post(
        f"/check?what=residual_nitrite&lot={piece}", lot=piece, value="60", expressed_as="sodium nitrite", method="laboratory"
    )
    assert "HELD" not in done.words


def test_lot_when_the_law_stops_it_then_no_button_lifts_it(bench):
    shop = bench.shop
    piece = shop.green_piece()
    shop.cure([piece], (shop.ingredient("curing salt"), "30 g"))  # 180 mg/kg sodium nitrite: over the EU's 120
    page = bench.get(f"/lot/{piece}")
    assert "HELD BY LAW" in page.words
    assert "lift the hold" not in page.words
    assert "Throw it away" in page.words


def test_class_when_asked_then_says_which_and_who_decides_in_the_us(bench):
    page = bench.post("/class", market="us", belly="false", way="dry")
    assert "US: dry_cured . Dry cured, and no bacon" in page.words
    assert "the authority sets the class" in page.words


def test_class_when_an_answer_cannot_be_then_it_stands_beside_the_question(bench):
    page = bench.post("/class", market="jp")
    assert page.status == 400
    assert "Expected one of eu, gb, us" in page.beside("market")


def test_grams_when_the_bag_is_weaker_than_its_card_then_the_page_asks_for_more_and_shows_the_sums(bench):
    shop = bench.shop
    shop.record("recipe", name="light cure", lines=[dict(ingredient="curing salt", percent_of_green="1.5")])
    piece, weak = shop.green_piece("1000 g"), shop.ingredient("curing salt", "1 kg", sodium_nitrite_percent="0.5")
    page = bench.get(f"/cure?pieces={piece}&recipe=light+cure&containers={weak}&scale_step=0,1")
    assert "18.00 g" in page.words
    assert "this bag is 0.5 % nitrite, the recipe is for 0.6 %" in page.words
    assert "18 g curing salt × 0.5 % = 0.09 g" in page.words
    assert "on this scale nitrite 89.75 to 90.25 ppm" in page.words  # 0.05 g of 0.5 % on 1 kg are 0.25 ppm
    tub = bench.get(f"/cure/tub?pieces={piece}&recipe=light+cure&containers={weak}")
    assert f'value="{weak}"' in tub.text


def test_dose_when_asked_for_ppm_then_grams_the_caution_and_the_sums_and_over_the_limit_none(bench):
    shop = bench.shop
    piece, bag = shop.green_piece("1000 g"), shop.ingredient("curing salt")
    page = bench.get(f"/dose?piece={piece}&container={bag}&nitrite_ppm=90&salt_percent=2,5")
    assert "15 g" in page.words
    assert "poisonous in small amounts" in page.words
    assert "90 ppm × 1000 g ÷ 1 000 000 ÷ 0.6 %" in page.words
    over = bench.get(f"/dose?piece={piece}&container={bag}&nitrite_ppm=121")
    assert over.status == 422
    assert "is over 80 (product when the additive goes in)" in over.words
    assert 'value="121"' in over.text  # nothing typed is lost
