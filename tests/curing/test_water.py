"""The contract ``water``: an estimate from salt alone."""

from decimal import Decimal

import pytest
from published import as_printed, cases

from labelsvc.curing.water import compute_water, water_activity
from labelsvc.errors import InputError


@pytest.mark.parametrize("case", cases("water"), ids=lambda case: case["id"])
def test_water_when_worked_by_hand_then_gives_the_printed_numbers(case):
    answer = compute_water(case["input"])
    for name, published in case["published"].items():
        assert as_printed(answer[name], published) == Decimal(published), name


@pytest.mark.parametrize("case", cases("brine"), ids=lambda case: case["molality"])
def test_water_activity_when_tabulated_then_agrees(case):
    # the table prints brine to 0.01 %, which moves the activity by up to 0.0001
    assert water_activity(float(case["brine_percent"])) == pytest.approx(float(case["water_activity"]), abs=1.1e-4)


@pytest.mark.parametrize("case", cases("anchor"), ids=lambda case: case["place"])
def test_water_activity_when_measured_by_others_then_is_close(case):
    assert water_activity(float(case["brine_percent"])) == pytest.approx(float(case["water_activity"]), abs=0.0025)


def test_water_activity_when_products_were_measured_then_salt_alone_reads_high():
    for row in cases("measured")[0]["rows"]:
        # 0.0015: the printed brine has one decimal, half of it moves the activity by 0.0005, and both sides are rounded
        assert water_activity(float(row["brine_percent"])) == pytest.approx(float(row["salt_only"]), abs=0.0015)
        assert float(row["measured"]) < water_activity(float(row["brine_percent"]))


def test_water_activity_when_compared_with_the_published_quick_fit_then_agrees():
    for brine in (0.5, 5, 10, 15, 20, 26):
        fit = 0.9999 - 5.569e-3 * brine - 5.817e-5 * brine**2 - 3.237e-6 * brine**3
        # its coefficients are printed with four figures, worth 0.0001
        assert water_activity(brine) == pytest.approx(fit, abs=1e-4)


def test_water_activity_when_16_per_cent_then_is_per_brine_and_not_per_water():
    # 16 g in 100 g of brine: between 14.92 % (0.8931) and 18.95 % (0.8515) of the table, printed 0.883
    assert water_activity(16) == pytest.approx(0.883, abs=5e-4)
    # 16 g in 100 g of water is 2.738 mol/kg: between 2 (0.9315) and 3 (0.8931) in a straight line 0.9032; a published list
    # prints 0.90 for "16 %"
    assert water_activity(100 * 16 / 116) == pytest.approx(0.9032, abs=1e-3)


def test_water_when_there_is_no_salt_then_the_activity_is_one():
    assert compute_water({"finished_water_percent": "60", "finished_salt_percent": "0"})["water_activity"] == "1"


def test_water_when_salt_is_more_than_dissolves_then_is_capped_at_saturation():
    answer = compute_water({"finished_water_percent": "10", "finished_salt_percent": "8"})
    assert answer["water_phase_salt_percent"] == "26.4"
    assert Decimal("0.75") < Decimal(answer["water_activity"]) < Decimal("0.757")
    assert answer["finished_salt_percent"] == "8"
    assert {finding["rule"] for finding in answer["findings"]} == {"curing.water_is_estimate", "curing.brine_saturated"}


def test_water_when_asked_then_says_that_it_is_never_a_release_test():
    answer = compute_water({"finished_water_percent": "50", "finished_salt_percent": "4"})
    assert "never a release test" in answer["findings"][0]["message"]


def test_water_when_both_bases_describe_one_piece_then_they_agree():
    # water 70, salt 3, loss 35: left 70 - 35 - 3 = 32 of 65 -> 49.2308 %; salt 3 / 65 = 4.6154 %
    green = compute_water({"water_percent": "70", "salt_percent": "3", "loss_percent": "35"})
    finished = compute_water({"finished_water_percent": "49.230769", "finished_salt_percent": "4.615385"})
    assert green["water_activity"] == finished["water_activity"]
    assert green["finished_salt_percent"] == finished["finished_salt_percent"] == "4.615"


@pytest.mark.parametrize(
    ("request_", "field"),
    [
        ({"finished_water_percent": "97", "finished_salt_percent": "4"}, "finished_salt_percent"),
        ({"finished_water_percent": "0", "finished_salt_percent": "4"}, "finished_water_percent"),
        ({"finished_water_percent": "50"}, "finished_salt_percent"),
        ({"finished_water_percent": 50.0, "finished_salt_percent": "4"}, "finished_water_percent"),
        ({"water_percent": "22.2", "salt_percent": "2.75", "loss_percent": "30"}, "loss_percent"),
        ({"water_percent": "50", "salt_percent": "3", "loss_percent": "47"}, "loss_percent"),
        ({"water_percent": "50", "salt_percent": "3"}, "loss_percent"),
        (
            {"water_percent": "50", "salt_percent": "3", "loss_percent": "20", "finished_salt_percent": "4"},
            "finished_salt_percent",
        ),
        ({}, "finished_water_percent"),
        ("water", "water"),
    ],
)
def test_water_when_impossible_or_wrong_then_the_error_names_the_field(request_, field):
    with pytest.raises(InputError) as caught:
        compute_water(request_)
    assert caught.value.field == field
