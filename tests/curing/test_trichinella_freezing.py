"""Each row of the freezing table: as cold, as long and as thin as it asks, and a little less than that.

Implementing Regulation (EU) 2015/1375, Annex II, as set out in the French order of 10 July 1986 (the same three methods).
"""

import datetime as dt
from decimal import Decimal

import pytest

from labelsvc.curing.trichinella import status_at_receipt
from labelsvc.facts.making import Trichinella

DAY = dt.date(2026, 3, 2)
START = dt.datetime(2026, 1, 1, 8, tzinfo=dt.UTC)
ROOM = [  # method 1: 25 and 50 cm at -25 °C; method 2: 15 and 50 cm
    ("25", "-25", 240), ("50", "-25", 480), ("15", "-15", 480), ("15", "-23", 240), ("15", "-29", 144), ("50", "-15", 720),
    ("50", "-29", 288),
]  # fmt: skip
CORE = [("-18", 106), ("-21", 82), ("-23.5", 63), ("-26", 48), ("-29", 35), ("-32", 22), ("-35", 8), ("-37", Decimal("0.5"))]


def status(cm, celsius, minutes, method=None):
    end = (START + dt.timedelta(minutes=int(minutes))).isoformat()[:16]
    cold = Trichinella("frozen", method, Decimal(cm) if cm else None, Decimal(celsius), START.isoformat()[:16], end)
    return status_at_receipt(cold, DAY)


@pytest.mark.parametrize(("cm", "celsius", "hours"), ROOM)
def test_frozen_in_a_room_when_as_the_row_asks_then_frozen_and_a_minute_short_too_little(cm, celsius, hours):
    assert [status(cm, celsius, 60 * hours + more) for more in (-1, 0, 1)] == ["frozen_too_little", "frozen", "frozen"]


@pytest.mark.parametrize(("celsius", "hours"), CORE)
def test_frozen_to_the_core_when_as_the_row_asks_then_frozen_and_a_minute_short_too_little(celsius, hours):
    found = [status(None, celsius, 60 * hours + more, "core probe") for more in (-1, 0, 1)]
    assert found == ["frozen_too_little", "frozen", "frozen"]


@pytest.mark.parametrize(
    ("cm", "celsius", "hours", "found"),
    [
        ("15", "-14.9", 480, "frozen_too_little"),
        ("15", "-15", 480, "frozen"),
        ("15.1", "-15", 480, "frozen_too_little"),
        ("25", "-25", 240, "frozen"),
        ("25.1", "-25", 240, "frozen_too_little"),
        ("50", "-15", 720, "frozen"),
        ("50.1", "-37", 7200, "frozen_too_little"),  # above 50 cm not allowed
    ],
)
def test_frozen_in_a_room_when_warmer_or_thicker_than_the_row_then_too_little(cm, celsius, hours, found):
    assert status(cm, celsius, 60 * hours) == found


@pytest.mark.parametrize(("celsius", "found"), [("-17.9", "frozen_too_little"), ("-18", "frozen"), ("-18.1", "frozen")])
def test_frozen_to_the_core_when_warmer_than_any_row_then_too_little(celsius, found):
    assert status(None, celsius, 60 * 106, "core probe") == found
