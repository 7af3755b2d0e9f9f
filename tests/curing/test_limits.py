"""Limits: just under, at and just over each; the day before a change of law and the day itself."""

import datetime as dt
from decimal import Decimal

import pytest

from labelsvc.curing.amounts import Ingoing
from labelsvc.curing.ingoing import compute_ingoing
from labelsvc.curing.limits import check_limits, classes_of, must_be_held
from labelsvc.curing.salts import (
    ASCORBIC_ACID,
    NITRATE_ION,
    NITRITE_ION,
    POTASSIUM_NITRATE,
    POTASSIUM_NITRITE,
    SODIUM_ASCORBATE,
    SODIUM_NITRATE,
    SODIUM_NITRITE,
)
from labelsvc.facts import Measured
from labelsvc.rules.load import MARKETS, all_rules

OLD, NEW = dt.date(2025, 10, 8), dt.date(2025, 10, 9)
STEP = Decimal("0.0001")


def amount(ppm, substance=SODIUM_NITRITE, **kind):
    return Ingoing(((substance, Decimal(ppm)),), **kind)


def check(ingoing, market="us", product_class="dry_cured", on=NEW, **kind):
    return check_limits(ingoing, market, product_class, on, **kind)


def finding_of(rule, findings):
    return next(finding for finding in findings if finding.rule == rule)


def stops(findings):
    return [finding.rule for finding in findings if finding.severity == "stop"]


LIMITS = [
    ("us", "dry_cured", SODIUM_NITRITE, "625", NEW),
    ("us", "dry_cured", POTASSIUM_NITRITE, "625", NEW),  # the potassium salt at the same weight
    ("us", "pickle_cured", SODIUM_NITRITE, "200", NEW),
    ("us", "comminuted", SODIUM_NITRITE, "156.25", NEW),
    ("us", "dry_cured_bacon", SODIUM_NITRITE, "200", NEW),
    ("us", "pumped_bacon", SODIUM_NITRITE, "120", NEW),
    ("us", "immersion_bacon", SODIUM_NITRITE, "120", NEW),
    ("us", "home", SODIUM_NITRITE, "200", NEW),
    ("us", "dry_cured", SODIUM_NITRATE, "2187.5", NEW),
    ("us", "pickle_cured", POTASSIUM_NITRATE, "700", NEW),
    ("us", "comminuted", SODIUM_NITRATE, "1718.75", NEW),
    ("us", "home", SODIUM_NITRATE, "500", NEW),
    ("us", "dry_cured", ASCORBIC_ACID, "468.75", NEW),  # 3/4 oz to 1600 oz
    ("us", "dry_cured", SODIUM_ASCORBATE, "546.875", NEW),  # 7/8 oz to 1600 oz
    ("us", "pickle_cured", SODIUM_ASCORBATE, "546.875", NEW),  # 87.5 oz to 16000 oz of pickle, a tenth of it pumped
    ("eu", "non_heat_treated", SODIUM_NITRITE, "150", OLD),
    ("eu", "heat_treated", SODIUM_NITRITE, "150", OLD),
    ("eu", "sterilised", SODIUM_NITRITE, "100", OLD),
    ("eu", "vysocina", SODIUM_NITRITE, "180", OLD),
    ("eu", "non_heat_treated", SODIUM_NITRATE, "150", OLD),
    ("eu", "rohwurst", SODIUM_NITRATE, "300", OLD),
    ("eu", "saucisson_sec", SODIUM_NITRATE, "250", OLD),
    ("eu", "cold_smoked_reindeer", SODIUM_NITRATE, "300", OLD),
    ("eu", "cold_smoked_reindeer", SODIUM_NITRITE, "150", OLD),  # Regulation (EU) 1129/2011, category 08.3.4.1
    ("eu", "bacon_filet_de_bacon", SODIUM_NITRITE, "150", OLD),
    ("eu", "bacon_filet_de_bacon", SODIUM_NITRATE, "250", OLD),
    ("eu", "non_heat_treated", NITRITE_ION, "80", NEW),
    ("eu", "heat_treated", NITRITE_ION, "80", NEW),
    ("eu", "sterilised", NITRITE_ION, "55", NEW),
    ("gb", "non_heat_treated", SODIUM_NITRITE, "150", NEW),
    ("gb", "sterilised", SODIUM_NITRITE, "100", NEW),
    ("gb", "non_heat_treated", SODIUM_NITRATE, "150", NEW),
]


@pytest.mark.parametrize(("market", "product_class", "substance", "limit", "on"), LIMITS)
def test_check_limits_when_just_under_at_and_just_over_then_only_over_stops(market, product_class, substance, limit, on):
    under, at, over = (check(amount(Decimal(limit) + step, substance), market, product_class, on) for step in (-STEP, 0, STEP))
    assert stops(under) == []
    assert stops(at) == []
    assert len(stops(over)) == 1
    stopped = finding_of(stops(over)[0], over)
    assert stopped.exceeded
    assert stopped.limit == limit
    assert Decimal(stopped.found) == Decimal(limit) + STEP
    passed = finding_of(stopped.rule, at)
    assert (passed.severity, passed.exceeded) == ("note", False)


@pytest.mark.parametrize(
    ("product_class", "limit"), [("dry_cured_bacon", "180"), ("pumped_bacon", "108"), ("immersion_bacon", "108")]
)
def test_check_limits_when_the_skin_is_on_then_the_limit_is_a_tenth_lower(product_class, limit):
    at = check(amount(limit), product_class=product_class, skin_on=True)
    over = check(amount(Decimal(limit) + STEP), product_class=product_class, skin_on=True)
    assert stops(at) == []
    assert finding_of(stops(over)[0], over).limit == limit


def test_check_limits_when_the_skin_is_on_then_the_ppm_stays():
    ask = {"market": "us", "class": "dry_cured_bacon", "method": "dry", "on": "2026-01-05", "green_weight": "1 kg"}
    mix = [{"name": "cure", "weight": "3.2 g", "sodium_nitrite_percent": "6.25"}]
    with_skin = compute_ingoing({**ask, "skin_on": True, "mix": mix})
    without = compute_ingoing({**ask, "mix": mix})
    assert with_skin["nitrite"] == without["nitrite"]
    assert with_skin["findings"][0]["exceeded"] is True
    assert without["findings"][0]["exceeded"] is False


def test_check_limits_when_the_skin_is_on_outside_bacon_then_nothing_changes():
    assert check(amount("625"), skin_on=True) == check(amount("625"))


def test_check_limits_when_the_law_changes_then_the_day_before_has_the_old_figure():
    # 121 mg/kg of sodium nitrite is 80.68 as the ion: within 150 as the salt, over 80 as the ion
    before = check(amount("121"), "eu", "non_heat_treated", OLD)
    after = check(amount("121"), "eu", "non_heat_treated", NEW)
    assert stops(before) == []
    assert stops(after) == ["eu.nitrite.non_heat_treated"]
    assert finding_of("eu.nitrite.non_heat_treated", before).expressed_as == "sodium nitrite"
    assert finding_of("eu.nitrite.non_heat_treated", after).expressed_as == "nitrite ion"


def test_check_limits_when_great_britain_then_the_change_of_the_union_does_not_count():
    assert stops(check(amount("150"), "gb", "non_heat_treated", NEW)) == []


@pytest.mark.parametrize("product_class", ["dry_cured_bacon", "pumped_bacon", "immersion_bacon"])
def test_check_limits_when_nitrate_is_in_bacon_then_a_ban_of_zero_stops(product_class):
    findings = check(amount("0.001", SODIUM_NITRATE), product_class=product_class)
    banned = finding_of(f"us.nitrate.{product_class}", findings)
    assert (banned.severity, banned.exceeded, banned.limit) == ("stop", True, "0")


@pytest.mark.parametrize(("nitrite", "expected"), [("0", []), ("0.001", ["eu.nitrate_alone.bacon_filet_de_bacon"])])
def test_check_limits_when_nitrate_is_allowed_only_alone_then_any_nitrite_stops(nitrite, expected):
    # Regulation (EU) 1129/2011, category 08.3.4.1, bacon and filet de bacon: nitrates 250 with note (40), without added nitrites.
    both = Ingoing(((SODIUM_NITRATE, Decimal(200)), (SODIUM_NITRITE, Decimal(nitrite))))
    findings = check(both, "eu", "bacon_filet_de_bacon", OLD)
    assert stops(findings) == expected
    alone = finding_of("eu.nitrate_alone.bacon_filet_de_bacon", findings)
    assert (alone.exceeded, alone.limit, alone.found) == (bool(expected), "0", nitrite)


@pytest.mark.parametrize(("market", "on", "is_in_force"), [("eu", OLD, True), ("eu", NEW, False), ("gb", NEW, True)])
def test_check_limits_when_the_union_drops_the_row_without_nitrite_then_from_its_day(market, on, is_in_force):
    both = Ingoing(((SODIUM_NITRATE, Decimal(200)), (SODIUM_NITRITE, Decimal(1))))
    rules = [one.rule for one in check(both, market, "bacon_filet_de_bacon", on)]
    assert (f"{market}.nitrate_alone.bacon_filet_de_bacon" in rules) is is_in_force


def test_check_limits_when_nitrate_is_in_cooked_products_then_the_old_ban_stops():
    assert stops(check(amount("5", SODIUM_NITRATE), "gb", "heat_treated")) == ["gb.nitrate.heat_treated"]


def test_check_limits_when_a_figure_is_unconfirmed_then_it_neither_stops_nor_approves():
    under, over = (check(amount(ppm, NITRATE_ION), "eu", "non_heat_treated") for ppm in ("90", "90.0001"))
    assert stops(under) == stops(over) == []
    low, high = finding_of("eu.nitrate.non_heat_treated", under), finding_of("eu.nitrate.non_heat_treated", over)
    assert (low.severity, low.exceeded, must_be_held(low)) == ("warn", False, False)
    assert (high.severity, high.exceeded, must_be_held(high)) == ("warn", True, True)
    assert high.known == "unconfirmed"


@pytest.mark.parametrize(("market", "limit"), [("gb", "175"), ("eu", "105")])
def test_check_limits_when_only_the_residue_is_limited_then_a_measured_value_is_needed(market, limit):
    findings = check(amount("10"), market, "dry_cured_bacon")
    residual = finding_of(f"{market}.nitrite.dry_cured_bacon.residual", findings)
    assert (residual.severity, residual.exceeded, residual.found, residual.limit) == ("warn", False, None, limit)
    assert must_be_held(residual)
    assert residual.message.endswith("which no dose can show: a measured value is needed")


def test_check_limits_when_the_dose_is_limited_too_then_the_residue_is_a_note_that_says_when_it_could_be_over():
    low = finding_of("us.nitrite.dry_cured.finished", check(amount("200")))
    high = finding_of("us.nitrite.dry_cured.finished", check(amount("201")))
    assert (low.severity, high.severity) == ("note", "note")
    assert "could leave more" in high.message
    assert "could leave more" not in low.message


@pytest.mark.parametrize(
    ("market", "product_class"), [("gb", "dry_cured_bacon"), ("eu", "dry_cured_ham"), ("eu", "cold_smoked_reindeer")]
)
def test_check_limits_when_over_the_highest_figure_of_all_then_stops_in_every_market(market, product_class):
    assert stops(check(amount("625"), market, product_class)) == []
    assert stops(check(amount("625.0001"), market, product_class)) == ["us.nitrite.dry_cured"]


def test_check_limits_when_nitrate_is_over_the_highest_figure_then_stops():
    assert stops(check(amount("2187.5", SODIUM_NITRATE), "gb", "dry_cured_ham")) == []
    assert stops(check(amount("2187.6", SODIUM_NITRATE), "gb", "dry_cured_ham")) == ["us.nitrate.dry_cured"]


def test_check_limits_when_nitrate_is_high_then_it_never_counts_as_nitrite():
    findings = check(amount("2000", SODIUM_NITRATE))
    assert not [finding.rule for finding in findings if ".nitrite." in finding.rule and finding.found is not None]


def test_check_limits_when_only_nitrate_is_used_then_the_nitrite_it_leaves_is_still_to_be_measured():
    assert finding_of("us.nitrite.dry_cured.finished", check(amount("1000", SODIUM_NITRATE))).severity == "note"
    assert must_be_held(
        finding_of("gb.nitrite.dry_cured_ham.residual", check(amount("100", SODIUM_NITRATE), "gb", "dry_cured_ham"))
    )


def test_check_limits_when_a_handbook_rounds_down_then_between_the_two_is_a_warning():
    # 4 oz of 6.25 % to 100 lb is the regulation's own 1/4 oz: 156.25; the handbook calculates with 156
    findings = check(amount("156.25"), product_class="comminuted")
    assert finding_of("us.nitrite.comminuted", findings).exceeded is False
    rounded = finding_of("us.nitrite.comminuted.handbook", findings)
    assert (rounded.severity, rounded.exceeded) == ("warn", True)


def test_check_limits_when_bacon_has_potassium_nitrite_then_its_own_figure_holds():
    # 148 ppm of potassium nitrite is 148 * 68.995 / 85.103 = 119.99 as sodium nitrite; 149 is 120.80
    assert stops(check(amount("148", POTASSIUM_NITRITE), product_class="immersion_bacon")) == []
    assert stops(check(amount("149", POTASSIUM_NITRITE), product_class="immersion_bacon")) == ["us.nitrite.immersion_bacon"]


def test_check_limits_when_pumped_bacon_lacks_ascorbate_then_warns_without_calling_it_over():
    findings = check(amount("120"), product_class="pumped_bacon")
    missing = finding_of("us.ascorbate.pumped_bacon.level", findings)
    assert (missing.severity, missing.exceeded, missing.found, missing.limit) == ("warn", False, "0", "550")
    enough = Ingoing(((SODIUM_NITRITE, Decimal(120)), (SODIUM_ASCORBATE, Decimal(550))))
    assert [finding.rule for finding in check(enough, product_class="pumped_bacon")] == ["us.nitrite.pumped_bacon"]


def test_check_limits_when_pumped_bacon_has_less_nitrite_then_names_the_alternatives():
    level = finding_of("us.nitrite.pumped_bacon.level", check(amount("100"), product_class="pumped_bacon"))
    assert level.severity == "warn"
    assert "alternative A" in level.message


def test_check_limits_when_under_the_policy_minimum_then_notes_it():
    policy = finding_of("us.nitrite.dry_cured.policy", check(amount("119.9")))
    assert (policy.severity, policy.exceeded, policy.limit) == ("note", False, "120")
    assert not [finding for finding in check(amount("120")) if finding.rule.endswith("policy")]


def test_check_limits_when_no_nitrite_is_used_in_the_us_then_asks_for_brine_or_water_activity():
    asked = finding_of("us.no_nitrite.dry_cured", check(Ingoing(())))
    assert must_be_held(asked)


@pytest.mark.parametrize(
    ("what", "value", "severity"),
    [  # 9 CFR 319.106: without nitrite or nitrate, brine of not less than 10 percent, or a water activity of not more than 0.92
        ("water_phase_salt_percent", "9.99", "warn"),
        ("water_phase_salt_percent", "10", "note"),
        ("water_phase_salt_percent", "10.01", "note"),
        ("water_activity", "0.919", "note"),
        ("water_activity", "0.92", "note"),
        ("water_activity", "0.921", "warn"),
    ],
)
def test_check_limits_when_no_nitrite_is_used_in_the_us_then_salt_or_dryness_of_the_rule_is_enough(what, value, severity):
    asked = finding_of("us.no_nitrite.dry_cured", check(Ingoing(()), measured=[Measured(what, Decimal(value))]))
    assert asked.severity == severity


def test_check_limits_when_no_nitrite_is_used_and_neither_is_enough_then_stops():
    both = [Measured("water_phase_salt_percent", Decimal("9.99")), Measured("water_activity", Decimal("0.921"))]
    asked = finding_of("us.no_nitrite.dry_cured", check(Ingoing(()), measured=both))
    assert (asked.severity, asked.exceeded) == ("stop", True)


@pytest.mark.parametrize("product_class", ["dry_cured", "pickle_cured", "comminuted"])
@pytest.mark.parametrize(("ppm", "is_noted"), [("119.9999", True), ("120", False), ("120.0001", False)])
def test_check_limits_when_under_the_policy_of_any_class_then_notes_it(product_class, ppm, is_noted):
    # handbook, page 12: 120 ppm for cured products that must be kept refrigerated
    rules = [one.rule for one in check(amount(ppm), product_class=product_class)]
    assert (f"us.nitrite.{product_class}.policy" in rules) is is_noted


@pytest.mark.parametrize(("nitrite", "ascorbate", "lacking"), [
    ("119.9999", "550", ["us.nitrite.pumped_bacon.level"]), ("120", "550", []), ("120", "550.0001", []),
    ("120", "549.9999", ["us.ascorbate.pumped_bacon.level"]),
])  # fmt: skip
def test_check_limits_when_pumped_bacon_is_at_both_levels_then_nothing_lacks(nitrite, ascorbate, lacking):
    # 9 CFR 424.22(b)(1): 120 ppm of sodium nitrite and 550 ppm of sodium ascorbate or erythorbate
    both = Ingoing(((SODIUM_NITRITE, Decimal(nitrite)), (SODIUM_ASCORBATE, Decimal(ascorbate))))
    found = [one.rule for one in check(both, product_class="pumped_bacon") if one.rule.endswith(".level")]
    assert found == lacking


def test_check_limits_when_nitrite_is_pure_in_the_union_then_warns():
    findings = check(amount("50", has_pure_nitrite=True), "eu", "non_heat_treated")
    assert finding_of("eu.pure_nitrite.every", findings).severity == "warn"


def test_check_limits_when_the_method_does_not_fit_the_class_then_warns():
    unfit = finding_of("us.method.every", check(amount("300"), method="pumped"))
    assert unfit.message.endswith("dry_cured is cured by dry or dry_excess, not by pumped")
    assert not [finding for finding in check(amount("300"), method="dry") if finding.rule == "us.method.every"]


def test_check_limits_when_an_upper_bound_then_says_up_to():
    findings = check(amount("700", upper_bound=True))
    assert "up to 700 ppm" in finding_of("us.nitrite.dry_cured", findings).message


def test_check_limits_when_rounding_would_hide_the_excess_then_shows_more_places():
    over = finding_of("us.nitrite.dry_cured", check(amount("625.00000001")))
    assert (over.exceeded, over.found) == (True, "625.00000001")


@pytest.mark.parametrize("market", ["eu", "gb", "us"])
@pytest.mark.parametrize("on", [OLD, NEW])
def test_check_limits_when_any_class_then_nitrite_and_nitrate_both_have_an_answer(market, on):
    both = Ingoing(((SODIUM_NITRITE, Decimal(50)), (SODIUM_NITRATE, Decimal(50))))
    for product_class in classes_of(market):
        rules = [finding.rule for finding in check(both, market, product_class, on)]
        assert any(".nitrite." in rule for rule in rules), product_class
        assert any(".nitrate." in rule for rule in rules), product_class


def test_classes_of_when_asked_then_has_the_classes_of_the_contract():
    assert set(classes_of("us")) == {
        "dry_cured", "pickle_cured", "comminuted", "dry_cured_bacon", "pumped_bacon", "immersion_bacon", "home",
    }  # fmt: skip
    assert {"non_heat_treated", "heat_treated", "sterilised", "dry_cured_bacon", "dry_cured_ham"} <= set(classes_of("eu"))
    assert classes_of("eu") == classes_of("gb")


@pytest.mark.parametrize("market", ["eu", "gb", "us"])
def test_rules_when_they_have_a_figure_then_say_of_what_and_per_what(market):
    for rule in all_rules(market):
        if rule.subject in ("nitrite added", "nitrate added", "nitrite residual", "nitrate residual"):
            assert rule.expressed_as, rule.id
            assert rule.basis, rule.id
            assert rule.unit, rule.id
            assert rule.value is not None or rule.known == "unconfirmed", rule.id


def _confirmed():
    """Every limit on what may be added that stops now, with a day on which it is in force."""
    for market in MARKETS:
        for rule in all_rules(market):
            if rule.subject in ("nitrite added", "nitrate added") and rule.known != "unconfirmed" and rule.severity == "stop":
                yield pytest.param(market, rule, id=f"{rule.id}@{rule.begins}")


@pytest.mark.parametrize(("market", "rule"), list(_confirmed()))
def test_every_confirmed_limit_stops_just_over_its_figure_and_not_at_it(market, rule):
    """An invariant over the data: whatever the figure is, at it is not over it."""
    agent = rule.subject.partition(" ")[0]
    substances = (SODIUM_NITRITE, NITRITE_ION) if agent == "nitrite" else (SODIUM_NITRATE, NITRATE_ION)
    substance = substances[1] if "ion" in rule.expressed_as.split() else substances[0]
    on, product_class = max(rule.begins, dt.date(2013, 6, 1)), rule.id.split(".")[2]
    at, over = (check(amount(rule.value + step, substance), market, product_class, on) for step in (0, STEP))
    assert rule.id not in stops(at)
    assert rule.id in stops(over)
