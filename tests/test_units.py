"""Exact weights and numbers: what is read, what is refused, and how things are shared out."""

from decimal import Decimal, localcontext

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labelsvc.errors import UnitError
from labelsvc.units import Mass, decimal, grams_text, plain, ratio, round_half_up, share_out


@pytest.mark.parametrize(
    ("text", "grams"),
    [
        ("638 g", "638"),
        ("2.5 kg", "2500"),
        ("2,5 kg", "2500"),
        ("250 mg", "0.25"),
        ("1 oz", "28.349523125"),  # NIST SP 811: 1 lb = 453.59237 g, 1 oz = 1/16 lb
        ("1 lb", "453.59237"),
        ("1 lb 4 oz", "566.9904625"),  # 453.59237 * 1.25
        ("  3.2OZ ", "90.718474"),  # 28.349523125 * 3.2
        ("0 g", "0"),
        ("20000 kg", "20000000"),
    ],
)
def test_parse_when_a_weight_has_its_unit_then_is_exact(text, grams):
    assert Mass.parse(text).grams == Decimal(grams)


@pytest.mark.parametrize(
    "text",
    ["638", "g", "", "1 kg 4 oz", "1,200 g", "-5 g", "20001 kg", "1e3 g", "٣ g", ".5 g", "5 st", "1 lb -4 oz", 638, 1.5, None],
)
def test_parse_when_it_is_no_weight_then_names_field_and_value(text):
    with pytest.raises(UnitError) as caught:
        Mass.parse(text, "pieces[1].weight")
    assert caught.value.field == "pieces[1].weight"
    assert str(text) in caught.value.message


def test_parse_when_it_is_a_mass_already_then_is_the_same():
    mass = Mass.parse("5 g")
    assert Mass.parse(mass) is mass


@pytest.mark.parametrize("grams", [Decimal(-1), Decimal("NaN"), Decimal("Infinity"), 5])
def test_mass_when_built_from_nonsense_then_refuses(grams):
    with pytest.raises(UnitError):
        Mass(grams)


def test_milligrams_when_half_way_then_goes_to_even():
    assert [Mass(Decimal(text)).milligrams for text in ("0.0005", "0.0015", "1.2345")] == [0, 2, 1234]
    assert Mass.from_milligrams(1500).grams == Decimal("1.5")


def test_mass_when_compared_added_and_shown_then_behaves_as_a_weight():
    assert Mass.parse("1 kg") > Mass.parse("999 g")
    assert Mass.parse("1 kg") == Mass.parse("1000 g")
    assert str(Mass.parse("1 kg") + Mass.parse("0.50 g")) == "1000.5 g"


def test_parse_when_sixteen_ounces_then_is_one_pound():
    assert Mass.parse("16 oz") == Mass.parse("1 lb") == Mass.parse("453.59237 g")


@pytest.mark.parametrize(("value", "number"), [("2.5", "2.5"), (3, "3"), (" 0.60 ", "0.60"), (Decimal("1.1"), "1.1")])
def test_decimal_when_text_or_whole_number_then_is_exact(value, number):
    assert str(decimal(value, "percent")) == number


@pytest.mark.parametrize("value", [2.5, True, None, "2,5", "1e3", "abc", "", "-1", "٣", [1]])
def test_decimal_when_float_or_no_number_then_refuses(value):
    with pytest.raises(UnitError) as caught:
        decimal(value, "percent")
    assert caught.value.field == "percent"


def test_decimal_when_out_of_range_then_says_the_range():
    with pytest.raises(UnitError, match=r"percent: expected a number of at most 100, got 100\.1"):
        decimal("100.1", "percent", maximum=100)
    assert decimal("-18", "degrees", minimum=None) == -18


@pytest.mark.parametrize(
    ("value", "text"), [("1.50", "1.5"), ("1200", "1200"), ("0.00", "0"), ("1E+3", "1000"), ("1E-7", "0.0000001")]
)
def test_plain_when_shown_then_has_no_exponent_and_no_trailing_zeros(value, text):
    assert plain(Decimal(value)) == text


def test_grams_text_when_whole_milligrams_then_is_exact_grams():
    assert [grams_text(value) for value in (1234500, 0, -1)] == ["1234.5", "0", "-0.001"]


def test_round_half_up_when_half_way_then_goes_away_from_zero():
    assert [str(round_half_up(Decimal(text), 1)) for text in ("0.25", "0.35", "-0.25")] == ["0.3", "0.4", "-0.3"]


@given(st.integers(-(10**9), 10**9), st.lists(st.integers(0, 10**7), min_size=1, max_size=12).filter(any))
def test_share_out_when_any_total_and_weights_then_the_sum_holds_and_shares_are_fair(total, weights):
    shares = share_out(total, weights)
    assert sum(shares) == total
    for share, weight in zip(shares, weights, strict=True):
        assert abs(share * sum(weights) - total * weight) < sum(weights)


@pytest.mark.parametrize("weights", [[0, 0], [1, -1, 3], []])
def test_share_out_when_no_weight_counts_then_refuses(weights):
    with pytest.raises(ValueError, match="weights must be at least 0 and not all 0"):
        share_out(10, weights)


def test_ratio_when_the_context_is_coarse_then_keeps_its_own_digits():
    with localcontext() as context:
        context.prec = 3
        assert ratio(1, 3) == Decimal("0." + "3" * 28)
        assert ratio(1, 3, 5) == Decimal("0.33333")
