"""A hanging piece's record says when it will be ready, or why no day can be named."""

import datetime as dt
import re

from labelsvc.operations.batch import batch_record

STRUNG = dt.date(2026, 3, 20)


def _said(shop, piece):
    return [line for line in batch_record(shop.ledger, piece)["weights"] if "ready" in line]


def _weighed(shop, *, days_and_net, tare=20):
    piece = shop.hanging_piece(hung=f"{1000 + tare} g", tare=f"{tare} g")
    for day, net in days_and_net:
        shop.weigh(piece, f"{net + tare} g", at=(STRUNG + dt.timedelta(days=day)).isoformat())
    return piece


def test_the_range_holds_the_day_of_the_square_root_law(shop):
    """Moisture diffusing out of a solid goes with the square root of time at first (Fick): 5 % a root day, 30 % on day 36."""
    piece = _weighed(shop, days_and_net=[(4, 900), (9, 850), (16, 800), (25, 750)])
    (said,) = _said(shop, piece)
    assert said.endswith("an estimate from 5 weighings, never a release test")
    _likely, low, high = (dt.date.fromisoformat(day) for day in re.findall(r"\d{4}-\d\d-\d\d", said))
    assert low <= STRUNG + dt.timedelta(days=36) <= high


def test_one_weighing_names_no_day(shop):
    piece = _weighed(shop, days_and_net=[(5, 900)])
    (said,) = _said(shop, piece)
    assert said.startswith("when it will be ready: weigh the piece on at least two days after hanging")


def test_a_piece_that_weighs_little_enough_awaits_nothing(shop):
    assert _said(shop, _weighed(shop, days_and_net=[(20, 800), (40, 700)])) == []
