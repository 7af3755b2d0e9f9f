"""Too little, and what goes wrong without nitrite: just under, at and over; what was not entered is called unchecked.

Salt: makers cure by weight with 2 to 3.5 % (practice). 15.6 °C: FSIS counts degree-hours of S. aureus above 60 °F. 25 days:
common practice, no source (the days 9 CFR 319.106 asks of a shoulder).
"""

import datetime as dt
from decimal import Decimal

import pytest

from labelsvc.curing.amounts import Ingoing
from labelsvc.curing.ingoing import compute_ingoing
from labelsvc.curing.salts import SALT, SODIUM_NITRATE, SODIUM_NITRITE
from labelsvc.curing.too_little import check_too_little

DAY = dt.date(2026, 3, 2)
NITRITE, NITRATE = (SODIUM_NITRITE, Decimal(100)), (SODIUM_NITRATE, Decimal(100))


def cure(salt="2.5", *agents, **more):
    return Ingoing(((SALT, Decimal(salt) * 10_000), *agents), **more)


def said(ingoing, **more):
    return {finding.rule: finding.severity for finding in check_too_little(ingoing, DAY, **more)}


@pytest.mark.parametrize(("salt", "warns"), [("1.99", True), ("2", False), ("2.01", False)])
def test_salt_under_two_percent_warns(salt, warns):
    assert ("practice.salt.least" in said(cure(salt, NITRITE))) is warns


def test_too_little_warns_and_is_over_nothing():
    findings = [*check_too_little(cure("1", NITRITE), DAY), *check_too_little(cure("2.5", NITRATE), DAY, days=3)]
    assert [(one.severity, one.exceeded) for one in findings] == [("warn", False)] * 2


def test_salt_of_an_excess_cure_is_unchecked():
    assert said(cure("8", NITRITE, salt_is_known=False, upper_bound=True)) == {"curing.salt_unchecked": "note"}


@pytest.mark.parametrize(
    ("days", "rule"),
    [(24, "practice.nitrate_alone.days"), (25, None), (26, None), (None, "curing.nitrate_alone_unchecked")],
)
def test_nitrate_alone_in_a_short_cure_warns(days, rule):
    assert list(said(cure("2.5", NITRATE), days=days)) == ([rule] if rule else [])


def test_nitrate_beside_nitrite_does_not_warn():
    assert said(cure("2.5", NITRITE, NITRATE), days=5) == {}


@pytest.mark.parametrize(("degrees", "warns"), [("15.5", False), ("15.6", False), ("15.7", True)])
def test_warm_cure_without_nitrite_warns(degrees, warns):
    found = said(cure(), temperature_c=Decimal(degrees), is_sealed=False)
    assert found == ({"practice.no_nitrite.temperature": "warn"} if warns else {})


def test_sealed_bag_without_nitrite_warns_and_with_nitrite_does_not():
    assert said(cure(), temperature_c=Decimal(4), is_sealed=True) == {"practice.no_nitrite.sealed": "warn"}
    assert said(cure("2.5", NITRITE), temperature_c=Decimal(4), is_sealed=True) == {}


def test_what_was_not_entered_is_called_unchecked():
    assert said(cure()) == {"curing.temperature_unchecked": "note", "curing.bag_unchecked": "note"}


def test_compute_ingoing_takes_days_temperature_and_bag():
    ask = {"market": "eu", "class": "non_heat_treated", "method": "dry", "on": "2026-03-02", "green_weight": "1 kg",
           "mix": [{"name": "salt", "weight": "25 g"}], "temperature_c": "18", "sealed": True}  # fmt: skip
    rules = [finding["rule"] for finding in compute_ingoing(ask)["findings"]]
    assert {"practice.no_nitrite.temperature", "practice.no_nitrite.sealed"} <= set(rules)
