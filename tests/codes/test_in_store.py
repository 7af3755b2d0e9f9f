"""Numbers for one's own till with weight or price inside."""

from decimal import Decimal

import pytest

from labelsvc.codes.in_store import in_store_layouts, in_store_number, value_check_digit
from labelsvc.errors import CodeError


# identification pack 1.5: price/measure check digits of the General Specifications' own examples, confirmed with biip
@pytest.mark.parametrize(("value", "check"), [("2875", "9"), ("14685", "6")])
def test_check_digit_of_a_value_is_the_published_one(value: str, check: str) -> None:
    assert value_check_digit(value) == check


def test_number_with_a_price_is_the_published_one() -> None:
    # identification pack 1.7: GB GBP 12.50 of item 12345, run through biip
    assert in_store_number("gb_price", 12345, kilograms=Decimal(1), price=Decimal("12.50")) == "2012345312500"


def test_number_with_a_weight_holds_grams_rounded_down() -> None:
    # 28, item 0042, check digit of 01234, 01234 g: 01234 weighted 0, 2, 9, 6, 8 (5+, 2-, 5-, 5+, 2-) is 25, to 30 it is 5,
    # which 5- gives for 1. The whole: 2 8 0 0 4 2 1 0 1 2 3 4 from the right 4 3 2 1 0 1 2 4 0 0 8 2 with 3 1 3 1 ...:
    # 12+3+6+1+0+1+6+4+0+0+24+2 = 59, next ten 60: 1
    assert in_store_number("de_weight", 42, kilograms=Decimal("1.2349")) == "2800421012341"


def test_number_without_check_digit_of_its_value() -> None:
    # 23, item 000042, 1234 g; from the right 4 3 2 1 2 4 0 0 0 0 3 2 with 3 1 3 1 ...: 12+3+6+1+6+4+0+0+0+0+9+2 = 43: 7
    assert in_store_number("nordic_weight", 42, kilograms=Decimal("1.234")) == "2300004212347"


@pytest.mark.parametrize(
    ("layout", "price", "number"),
    [
        # GS1 Sweden (viktvarunummer): 20 price with two decimals, 21 with one; last digit by hand, 3 1 3 1 ... from the right
        ("se_price", "45.50", "2000004245504"),  # 0+5+15+4+6+4+0+0+0+0+0+2 = 36, next ten 40
        ("se_price_10_ore", "145.56", "2100004214569"),  # 145.6: 18+5+12+1+6+4+0+0+0+0+3+2 = 51, next ten 60
        # GS1 Denmark (interne stregkoder): four digits of the item, price in øre; its own example is kr. 39,75
        ("dk_price", "39.75", "2100420039753"),  # 15+7+27+3+0+0+6+4+0+0+3+2 = 67, next ten 70
    ],
)
def test_number_with_a_price_by_the_swedish_and_danish_layouts(layout: str, price: str, number: str) -> None:
    assert in_store_number(layout, 42, kilograms=Decimal(1), price=Decimal(price)) == number


@pytest.mark.parametrize(
    ("layout", "item", "kilograms", "price", "said"),
    [
        ("nope", 1, "1", None, "in_store: expected one of gb_price"),
        ("gb_price", 100_000, "1", "1", "in_store_item: expected an item number of at most 5 digits"),
        ("gb_price", 99_999, "1", None, "price_per_kg: expected a price"),
        ("gb_price", 1, "1", "100.00", "price: expected a price that fits 4 digits"),
        ("nordic_weight", 1, "10", None, "weight: expected a weight that fits 4 digits"),
        ("nordic_weight", 1, "0.0009", None, "weight: expected a weight that fits"),
    ],
)
def test_what_a_number_cannot_hold_is_named(layout: str, item: int, kilograms: str, price: str | None, said: str) -> None:
    with pytest.raises(CodeError) as caught:
        in_store_number(layout, item, kilograms=Decimal(kilograms), price=Decimal(price) if price else None)
    assert caught.value.message.startswith(said)


@pytest.mark.parametrize(("price", "fits"), [("99.99", True), ("99.994", True), ("99.995", False)])
def test_highest_price_is_the_last_that_rounds_to_four_digits(price: str, fits: bool) -> None:
    if fits:
        assert in_store_number("gb_price", 1, kilograms=Decimal(1), price=Decimal(price))[8:12] == "9999"
        return
    with pytest.raises(CodeError):
        in_store_number("gb_price", 1, kilograms=Decimal(1), price=Decimal(price))


def test_every_layout_has_twelve_digits_and_its_prefix_inside_the_item() -> None:
    for form in in_store_layouts().values():
        assert len(form.digits) == 12
        assert form.digits.count("P") > len(form.prefix)
        assert set(form.digits) <= set("PCV")
