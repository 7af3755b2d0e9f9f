"""The class of the law by plain questions, cautious where one is left open.

Any belly counts as bacon in the US (whether a rolled one does was not confirmed, so the stricter class is taken); dry cured bacon
and ham of the EU and GB need 4 days of stabilisation or maturation, jamón at least 10 and more than 45 (SI 2007/1778 Sch. 1).
"""

import pytest

from labelsvc.curing.classes import compute_class
from labelsvc.curing.limits import classes_of
from labelsvc.errors import InputError


@pytest.mark.parametrize(
    ("answers", "expected"),
    [
        (dict(market="us"), "dry_cured_bacon"),
        (dict(market="us", belly=True, way="pumped"), "pumped_bacon"),
        (dict(market="us", belly=True, way="immersion"), "immersion_bacon"),
        (dict(market="us", belly=False), "dry_cured"),
        (dict(market="us", belly=False, way="dry_excess"), "dry_cured"),
        (dict(market="us", belly=False, way="pumped"), "pickle_cured"),
        (dict(market="us", belly=False, way="immersion"), "pickle_cured"),
        (dict(market="us", belly=False, chopped=True), "comminuted"),
        (dict(market="us", sold=False), "home"),
        (dict(market="eu"), "non_heat_treated"),
        (dict(market="eu", heated="yes"), "heat_treated"),
        (dict(market="eu", heated="sterilised"), "sterilised"),
        (dict(market="gb", named="dry_cured_bacon", way="dry", matured_days=4), "dry_cured_bacon"),
        (dict(market="gb", named="dry_cured_bacon", way="dry", matured_days=3), "non_heat_treated"),
        (dict(market="gb", named="dry_cured_bacon", way="pumped", matured_days=9), "non_heat_treated"),
        (dict(market="gb", named="dry_cured_ham", matured_days=9), "non_heat_treated"),
        (dict(market="eu", named="jamon_lomo_cecina", way="dry_excess", matured_days=56), "jamon_lomo_cecina"),
        (dict(market="eu", named="jamon_lomo_cecina", way="dry", matured_days=55), "non_heat_treated"),
    ],
)
def test_class_follows_from_the_answers(answers, expected):
    assert compute_class(answers)["class"] == expected
    assert expected in classes_of(answers["market"])


def test_class_in_the_us_says_that_the_authority_sets_it():
    assert any("authority sets the class" in remark for remark in compute_class({"market": "us"})["remarks"])


def test_open_question_is_said():
    assert "Whether it is belly was not said: it is taken for one" in compute_class({"market": "us"})["remarks"]


@pytest.mark.parametrize(("wrong", "field"), [(dict(market="jp"), "market"), (dict(market="eu", heated="perhaps"), "heated")])
def test_answer_that_is_none_is_refused(wrong, field):
    with pytest.raises(InputError) as refused:
        compute_class(wrong)
    assert refused.value.field == field
