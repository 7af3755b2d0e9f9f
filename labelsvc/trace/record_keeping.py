"""How long the record of a transaction is kept."""

from __future__ import annotations

import datetime as dt

from labelsvc.rules.load import Rule

LAST_MONTH, LAST_DAY = 12, 31


def kept_until(transaction: dt.date, rule: Rule) -> dt.date:
    """Return the last day on which the record of a transaction must still be there.

    Args:
        transaction: the day of it.
        rule: whole years after 31 December of that year, such as ``us.records.kept`` (9 CFR 320.3(a)).
    """
    return dt.date(transaction.year + int(rule.value or 0), LAST_MONTH, LAST_DAY)
