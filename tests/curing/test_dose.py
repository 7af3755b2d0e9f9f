"""The contract ``dose``: what to weigh out, and what the scale can do to it."""

from decimal import Decimal

import pytest
from published import REQUESTS, cases

from labelsvc.curing.advice import CAUTION
from labelsvc.curing.dose import compute_dose
from labelsvc.curing.ingoing import compute_ingoing
from labelsvc.errors import InputError

PINK = {"name": "cure", "sodium_nitrite_percent": "6.25"}


def ask(**fields):
    base = {"market": "us", "class": "dry_cured", "on": "2026-01-05", "green_weight": "1 kg", "premix": PINK}
    return {**base, "targets": {"nitrite_ppm": "150", "salt_percent": "2.5"}, **fields}


def weighed(answer):
    return {line["name"]: line["weight"] for line in answer["weigh"]}


def rules_in(answer):
    return {finding["rule"]: finding["severity"] for finding in answer["findings"]}


@pytest.mark.parametrize("case", cases("dose") + cases("weigh"), ids=lambda case: case["id"])
def test_dose_when_published_then_gives_the_published_grams(case):
    answer = compute_dose(REQUESTS["dose"][1](case))
    found = weighed(answer)
    for name, weight in case["published"].items():
        assert found[name] == weight


# grams of premix per kg for a target, printed to 0.01 g: target / 1 000 000 / strength * 1000
@pytest.mark.parametrize(
    ("strength", "row"),
    [
        ("6.25", {"100": "1.60", "120": "1.92", "150": "2.40", "156.25": "2.50", "200": "3.20", "625": "10.00"}),
        ("5.88", {"100": "1.70", "120": "2.04", "150": "2.55", "156.25": "2.66", "200": "3.40", "625": "10.63"}),
        ("5.67", {"100": "1.76", "120": "2.12", "150": "2.65", "156.25": "2.76", "200": "3.53", "625": "11.02"}),
        ("0.6", {"100": "16.67", "120": "20.00", "150": "25.00", "156.25": "26.04", "200": "33.33"}),
        ("0.5", {"100": "20.00", "120": "24.00", "150": "30.00", "156.25": "31.25", "200": "40.00"}),
    ],
)
def test_dose_when_premix_strength_and_target_vary_then_follows_the_table(strength, row):
    for target, grams in row.items():
        premix = {"name": "cure", "sodium_nitrite_percent": strength}
        answer = compute_dose(ask(targets={"nitrite_ppm": target}, premix=premix))
        assert round(Decimal(weighed(answer)["cure"].removesuffix(" g")), 2) == Decimal(grams)


def test_dose_when_there_is_no_scale_step_then_ingoing_is_the_target_and_worst_too():
    answer = compute_dose(ask())
    assert answer["ingoing"]["nitrite"]["ppm_as_sodium_nitrite"] == "150"
    assert answer["ingoing"]["salt_percent"] == "2.5"
    assert answer["worst"] == {"nitrite_ppm_low": "150", "nitrite_ppm_high": "150"}


def test_dose_when_weighed_in_steps_then_worst_is_half_a_step_either_way():
    # 156 ppm of 6.25 % in 1 kg is 2.496 g; on a 0.1 g scale 2.5 g = 156.25; 2.45 g = 153.125; 2.55 g = 159.375
    answer = compute_dose(ask(targets={"nitrite_ppm": "156"}, scale_step="0.1 g"))
    assert weighed(answer) == {"cure": "2.5 g"}
    assert answer["ingoing"]["nitrite"]["ppm_as_sodium_nitrite"] == "156.25"
    assert answer["worst"] == {"nitrite_ppm_low": "153.125", "nitrite_ppm_high": "159.375"}
    assert "curing.scale_too_coarse" not in rules_in(answer)


def test_dose_when_the_scale_is_coarse_then_warns_and_offers_batch_or_weaker_premix():
    # 2.496 g on a 1 g scale is 2 g; 1.5 g = 93.75 ppm, 40 % under 156 (39.9)
    answer = compute_dose(ask(targets={"nitrite_ppm": "156"}, scale_step="1 g"))
    warned = next(finding for finding in answer["findings"] if finding["rule"] == "curing.scale_too_coarse")
    assert answer["worst"]["nitrite_ppm_low"] == "93.75"
    assert warned["severity"] == "warn"
    assert warned["found"] == "39.9"
    assert "larger batch" in warned["message"]
    assert "weaker premix" in warned["message"]


def test_dose_when_half_a_step_can_pass_the_limit_then_warns():
    # 200 ppm bacon on 1 kg: 3.2 g; 3.25 g = 203.125
    answer = compute_dose(ask(**{"class": "dry_cured_bacon"}, targets={"nitrite_ppm": "200"}, scale_step="0.1 g"))
    assert rules_in(answer)["curing.scale_over_limit"] == "warn"
    assert answer["worst"]["nitrite_ppm_high"] == "203.125"


def test_dose_when_rounding_up_would_pass_the_limit_then_rounds_down():
    # 200 ppm on 990 g: 3.168 g, nearest on 0.1 g is 3.2 g = 202.02 ppm, over 200; 3.1 g = 195.707
    answer = compute_dose(
        ask(**{"class": "dry_cured_bacon"}, green_weight="990 g", targets={"nitrite_ppm": "200"}, scale_step="0.1 g")
    )
    assert weighed(answer)["cure"] == "3.1 g"
    assert not [finding for finding in answer["findings"] if finding["severity"] == "stop"]


def test_dose_when_the_target_is_over_the_limit_then_stops():
    answer = compute_dose(ask(**{"class": "dry_cured_bacon"}, targets={"nitrite_ppm": "200.001"}))
    assert rules_in(answer)["us.nitrite.dry_cured_bacon"] == "stop"


def test_dose_when_the_premix_brings_nitrate_then_bacon_is_stopped():
    premix = {**PINK, "sodium_nitrate_percent": "4"}
    answer = compute_dose(ask(**{"class": "dry_cured_bacon"}, premix=premix))
    assert rules_in(answer)["us.nitrate.dry_cured_bacon"] == "stop"


def test_dose_when_the_skin_is_on_then_the_lower_limit_counts():
    answer = compute_dose(ask(**{"class": "dry_cured_bacon"}, skin_on=True, targets={"nitrite_ppm": "181"}))
    assert rules_in(answer)["us.nitrite.dry_cured_bacon"] == "stop"


def test_dose_when_the_premix_alone_is_saltier_than_the_target_then_says_so():
    # 25 g of 0.6 % carries 25 * 0.994 = 24.85 g of salt; the target of 2 % is 20 g
    premix = {"name": "nitrite salt", "sodium_nitrite_percent": "0.6"}
    answer = compute_dose(ask(premix=premix, targets={"nitrite_ppm": "150", "salt_percent": "2"}))
    over = next(finding for finding in answer["findings"] if finding["rule"] == "curing.salt_over_target")
    assert over["found"] == "4.85"
    assert weighed(answer) == {"nitrite salt": "25 g", "salt": "0 g"}


def test_dose_when_sugar_is_asked_for_then_it_is_a_share_of_green_weight():
    answer = compute_dose(ask(targets={"sugar_percent": "1.5"}))
    assert weighed(answer) == {"sugar": "15 g"}
    assert answer["worst"] == {"nitrite_ppm_low": "0", "nitrite_ppm_high": "0"}
    assert "curing.caution" not in rules_in(answer)


def test_dose_when_grams_of_curing_salt_are_given_then_the_caution_stands_beside_them():
    caution = next(finding for finding in compute_dose(ask())["findings"] if finding["rule"] == "curing.caution")
    assert caution["message"] == CAUTION


def test_dose_when_the_grams_are_put_back_in_then_ingoing_agrees():
    answer = compute_dose(ask(scale_step="0.01 g"))
    mix = [{"name": "salt", "weight": weighed(answer)["salt"]}, {**PINK, "weight": weighed(answer)["cure"]}]
    back = compute_ingoing(
        {"market": "us", "class": "dry_cured", "method": "dry", "on": "2026-01-05", "green_weight": "1 kg", "mix": mix}
    )
    assert back["nitrite"] == answer["ingoing"]["nitrite"]
    assert back["salt_percent"] == answer["ingoing"]["salt_percent"]


@pytest.mark.parametrize(
    ("fields", "field"),
    [
        ({"targets": {}}, "targets"),
        ({"targets": {"nitrite_ppm": 150.0}}, "targets.nitrite_ppm"),
        ({"targets": {"nitrate_ppm": "150"}}, "targets.nitrate_ppm"),
        ({"premix": {"name": "cure"}}, "premix.sodium_nitrite_percent"),
        ({"premix": {"name": "cure", "sodium_nitrite_percent": "0"}}, "premix.sodium_nitrite_percent"),
        ({"premix": {**PINK, "sodium_nitrate_percent": "95"}}, "premix"),
        ({"premix": {"name": "cure", "sodium_nitrite_percent": "0.001"}}, "targets.nitrite_ppm"),
        ({"green_weight": "0.0000001 g"}, "green_weight"),
        ({"scale_step": "0 g"}, "scale_step"),
        ({"scale_step": "1 teaspoon"}, "scale_step"),
        ({"green_weight": "2 cups"}, "green_weight"),
        ({"on": "soon"}, "on"),
    ],
)
def test_dose_when_a_field_is_wrong_then_the_error_names_it(fields, field):
    with pytest.raises(InputError) as caught:
        compute_dose(ask(**fields))
    assert caught.value.field == field
