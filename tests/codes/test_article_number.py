"""Article numbers against published ones and against python-stdnum as outside judge."""

import re
import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from stdnum import ean

from labelsvc.codes.article_number import check_digit, ean13, gtin
from labelsvc.errors import CodeError

VECTORS = tomllib.loads((Path(__file__).parents[2] / "fixtures/vectors/gs1_check_digits.toml").read_text())["numbers"]


@pytest.mark.parametrize("number", [case["number"] for case in VECTORS])
def test_check_digit_of_a_published_number_fits(number):
    assert check_digit(number[:-1]) == number[-1]


@given(st.sampled_from([7, 11, 12, 13]).flatmap(lambda size: st.text("0123456789", min_size=size, max_size=size)))
def test_check_digit_agrees_with_an_independent_library(body):
    assert check_digit(body) == ean.calc_check_digit(body)
    assert gtin(body + check_digit(body)) == ean.validate(body + ean.calc_check_digit(body))


@given(st.integers(1, 10**10 - 1))
def test_number_for_the_own_shop_is_a_valid_ean13_in_the_restricted_range(item):
    symbol = ean13(None, item)
    assert ean.is_valid(symbol)
    assert symbol[:2] == "04"
    assert int(symbol[2:12]) == item


@pytest.mark.parametrize(
    ("own", "symbol"),
    [("9521234543213", "9521234543213"), ("09521234543213", "9521234543213"), ("012345678905", "0012345678905")],
)
def test_own_gtin_is_what_the_till_reads(own, symbol):
    assert ean13(own, 1) == symbol


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: gtin("9521234543214"), "gtin: expected a GTIN whose last digit is 3, got 9521234543214"),
        # 95212345432 from the right, x3 x1: 6+3+12+5+12+3+6+1+6+5+27 = 86, next ten 90, check 4
        (lambda: gtin("952123454321"), "gtin: expected a GTIN whose last digit is 4, got 952123454321"),
        (lambda: gtin("95212"), "gtin: expected a GTIN of 8, 12, 13 or 14 digits, got 95212"),
        (lambda: gtin("٩521234543213"), "gtin: expected a GTIN of 8, 12, 13 or 14 digits, got ٩521234543213"),
        (
            lambda: ean13("99521234543216", 1),
            "gtin: expected the GTIN of the single pack (13 digits or fewer), got 99521234543216",
        ),
        (lambda: ean13(None, 0), "item: expected an item number of at most ten digits, got 0"),
    ],
)
def test_wrong_number_is_refused_in_one_sentence(call, message):
    with pytest.raises(CodeError, match=f"^{re.escape(message)}$"):
        call()
