"""How long it must stay on record who got something: the law's least for each market, from dated and cited rules."""

from __future__ import annotations

import calendar
import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

from labelsvc.rules.load import Rule, rules_of

LAST_MONTH, LAST_DAY = 12, 31
_MONTHS = {"months": 1, "years": 12}


@dataclass(frozen=True)
class Least:
    """What one market asks for.

    Args:
        market: eu, gb or us.
        rule: that asks for it.
        until: first day on which it asks no more.
    """

    market: str
    rule: Rule
    until: dt.date


def least(markets: Iterable[str], last_day: dt.date, *, is_business: bool, shelf_life_days: int, on: dt.date) -> list[Least]:
    """Return how long each market asks to keep what was last written down of a buyer.

    Args:
        markets: in which the workshop sells; those without a rule are left out.
        last_day: on which the buyer was last named.
        is_business: whether the buyer is a business; for private persons some markets ask for less.
        shelf_life_days: the longest of the workshop's products.
        on: the day whose rules count.
    """
    found = []
    for market in markets:
        rules = rules_of(market, on)
        private = None if is_business else rules.get(f"{market}.records.kept_private")
        rule = private or rules.get(f"{market}.records.kept")
        if rule is not None and rule.value is not None:
            found.append(Least(market, rule, _free_from(rule, last_day, shelf_life_days)))
    return found


def _free_from(rule: Rule, last_day: dt.date, shelf_life_days: int) -> dt.date:
    if (rule.basis or "").startswith("after 31 December"):
        return kept_until(last_day, rule) + dt.timedelta(days=1)
    begins = last_day + dt.timedelta(days=shelf_life_days if rule.basis == "after the shelf life" else 0)
    return months_after(begins, int(rule.value or 0) * _MONTHS[rule.unit or "months"])


def kept_until(transaction: dt.date, rule: Rule) -> dt.date:
    """Return the last day on which the record of a transaction must still be there.

    Args:
        transaction: the day of it.
        rule: whole years after 31 December of that year, such as ``us.records.kept`` (9 CFR 320.3(a)).
    """
    return dt.date(transaction.year + int(rule.value or 0), LAST_MONTH, LAST_DAY)


def months_after(day: dt.date, months: int) -> dt.date:
    """Return the same day some months later; the last of the month where that month is shorter.

    >>> months_after(dt.date(2026, 8, 31), 6)
    datetime.date(2027, 2, 28)
    """
    year, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    return dt.date(year, month + 1, min(day.day, calendar.monthrange(year, month + 1)[1]))
