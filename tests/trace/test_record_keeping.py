"""How long a record is kept: 9 CFR 320.3(a), read."""

import datetime as dt

import published
import pytest

from labelsvc.rules.load import rules_of
from labelsvc.trace.record_keeping import kept_until, least

RULE = rules_of("us", dt.date(2026, 1, 5))["us.records.kept"]


@pytest.mark.parametrize("case", published.cases("kept"), ids=lambda case: case["id"])
def test_kept_until_when_published_then_that_day(case):
    assert kept_until(case["transaction"], RULE) == case["until"]


@pytest.mark.parametrize(
    ("transaction", "until"),
    [(dt.date(2024, 12, 31), dt.date(2026, 12, 31)), (dt.date(2025, 1, 1), dt.date(2027, 12, 31))],
)
def test_kept_until_when_the_year_turns_then_a_year_more(transaction, until):
    assert kept_until(transaction, RULE) == until


SOLD = dt.date(2026, 8, 31)


@pytest.mark.parametrize(
    ("market", "is_business", "until"),
    [
        ("eu", True, "2031-08-31"),  # guidance on (EC) 178/2002, Art 18: five years after delivery, second hand
        ("eu", False, "2027-02-28"),  # the same: six months where it went to the final consumer
        ("gb", True, "2027-10-30"),  # the food authority's advice: life (60 days, to 30 October 2026) and twelve months
        ("us", True, "2029-01-01"),  # 9 CFR 320.3(a): the day after two years after 31 December of the year
    ],
)
def test_buyer_when_last_sold_to_then_kept_for_the_least_time_of_the_market(market, is_business, until):
    (found,) = least([market], SOLD, is_business=is_business, shelf_life_days=60, on=dt.date(2026, 11, 25))
    assert found.until.isoformat() == until


def test_guidance_when_it_was_not_there_yet_then_no_time_follows():
    eve, day = dt.date(2010, 1, 25), dt.date(2010, 1, 26)
    assert least(["eu"], SOLD, is_business=True, shelf_life_days=60, on=eve) == []
    assert len(least(["eu"], SOLD, is_business=True, shelf_life_days=60, on=day)) == 1
