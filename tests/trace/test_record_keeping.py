"""How long a record is kept: 9 CFR 320.3(a), read."""

import datetime as dt

import published
import pytest

from labelsvc.rules.load import rules_of
from labelsvc.trace.record_keeping import kept_until

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
