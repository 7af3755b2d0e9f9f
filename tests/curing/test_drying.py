"""The contract ``drying``: a range that holds the truth four times in five, or an honest nothing."""

import math
import random
from decimal import Decimal

import pytest
from published import REQUESTS, as_printed, cases

from labelsvc.curing.drying import DryingRequest, compute_drying
from labelsvc.errors import InputError
from labelsvc.shape import read_shape
from labelsvc.units import Mass, plain

SERIES = cases("series")[0]


def weighings(pairs):
    return [{"day": day, "weight": f"{grams} g"} for day, grams in pairs]


def published(until):
    return weighings((day, grams) for day, grams in zip(SERIES["days"], SERIES["grams"], strict=True) if day <= until)


def ask(**fields):
    base = {"hang_weight": SERIES["hang_weight"], "target_loss_percent": SERIES["target_loss_percent"]}
    return {**base, "weighings": published(7), **fields}


def days(answer):
    return tuple(float(answer["ready_day"][name]) for name in ("low", "likely", "high"))


@pytest.mark.parametrize("one", cases("loss"), ids=lambda one: one["id"])
def test_drying_when_weighed_then_the_loss_is_the_published_one(one):
    asked = read_shape(DryingRequest, REQUESTS["loss"][1](one), "drying", strict=True)
    assert as_printed(plain(Decimal(asked.points[0][1]) * 100), one["loss_percent"]) == Decimal(one["loss_percent"])
    assert compute_drying(REQUESTS["loss"][1](one))["ready_day"] is not None


@pytest.mark.parametrize("one", cases("target"), ids=lambda one: one["id"])
def test_drying_when_at_the_published_target_weight_then_ready_and_just_above_not(one):
    at = REQUESTS["target"][1](one)
    heavier = f"{plain(Mass.parse(one['weight']).grams + Decimal('0.1'))} g"
    above = REQUESTS["target"][1]({**one, "weight": heavier})
    assert compute_drying(at)["ready_day"]["high"] == "30"
    assert compute_drying(above)["ready_day"] is None


@pytest.mark.parametrize("until", [3, 4, 5, 6, 7, 8, 10, 12, 14])
def test_drying_when_the_published_series_is_followed_then_the_range_holds_the_day(until):
    low, likely, high = days(compute_drying(ask(weighings=published(until))))
    assert low <= float(SERIES["ready_day"]) <= high
    assert low <= likely <= high


def test_drying_when_more_weighings_come_in_then_the_range_narrows():
    widths = [high - low for low, _, high in (days(compute_drying(ask(weighings=published(day)))) for day in (5, 10, 14))]
    assert widths[0] > widths[1] > widths[2]


def test_drying_when_the_target_is_passed_then_the_day_lies_between_two_weighings():
    # 28.5 % on day 15 and 31.5 % on day 18 (27.4 g a day): 30 % at 15 + 3 * (456 - 446.6) / (456 - 437) = 16.48
    assert days(compute_drying(ask(weighings=published(18)))) == (15, 16.5, 18)


@pytest.mark.parametrize("count", [0, 1])
def test_drying_when_there_are_too_few_weighings_then_gives_the_reason(count):
    answer = compute_drying(ask(weighings=published(7)[:count]))
    assert answer["ready_day"] is None
    assert "at least two days" in answer["reason"]


def test_drying_when_two_weighings_are_of_one_day_then_they_are_too_few():
    assert compute_drying(ask(weighings=weighings([(3, 600), (3, 601)])))["ready_day"] is None


def test_drying_when_the_piece_has_levelled_off_then_gives_the_reason():
    flat = weighings([(7, 940), (14, 885), (21, 850), (28, 838), (35, 834), (42, 833), (49, 833)])
    answer = compute_drying({"hang_weight": "1 kg", "target_loss_percent": "30", "weighings": flat})
    assert answer["ready_day"] is None
    assert "levelling off at about 16.7 % loss" in answer["reason"]


def test_drying_when_nothing_is_lost_then_gives_the_reason():
    answer = compute_drying(ask(weighings=weighings([(1, 638), (2, 640)])))
    assert answer == {"ready_day": None, "reason": "the piece has not lost weight since hanging, so no day can be foreseen"}


def test_drying_when_the_weighings_scatter_then_gives_no_day():
    wild = weighings([(1, 900), (2, 1005), (3, 1000), (4, 800)])
    answer = compute_drying({"hang_weight": "1 kg", "target_loss_percent": "30", "weighings": wild})
    assert answer["ready_day"] is None
    assert "weigh again" in answer["reason"]


def test_drying_when_there_is_a_tare_then_only_the_net_weight_counts():
    gross = [(entry["day"], int(entry["weight"].split()[0]) + 62) for entry in published(10)]
    with_tare = compute_drying(ask(hang_weight="700 g", tare="62 g", weighings=weighings(gross)))
    assert with_tare == compute_drying(ask(weighings=published(10)))


def test_drying_when_the_order_of_weighings_changes_then_is_the_same():
    assert compute_drying(ask(weighings=published(8)[::-1])) == compute_drying(ask(weighings=published(8)))


def test_drying_when_many_pieces_are_simulated_then_the_range_holds_about_four_in_five():
    chance = random.Random(20)
    held = tried = 0
    for _ in range(120):
        target, ready = chance.uniform(0.2, 0.4), chance.uniform(12, 70)
        bend = chance.uniform(0.55, 0.95)
        end = chance.choice([None, target + chance.uniform(0.06, 0.3)])
        scale = 0.0 if end is None else -math.log(1 - target / end)
        interval = max(1, round(ready / chance.uniform(8, 16)))
        seen = range(interval, int(ready * chance.uniform(0.35, 0.8)) + 1, interval)
        losses = [
            (d, target * (d / ready) ** bend if end is None else end * (1 - math.exp(-scale * (d / ready) ** bend))) for d in seen
        ]
        noisy = weighings((d, round(1200 * (1 - loss + chance.gauss(0, 0.002)))) for d, loss in losses)
        answer = compute_drying({"hang_weight": "1200 g", "target_loss_percent": f"{100 * target:.4f}", "weighings": noisy})
        if answer["ready_day"] is not None:
            tried += 1
            low, _, high = days(answer)
            held += low <= ready <= high
    assert tried > 100
    assert held / tried > 0.75


@pytest.mark.parametrize(
    ("fields", "field"),
    [
        ({"hang_weight": "62 g", "tare": "62 g"}, "hang_weight"),
        ({"target_loss_percent": "100"}, "target_loss_percent"),
        ({"target_loss_percent": "0"}, "target_loss_percent"),
        ({"target_loss_percent": 30.5}, "target_loss_percent"),
        ({"weighings": [{"day": 1.5, "weight": "600 g"}]}, "weighings[0].day"),
        ({"weighings": [{"day": -1, "weight": "600 g"}]}, "weighings[0].day"),
        ({"weighings": [{"day": True, "weight": "600 g"}]}, "weighings[0].day"),
        ({"weighings": [{"day": 9999, "weight": "600 g"}]}, "weighings[0].day"),
        ({"weighings": [{"day": 1, "weight": "600"}]}, "weighings[0].weight"),
        ({"tare": "50 g", "weighings": [{"day": 1, "weight": "50 g"}]}, "weighings[0].weight"),
        ({"weighings": [{"weight": "600 g"}]}, "weighings[0].day"),
        ({"room": "cellar"}, "room"),
    ],
)
def test_drying_when_a_field_is_wrong_then_the_error_names_it(fields, field):
    with pytest.raises(InputError) as caught:
        compute_drying(ask(**fields))
    assert caught.value.field == field
