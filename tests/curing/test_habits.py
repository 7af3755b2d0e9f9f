"""Rules of thumb: the published numbers, the law and the emptiest and fullest spoon, and that nothing is promised."""

from decimal import Decimal

import pytest
from published import as_printed, cases

from labelsvc.curing.habits import HABITS, KNOWN, compute_habit, hanging_products
from labelsvc.errors import InputError

SPOON = {
    "habit": "by_the_spoon", "what": "saltpetre", "amount": "0.25", "measure": "teaspoon", "green_weight": "5 kg",
    "market": "gb", "class": "non_heat_treated", "on": "2026-01-05",
}  # fmt: skip
CURE = {
    **SPOON,
    "what": "curing_salt",
    "sodium_nitrite_percent": "6.25",
    "amount": "1",
    "market": "us",
    "class": "dry_cured_bacon",
}
ONE_OF_EACH = {
    "equal_volumes": {"habit": "equal_volumes", "amount": "1", "measure": "cup", "green_weight": "4 kg"},
    "by_the_spoon": SPOON,
    "days_in_cure": {"habit": "days_in_cure", "weight": "6 lb"},
    "weeks_hanging": {"habit": "weeks_hanging", "product": "neck", "weeks": "8", "green_weight": "1 kg"},
}


def reading(answer, what, unit=None):
    return next(one for one in answer["can_mean"] if one["what"] == what and unit in (None, one["unit"]))


def said(answer):
    return {finding["rule"].removeprefix("curing.habit."): finding for finding in answer["findings"]}


@pytest.mark.parametrize("case", cases("habit"), ids=lambda case: case["id"])
def test_habit_when_published_then_the_published_range(case):
    found = reading(compute_habit(case["ask"]), case["reading"], case.get("unit"))
    for side in ("least", "most"):
        assert as_printed(found[side], case[side]) == Decimal(case[side])


@pytest.mark.parametrize("habit", HABITS)
def test_habit_when_any_then_says_what_it_can_mean_cannot_tell_and_needs(habit):
    answer = compute_habit(ONE_OF_EACH[habit])
    assert (answer["habit"], answer["known"]) == (habit, KNOWN) == (habit, "common practice, no source")
    assert all(answer[part] for part in ("can_mean", "cannot_tell", "needs"))
    for one in answer["can_mean"]:
        assert Decimal(one["least"]) <= Decimal(one["most"])
        assert one["source"]


def test_equal_volumes_when_a_cup_of_each_then_salt_may_be_less_or_more_than_sugar():
    # salt 4 x 33.2 = 132.8 to 4 x 76.0 = 304 g, sugar 145 to 220 g; 132.8 / 220 = 0.60, 304 / 145 = 2.10; 304 / 4000 = 7.6 %
    answer = compute_habit(ONE_OF_EACH["equal_volumes"])
    assert (reading(answer, "salt")["least"], reading(answer, "salt")["most"]) == ("132.8", "304")
    assert (reading(answer, "sugar")["least"], reading(answer, "sugar")["most"]) == ("145", "220")
    between = reading(answer, "salt for each gram of sugar")
    assert (between["least"], between["most"]) == ("0.6", "2.1")
    assert reading(answer, "salt on the meat")["most"] == "7.6"


@pytest.mark.parametrize(("amount", "measure"), [("48", "teaspoon"), ("16", "tablespoon"), ("1", "cup")])
def test_equal_volumes_when_measured_otherwise_then_a_cup_is_16_tablespoons_and_48_teaspoons(amount, measure):
    asked = {**ONE_OF_EACH["equal_volumes"], "amount": amount, "measure": measure}
    assert compute_habit(asked)["can_mean"] == compute_habit(ONE_OF_EACH["equal_volumes"])["can_mean"]


def test_spoon_when_even_the_least_is_over_the_limit_then_says_so_with_the_rule():
    # the least, 1.125 g of potassium nitrate in 5 kg, is 189 as sodium nitrate: over 150
    found = said(compute_habit(SPOON))
    assert found["over_whichever_spoon"]["severity"] == "warn"
    assert found["gb.nitrate.non_heat_treated"]["exceeded"] is True
    assert "caution" in {rule.removeprefix("curing.") for rule in found}


def test_spoon_when_only_the_fullest_is_over_the_limit_then_nobody_can_tell():
    # 5.2 to 7.5 g of 6.25 % in 5 lb: 143 to 207 ppm, the limit is 200
    found = said(compute_habit({**CURE, "green_weight": "5 lb"}))
    assert found["may_be_over"]["severity"] == "warn"
    assert "206.6834 ppm" in found["may_be_over"]["message"]
    assert not any(finding["exceeded"] for finding in found.values())


def test_spoon_when_the_fullest_is_within_the_limit_then_it_is_still_no_scale():
    # 7.5 g of 6.25 % in 2.34375 kg is 200 ppm, at the limit; a gram less meat is over
    assert "within" in said(compute_habit({**CURE, "green_weight": "2343.75 g"}))
    assert "may_be_over" in said(compute_habit({**CURE, "green_weight": "2343.74 g"}))


def test_spoon_when_the_law_limits_only_what_is_left_then_unchecked_and_not_fine():
    found = said(compute_habit({**SPOON, "class": "dry_cured_ham"}))
    assert found["unchecked"]["severity"] == "warn"
    assert "within" not in found


def test_days_when_thickness_is_known_then_the_rules_by_thickness_speak_too():
    # 5.08 cm are 2 inches: 14 days; a radius of 1 inch is 4 quarters: 6 days. 4.53592 kg are 10 lb: 5, 15 to 20, 35 to 40 days
    answer = compute_habit({"habit": "days_in_cure", "weight": "10 lb", "thickness_cm": "5.08", "days": "14"})
    days = {one["what"]: (one["least"], one["most"]) for one in answer["can_mean"]}
    assert days["by 7 days an inch of thickness"] == ("14", "14")
    assert days["by a day for each quarter inch of radius, and 2 days"] == ("6", "6")
    assert days["by 1.5 days a pound for smaller pieces, 2 for hams"] == ("15", "20")
    assert days["by a day for 2 pounds in a box of salt"] == ("5", "5")
    assert days["by 3 days a kilogram in a box of salt"] == ("13.6", "13.6")
    assert said(answer)["days"]["message"].startswith("14 days are enough by 4 of 6 rules")


def test_days_when_in_a_box_of_salt_then_between_none_and_all_of_it():
    answer = compute_habit({"habit": "days_in_cure", "weight": "1 kg", "offered_salt": "400 g"})
    taken = reading(answer, "salt taken up")
    assert (taken["least"], taken["most"]) == ("0", "40")


@pytest.mark.parametrize(("weeks", "where"), [("6", "shorter than"), ("6.5", "among"), ("26", "longer than")])
def test_weeks_when_beside_those_of_others_then_said_and_proves_nothing(weeks, where):
    # others hang a neck 45 to 180 days: 6 weeks are 42, 6.5 are 45.5, 26 are 182
    answer = compute_habit({**ONE_OF_EACH["weeks_hanging"], "weeks": weeks, "salt_percent": "2.75"})
    assert f"weeks are {where} the 45 to 180 days" in said(answer)["weeks"]["message"]
    # 30 to 50 % lost of 1000 g: 500 to 700 g; 2.75 / 0.7 = 3.93, 2.75 / 0.5 = 5.5
    weight, salt = reading(answer, "weight at that loss"), reading(answer, "salt in it then, if none ran off")
    assert (weight["least"], weight["most"]) == ("500", "700")
    assert (salt["least"], salt["most"]) == ("3.93", "5.5")


def test_hanging_products_then_each_can_be_asked():
    for product in hanging_products():
        assert compute_habit({**ONE_OF_EACH["weeks_hanging"], "product": product})["can_mean"]


@pytest.mark.parametrize(
    ("asked", "message"),
    [
        ({}, "habit: expected one of equal_volumes, by_the_spoon, days_in_cure, weeks_hanging, got none"),
        ({"habit": ["x"]}, "habit: expected one of equal_volumes, by_the_spoon, days_in_cure, weeks_hanging, got ['x']"),
        ({**SPOON, "amount": 0}, "amount: expected a number above 0, got 0"),
        ({**SPOON, "measure": "ladle"}, "measure: expected one of teaspoon, tablespoon, cup, got ladle"),
        ({**SPOON, "sodium_nitrite_percent": "6"}, "sodium_nitrite_percent: expected no such field with saltpetre, got 6"),
        ({**CURE, "sodium_nitrite_percent": None}, "sodium_nitrite_percent: expected what the bag states, got none"),
        ({**SPOON, "green_weight": "1 cup"}, "green_weight: expected a weight from a scale, never a volume, got 1 cup"),
        ({**ONE_OF_EACH["weeks_hanging"], "product": "jowl of ox"}, f"product: expected one of {', '.join(hanging_products())}"),
    ],
)  # fmt: skip
def test_habit_when_it_cannot_be_then_the_error_names_the_field(asked, message):
    with pytest.raises(InputError) as caught:
        compute_habit(asked)
    assert caught.value.message.startswith(message)
