"""A day's acceptable intake beside a cure: published figures, sums by hand, and that it never reads like a release."""

import datetime as dt
from decimal import Decimal

import pytest
from published import as_printed, cases

from labelsvc.curing.amounts import Ingoing
from labelsvc.curing.dose import compute_dose
from labelsvc.curing.intake import compute_intake, daily_intake, intake_said
from labelsvc.curing.salts import SODIUM_NITRATE, SODIUM_NITRITE
from labelsvc.errors import InputError
from labelsvc.rules.load import PRACTICE, rules_of
from labelsvc.units import Mass

DAY = dt.date(2026, 1, 5)
FIRST = dt.date(2002, 6, 13)  # JECFA, 59th meeting; the day from memory


@pytest.mark.parametrize("one", cases("intake"), ids=lambda one: one["id"])
def test_intake_when_published_then_the_same(one):
    answer = compute_intake(one["ask"])
    for name in ("mg_a_day_as_ion", "mg_a_day_as_sodium_salt"):
        if name in one:
            assert as_printed(answer[name], one[name]) == Decimal(one[name])
    rule = rules_of(PRACTICE, DAY)[f"practice.intake.{one['ask']['agent']}"]
    assert daily_intake(rule, Mass.parse(one["ask"]["body_weight"])) == Decimal(one["mg_a_day_as_ion"])


def test_intake_when_the_food_is_given_then_the_grams_that_bring_it():
    # 0.07 x 60 = 4.2 mg; in a food with 80 mg/kg: 4.2 / 80 x 1000 = 52.5 g
    answer = compute_intake({"agent": "nitrite", "on": "2026-01-05", "body_weight": "60 kg", "mg_per_kg_as_ion": "80"})
    assert (answer["mg_a_day_as_ion"], answer["food_grams_a_day"]) == ("4.2", "52.5")
    assert answer["working"] == [
        "0.07 mg/kg × 60 kg = 4.2 mg of nitrite ion a day (JECFA, 59th meeting (2002); EFSA ANS Panel, EFSA Journal"
        " 2017;15(6):4786)",
        "4.2 mg ÷ 80 mg/kg = 52.5 g of the food a day",
    ]
    (finding,) = answer["findings"]
    assert (finding["severity"], finding["exceeded"], finding["limit"]) == ("note", False, "0.07")
    assert "never a test for release" in finding["message"]


def test_intake_when_nothing_is_in_the_food_then_no_grams():
    asked = {"agent": "nitrate", "on": "2026-01-05", "body_weight": "132.277 lb", "mg_per_kg_as_ion": "0"}
    answer = compute_intake(asked)
    assert answer["food_grams_a_day"] is None
    assert round(Decimal(answer["mg_a_day_as_ion"]), 1) == Decimal("222.0")  # 132.277 lb are 60 kg


@pytest.mark.parametrize(
    ("more", "field"),
    [
        ({"agent": "salt"}, "agent"),
        ({"body_weight": "0 kg"}, "body_weight"),
        ({"on": (FIRST - dt.timedelta(days=1)).isoformat()}, "on"),
        ({"mg_per_kg_as_ion": 80.5}, "mg_per_kg_as_ion"),
    ],
)
def test_intake_when_a_field_is_wrong_then_the_error_names_it(more, field):
    with pytest.raises(InputError) as caught:
        compute_intake({"agent": "nitrite", "on": FIRST.isoformat(), "body_weight": "60 kg", **more})
    assert caught.value.field == field


def test_working_of_a_dose_then_says_a_day_s_intake_as_a_comparison():
    # 120 ppm of sodium nitrite are 120 x 46.005 / 68.995 = 80.0145 mg/kg as the ion; 4.2 mg of it are in 52.49 g
    asked = {"market": "us", "class": "dry_cured", "on": "2026-01-05", "green_weight": "1 kg", "targets": {"nitrite_ppm": "120"},
             "premix": {"name": "cure", "sodium_nitrite_percent": "6.25"}}  # fmt: skip
    last = compute_dose(asked)["working"][-1]
    assert last.startswith("to compare, no test for release: at 80.0145 mg/kg as nitrite ion, were all of it still there, ")
    assert "52 g of green meat bring the 4.2 mg that someone of 60 kg may take in every day" in last


def test_working_of_a_dose_when_nothing_is_known_or_the_figure_was_not_set_then_no_comparison():
    both = Ingoing(((SODIUM_NITRITE, Decimal(120)), (SODIUM_NITRATE, Decimal(100))))
    assert len(intake_said(both, FIRST)) == 2
    assert intake_said(both, FIRST - dt.timedelta(days=1)) == []
    assert intake_said(Ingoing((), unchecked=("curing salt",)), DAY) == []
