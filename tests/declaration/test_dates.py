"""Dates as the law words them, against published cases and at the ends of its three spans."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from published import cases

from labelsvc.declaration.dates import date_elsewhere, date_line, is_lot_code_needed, months_after
from labelsvc.declaration.words import LANGUAGES
from labelsvc.errors import InputError


@pytest.mark.parametrize("case", cases("date"), ids=lambda case: case["id"])
def test_date_when_published_then_same_words(case: dict[str, Any]) -> None:
    line = date_line(case["kind"], case["packed_on"], case["date"], "en", case.get("market", "eu"))
    assert line.text == case["text"]
    assert is_lot_code_needed(line, "eu", dt.date(2026, 3, 2)) is case["lot_needed"]


@pytest.mark.parametrize(
    ("packed", "until", "text"),
    [
        ("2026-01-31", "2026-04-30", "best before 30 April 2026"),  # exactly three months
        ("2026-01-30", "2026-04-30", "best before 30 April 2026"),
        ("2026-01-29", "2026-04-30", "best before end April 2026"),  # a day over three months
        ("2026-01-29", "2026-05-30", "best before 30 May 2026"),  # not the month's last day: no coarser form says the same
        ("2025-06-30", "2026-12-31", "best before end 2026"),  # a day over eighteen months
        ("2025-07-01", "2026-12-31", "best before end December 2026"),
        ("2025-06-29", "2026-12-31", "best before end 2026"),
        ("2025-06-29", "2027-01-31", "best before end January 2027"),
    ],
)
def test_best_before_when_life_grows_then_the_coarsest_form_of_the_same_day(packed: str, until: str, text: str) -> None:
    assert date_line("best_before", dt.date.fromisoformat(packed), dt.date.fromisoformat(until), "en").text == text


def test_use_by_when_it_keeps_long_then_still_shows_its_day() -> None:
    line = date_line("use_by", dt.date(2025, 1, 1), dt.date(2026, 12, 31), "en")
    assert (line.text, line.shows_day) == ("use by 31 December 2026", True)


@pytest.mark.parametrize("case", cases("elsewhere"), ids=lambda case: case["id"])
def test_date_when_printed_elsewhere_then_pointed_to(case: dict[str, Any]) -> None:
    assert date_elsewhere(case["kind"], case["where"], "en") == case["text"]


def test_date_when_before_packing_or_of_no_kind_then_refused() -> None:
    with pytest.raises(InputError, match="expected a day from 2026-03-02 on, got 2026-03-01"):
        date_line("best_before", dt.date(2026, 3, 2), dt.date(2026, 3, 1), "en")
    with pytest.raises(InputError, match="expected best_before or use_by, got sell_by"):
        date_line("sell_by", dt.date(2026, 3, 2), dt.date(2026, 3, 3), "en")  # type: ignore[arg-type]


def test_months_after_when_the_month_is_shorter_then_its_last_day() -> None:
    assert months_after(dt.date(2026, 11, 30), 3) == dt.date(2027, 2, 28)


@given(st.dates(dt.date(2020, 1, 1), dt.date(2030, 1, 1)), st.integers(0, 900), st.sampled_from(LANGUAGES))
def test_best_before_then_year_is_shown_and_day_unless_the_month_ends(packed: dt.date, days: int, language: str) -> None:
    until = packed + dt.timedelta(days=days)
    line = date_line("best_before", packed, until, language)
    assert str(until.year) in line.text
    if not line.shows_day:
        assert (until + dt.timedelta(days=1)).day == 1
