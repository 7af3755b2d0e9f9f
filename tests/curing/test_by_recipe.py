"""Grams by a recipe from the very bag, what a scale makes of them, and the sums with their numbers.

By hand: 2 % of 1 kg are 20 g; of a 0.5 % bag in the place of a 0.6 % one 24 g bring the same 120 mg of sodium nitrite. They bring
24 x 0.995 = 23.88 g of salt in the place of 20 x 0.994 = 19.88 g: 4 g less of plain salt.
"""

from decimal import Decimal

import pytest

from labelsvc.curing.amounts import amounts_on
from labelsvc.curing.by_recipe import Part, grams_asked
from labelsvc.curing.cure import Cure
from labelsvc.curing.mix import MixLine
from labelsvc.curing.salts import SALT, SODIUM_NITRITE
from labelsvc.curing.scale import on_scale, remarks_on_scale, worst_of
from labelsvc.curing.working import working_of
from labelsvc.errors import InputError
from labelsvc.units import Mass

NOTHING, KILO = Mass(Decimal(0)), Mass.parse("1 kg")
PLAIN = MixLine("salt", NOTHING, ((SALT, Decimal(100)),))


def premix(percent, weight=NOTHING):
    nitrite = Decimal(percent)
    return MixLine("cure", weight, ((SODIUM_NITRITE, nitrite), (SALT, 100 - nitrite)))


def test_bag_of_another_strength_is_asked_for_as_much_nitrite_and_its_salt_is_taken_off_the_plain_salt():
    parts = [Part(Decimal(2), premix("0.6"), premix("0.5")), Part(Decimal(1), PLAIN)]
    cure, salt = grams_asked(KILO, parts)
    assert (cure.line.weight.grams, salt.line.weight.grams) == (24, 6)
    assert cure.why == "this bag is 0.5 % nitrite, the recipe is for 0.6 %"
    assert salt.why.startswith("4 g less")
    total = amounts_on(KILO, [cure.line, salt.line])
    meant = amounts_on(KILO, [premix("0.6", Mass.parse("20 g")), MixLine("salt", Mass.parse("10 g"), PLAIN.contents)])
    assert (total.as_salt(SODIUM_NITRITE), total.salt_percent) == (meant.as_salt(SODIUM_NITRITE), meant.salt_percent)


def test_bag_as_the_card_says_changes_nothing():
    (cure,) = grams_asked(KILO, [Part(Decimal(2), premix("0.6"), premix("0.6"))])
    assert (cure.line.weight.grams, cure.why) == (20, "")


def test_bag_without_nitrite_for_a_line_that_brings_it_is_refused():
    with pytest.raises(InputError, match="a container that brings nitrite"):
        grams_asked(KILO, [Part(Decimal(2), premix("0.6"), PLAIN)])


def test_order_of_the_lines_does_not_matter():
    parts = [Part(Decimal(2), premix("0.6"), premix("0.5")), Part(Decimal(1), PLAIN)]
    there = {one.line.name: one.line.weight for one in grams_asked(KILO, parts)}
    back = {one.line.name: one.line.weight for one in grams_asked(KILO, parts[::-1])}
    assert there == back


def test_scale_rounds_to_the_nearest_step_but_the_cure_down_where_the_nearest_is_not_allowed():
    lines = [premix("6.25", Mass.parse("1.96 g")), MixLine("salt", Mass.parse("20.06 g"), PLAIN.contents)]
    step = Mass.parse("0.1 g")
    assert [line.weight.grams for line in on_scale(lines, step, lambda _: True)] == [Decimal("2"), Decimal("20.1")]
    assert [line.weight.grams for line in on_scale(lines, step, lambda _: False)] == [Decimal("1.9"), Decimal("20.1")]


# 6.25 %: 1 g on 1 kg are 62.5 ppm; a step of 1 g is half a gram either way: 31.25 ppm.
def test_worst_a_scale_can_do_is_half_a_step_either_way():
    low, high = worst_of([premix("6.25", Mass.parse("2 g"))], KILO, Mass.parse("1 g"))
    assert (low.as_salt(SODIUM_NITRITE), high.as_salt(SODIUM_NITRITE)) == (Decimal("93.75"), Decimal("156.25"))


@pytest.mark.parametrize(("step", "is_coarse"), [("0.4 g", False), ("0.41 g", True)])  # 0.2 g of 2 g is a tenth
def test_step_that_moves_the_dose_by_more_than_a_tenth_is_said_with_a_way_out_that_is_no_spoon(step, is_coarse):
    lines = [premix("6.25", Mass.parse("2 g"))]
    worst = worst_of(lines, KILO, Mass.parse(step))
    said = remarks_on_scale(lambda _: False, amounts_on(KILO, lines), worst, Decimal(125))
    assert [one.rule for one in said] == (["curing.scale_too_coarse"] if is_coarse else [])
    assert all("larger batch" in one.message and "a spoon is no way out" in one.message for one in said)


def test_working_of_a_dry_cure_can_be_followed_with_a_pencil():
    said = working_of(Cure("dry", KILO, (premix("6.25", Mass.parse("2.5 g")),), Mass.parse("2.5 g")))
    # Published: 0.25 % of a 6.25 % cure is 156 ppm (curing_trade.md section 9, C1); 2.5 g x 6.25 % = 0.15625 g.
    assert said[0] == "sodium nitrite: 2.5 g cure × 6.25 % = 0.15625 g"
    assert said[1] == "0.15625 g × 1 000 000 ÷ 1000 g green = 156.25 ppm (FSIS Directive 7620.3, page 24)"
    assert said[2].startswith("as the ion: 156.25 × 46.005 ÷ 68.995 = 104.18")


@pytest.mark.parametrize(
    ("method", "more", "said"),
    [
        # W17: 32 g of 5.88 % in 1266 g of brine, pump 10 %: 148.626 ppm
        ("pumped", dict(pickle=Mass.parse("1266 g"), gain_percent=Decimal(10)), "10 % taken in × 1 000 000 ÷ 1266 g of pickle"),
        ("immersion_equilibrium", dict(pickle=Mass.parse("1266 g")), "÷ (1000 g meat + 1266 g pickle)"),
        ("dry", dict(leftover=Mass.parse("8 g")), "× (32 g put on − 8 g weighed back) ÷ 32 g"),
    ],
)
def test_working_names_the_formula_of_the_method(method, more, said):
    line = premix("5.88", Mass.parse("32 g"))
    assert any(said in step for step in working_of(Cure(method, KILO, (line,), Mass.parse("32 g"), **more)))
