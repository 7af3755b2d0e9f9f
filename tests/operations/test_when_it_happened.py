"""Days are days of the workshop's time zone; the ledger keeps instants in UTC."""

import datetime as dt
from zoneinfo import ZoneInfo

import pytest

from labelsvc.errors import InputError
from labelsvc.operations.when import bounds, happened, instant

PARIS, AUCKLAND = ZoneInfo("Europe/Paris"), ZoneInfo("Pacific/Auckland")
NOW = dt.datetime(2026, 11, 25, 9, 30, tzinfo=dt.UTC)


def test_happened_when_nothing_is_said_then_now():
    assert happened(None, NOW, PARIS) == ("2026-11-25T09:30:00.000000Z", dt.date(2026, 11, 25))


def test_happened_when_it_is_late_in_the_evening_utc_then_the_day_is_the_workshops():
    # 22:30 UTC are 23:30 in Paris, still the 25th, and 11:30 of the 26th in Auckland (UTC + 13 in summer).
    late = dt.datetime(2026, 11, 25, 22, 30, tzinfo=dt.UTC)
    assert happened(None, late, PARIS)[1] == dt.date(2026, 11, 25)
    assert happened(None, late, AUCKLAND)[1] == dt.date(2026, 11, 26)


def test_happened_when_a_past_day_is_said_then_the_first_moment_that_is_that_day_there_and_in_utc():
    # In July Paris is two hours ahead of UTC, New York four hours behind.
    assert happened("2026-07-01", NOW, PARIS) == ("2026-07-01T00:00:00.000000Z", dt.date(2026, 7, 1))
    assert happened("2026-07-01", NOW, ZoneInfo("America/New_York")) == ("2026-07-01T04:00:00.000000Z", dt.date(2026, 7, 1))


def test_bounds_of_a_day_are_the_midnights_of_the_workshop():
    assert bounds(dt.date(2026, 7, 1), PARIS) == ("2026-06-30T22:00:00.000000Z", "2026-07-01T22:00:00.000000Z")


def test_happened_when_today_is_said_then_now():
    assert happened("2026-11-25", NOW, PARIS)[0] == instant(NOW)


def test_happened_when_a_time_without_offset_is_said_then_it_is_the_workshops():
    # In March, before the clocks change, Paris is one hour ahead of UTC.
    assert happened("2026-03-02T08:15", NOW, PARIS) == ("2026-03-02T07:15:00.000000Z", dt.date(2026, 3, 2))


def test_happened_when_a_time_with_offset_is_said_then_the_day_is_the_workshops():
    assert happened("2026-03-01T23:30:00+00:00", NOW, PARIS)[1] == dt.date(2026, 3, 2)


@pytest.mark.parametrize(("given", "expected"), [
    ("2026-11-26", "no later than today, 2026-11-25"),
    ("1066-10-14", "a day of this century"),
    ("2026-02-30", "a day such as 2026-03-02 or a time such as 2026-03-02T08:15"),
    ("02/03/2026", "a day such as 2026-03-02 or a time such as 2026-03-02T08:15"),
    ("yesterday", "a day such as 2026-03-02 or a time such as 2026-03-02T08:15"),
])  # fmt: skip
def test_happened_when_it_is_no_day_or_to_come_then_an_error_says_so(given: str, expected: str):
    with pytest.raises(InputError) as caught:
        happened(given, NOW, PARIS)
    assert caught.value.message == f"at: expected {expected}, got {given}"


@pytest.mark.parametrize("at", ["0001-01-01", "9999-12-31", "0001-01-01T00:00", "9999-12-31T23:59"])
def test_a_day_at_an_end_of_the_calendar_is_an_error_where_it_happened_and_no_error_where_it_is_looked_for(shop, at):
    with pytest.raises(InputError, match="at: expected a day of this century"):
        happened(at, NOW, PARIS)
    with pytest.raises(InputError, match="from: expected a day of this century"):
        shop.record("incident", what="warm", place="room 1", **{"from": at})
    for zone in (PARIS, AUCKLAND, ZoneInfo("America/New_York")):
        begins, ends = bounds(dt.date.fromisoformat(at[:10]), zone)
        assert begins < ends
