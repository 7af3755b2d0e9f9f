"""The date a food keeps until, in the words and the form the law gives: the coarsest form that says the very same day.

Regulation (EU) 1169/2011, Article 24 and Annex X; for the US 9 CFR 317.8(b)(32).
"""

from __future__ import annotations

import calendar
import datetime as dt
from dataclasses import dataclass
from typing import Literal

from labelsvc.declaration.context import labelling_rule
from labelsvc.declaration.words import Words, words_of
from labelsvc.errors import InputError
from labelsvc.rules.load import rules_of

DateKind = Literal["best_before", "use_by"]


@dataclass(frozen=True)
class DateLine:
    """A date as printed.

    Args:
        text: words and date.
        shows_day: whether day and month are shown, uncoded; then the law asks for no lot code beside it.
    """

    text: str
    shows_day: bool


def date_line(kind: DateKind, packed_on: dt.date, date: dt.date, language: str, market: str = "eu") -> DateLine:
    """Return the date of minimum durability or the use-by date as printed.

    Args:
        kind: ``best_before`` or ``use_by``.
        packed_on: the day the life is counted from.
        date: the last day of it.
        language: of the label.
        market: ``eu``, ``gb`` or ``us``.

    Returns:
        A best-before date of more than three months that falls on the last day of a month is printed as the end of that
        month, one of more than eighteen months on 31 December as the end of that year; every other date with its day, so
        that rounding never makes a date later. A use-by date always shows its day.

    Raises:
        InputError: the date is before the packing day, or kind, language or market is not known.

    Source: Regulation (EU) 1169/2011, Annex X points 1 and 2.
    """
    if kind not in ("best_before", "use_by"):
        raise InputError("kind", "best_before or use_by", str(kind))
    if date < packed_on:
        raise InputError("date", f"a day from {packed_on.isoformat()} on", date.isoformat())
    words = words_of(language)
    rules_of(market, packed_on)  # refuses a market we do not know
    if market == "us":
        return DateLine(f"{words['dates'][f'us_{kind}']} {_day(date, words, 'us_day')}", shows_day=True)
    if kind == "best_before":
        end = _end_form(packed_on, date, words, market)
        if end is not None:
            return DateLine(f"{words['dates']['best_before_end']} {end}", shows_day=False)
    return DateLine(f"{words['dates'][kind]} {_day(date, words, 'day')}", shows_day=True)


def date_elsewhere(kind: DateKind, where: str, language: str) -> str:
    """Return the words that point to the date elsewhere on the pack, such as ``best before - see base of pack``."""
    return f"{words_of(language)['dates'][kind]} - {where}"


def is_lot_code_needed(date: DateLine, market: str, on: dt.date) -> bool:
    """Tell whether the law asks for a lot code beside the date (Directive 2011/91/EU, Article 5)."""
    labelling_rule(rules_of(market, on), "lot_waived")
    return not date.shows_day


def months_after(day: dt.date, months: int) -> dt.date:
    """Return the same day some months later, or the last day of that month where it is shorter."""
    years, month = divmod(day.month - 1 + months, 12)
    year = day.year + years
    return dt.date(year, month + 1, min(day.day, calendar.monthrange(year, month + 1)[1]))


def _end_form(packed_on: dt.date, date: dt.date, words: Words, market: str) -> str | None:
    table = labelling_rule(rules_of(market, packed_on), "date_form").table
    if date <= months_after(packed_on, table[0]["under_months"]):  # exactly three months: a gap in the text, so the day
        return None
    if date.day != calendar.monthrange(date.year, date.month)[1]:
        return None
    if date.month == 12 and date > months_after(packed_on, table[1]["up_to_months"]):
        return str(date.year)
    return str(words["dates"]["month"].format(month=words["dates"]["months"][date.month - 1], year=date.year))


def day_said(date: dt.date, language: str) -> str:
    """Return a day with its month in letters: 05/06 means two different days.

    >>> day_said(dt.date(2026, 5, 1), "fr")
    '1er mai 2026'
    """
    return _day(date, words_of(language), "day")


def _day(date: dt.date, words: Words, pattern: str) -> str:
    dates = words["dates"]
    day = dates.get("first_day", "1") if date.day == 1 else date.day
    return str(dates[pattern].format(day=day, month=dates["months"][date.month - 1], year=date.year))
