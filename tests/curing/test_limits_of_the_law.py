"""Every limit of curing salts, from the tables of the law: just under, at, just over; the day before a change and the day.

The figures stand in ``fixtures/vectors/limits_of_the_law.toml``, copied from the texts; a limit in our rules that has no row
there fails here, so that none is without its boundary.
"""

import datetime as dt
from decimal import Decimal
from typing import Any

import published
import pytest

from labelsvc.curing.amounts import Ingoing
from labelsvc.curing.limits import check_limits
from labelsvc.curing.salts import IONS, PURE
from labelsvc.facts import Measured
from labelsvc.rules.load import MARKETS, all_rules

FIRST = {"eu": dt.date(2013, 6, 1), "gb": dt.date(2013, 6, 1), "us": dt.date(2000, 1, 24)}  # the first day of the tables
TODAY = dt.date(2026, 11, 25)
CHANGED = ("eu",)  # where a row with a last day ended on it; Great Britain did not follow
STEP = Decimal("0.0001")
SUBSTANCES = {one.name: one for one in (*PURE, *IONS)}
HANDBOOK = ".handbook"  # the same limits as the handbook rounds them down: a warning of its own, tested in test_limits.py


def rows() -> list[tuple[str, str, dict[str, Any]]]:
    """One row for each market and class."""
    return [(market, name, row) for row in published.cases("limit") for market in row["markets"] for name in row["classes"]]


def days(market: str, row: dict[str, Any]) -> tuple[dt.date, dt.date]:
    """First and last day on which a row counts, or today."""
    last = row.get("last", TODAY) if market in CHANGED else TODAY
    return row.get("first", FIRST[market]), last


def found(market: str, name: str, row: dict[str, Any], amount: Decimal, on: dt.date) -> list[dict[str, Any]]:
    """What the class says of an amount to the row's agent: added, or measured in the finished product."""
    agent, kind = row["what"].rsplit(" ", 1)
    put_in = Ingoing(((SUBSTANCES[row["as"]], amount),)) if kind == "added" and amount else Ingoing(())
    measured = [Measured(f"residual_{agent}", amount, row["as"])] if kind == "residual" else []
    rules = {f"{market}.{agent.replace(' ', '_')}.{name}{end}" for end in ("", ".residual", ".finished")}
    said = check_limits(put_in, market, name, on, measured=measured)
    return [one.as_json() for one in said if one.rule in rules and one.found is not None]


@pytest.mark.parametrize(("market", "name", "row"), rows(), ids=lambda one: one["id"] if isinstance(one, dict) else one)
def test_limit_when_just_under_at_and_just_over_then_only_over_is_exceeded(market: str, name: str, row: dict[str, Any]) -> None:
    figure = Decimal(row["figure"])
    for on in days(market, row):
        under = found(market, name, row, max(figure - STEP, Decimal(0)), on)
        at = found(market, name, row, figure, on)
        (over,) = [one for one in found(market, name, row, figure + STEP, on) if one["exceeded"]]
        assert not any(one["exceeded"] for one in (*under, *at))
        assert (over["severity"], Decimal(over["limit"])) == ("stop", figure)
        assert over["known"] in ("read", "quoted")


CHANGES = [(name, row) for market, name, row in rows() if market in CHANGED and "last" in row]


@pytest.mark.parametrize(("name", "row"), CHANGES, ids=lambda one: one["id"] if isinstance(one, dict) else one)
def test_limit_when_the_law_changes_then_the_old_figure_counts_to_its_last_day_and_no_more(
    name: str, row: dict[str, Any]
) -> None:
    over = Decimal(row["figure"]) + STEP
    last, after = row["last"], row["last"] + dt.timedelta(days=1)
    old = {(one["rule"], one["citation"]) for one in found("eu", name, row, over, last)}
    new = {(one["rule"], one["citation"]) for one in found("eu", name, row, over, after)}
    assert old
    assert not old & new


def test_no_confirmed_limit_of_our_rules_is_without_a_row() -> None:
    ours = {
        (market, rule.subject, rule.id.split(".")[2], Decimal(rule.value), rule.begins)
        for market in MARKETS
        for rule in all_rules(market)
        if (rule.subject or "").endswith((" added", " residual")) and rule.known != "unconfirmed" and rule.value is not None
        if not rule.id.endswith(HANDBOOK)
    }
    law = {(market, row["what"], name, Decimal(row["figure"]), days(market, row)[0]) for market, name, row in rows()}
    assert ours == law
