"""What someone at the bench is asked about once: a day long gone, a weight unlike the product's own."""

import build
import pytest

from labelsvc.errors import ConfirmationNeeded
from labelsvc.operations.recording import record


def at_bench(shop, kind, yes=False, **fields):
    given = {name.rstrip("_"): value for name, value in fields.items()}
    return record(shop.ledger, kind, given, now=build.NOW, who="Ada", confirmed=yes, is_at_bench=True)


@pytest.mark.parametrize(("day", "back"), [("2026-11-11", None), ("2026-11-10", 15), ("2026-03-02", 268)])
def test_a_day_when_further_back_than_two_weeks_then_it_is_asked_once(shop, day, back):
    shop.day = "2026-01-05"
    lot = shop.ingredient()
    if back is None:
        at_bench(shop, "count", lot=lot, weight="4950 g", at=day)
        return
    with pytest.raises(ConfirmationNeeded, match=rf"^at: expected a day of the last 14 days, got {day}, {back} days ago\."):
        at_bench(shop, "count", lot=lot, weight="4950 g", at=day)
    fact = at_bench(shop, "count", lot=lot, weight="4950 g", at=day, yes=True).fact
    assert shop.fact_body(fact)["confirmed"] == [f"at: expected a day of the last 14 days, got {day}, {back} days ago"]


def test_a_day_when_books_are_typed_in_then_nobody_is_asked(shop):
    shop.day = "2026-01-05"
    record(shop.ledger, "count", dict(lot=shop.ingredient(), weight="4950 g", at="2026-03-02"), now=build.NOW)


def cut_so_far(shop, *weights):
    animal = shop.receive(at="2026-11-20")
    if weights:
        shop.cut(animal, *weights, at="2026-11-20")
    return animal


def one_more(shop, animal, weight, **more):
    return at_bench(shop, "cut", from_=animal, pieces=[dict(product="Cured neck", weight=weight)], at="2026-11-21", **more)


FIVE = ("900 g", "1000 g", "1100 g", "1200 g", "1500 g")


@pytest.mark.parametrize(("weight", "is_asked"), [("299 g", True), ("300 g", False), ("4500 g", False), ("4501 g", True)])
def test_a_green_weight_when_a_third_or_three_times_the_usual_then_it_is_asked(shop, weight, is_asked):
    animal = cut_so_far(shop, *FIVE)
    if not is_asked:
        one_more(shop, animal, weight)
        return
    said = rf"^pieces\[0\]\.weight: expected a weight like the 5 before of Cured neck, 900 g to 1500 g, got {weight}\."
    with pytest.raises(ConfirmationNeeded, match=said):
        one_more(shop, animal, weight)
    fact = one_more(shop, animal, weight, yes=True).fact
    assert "a weight like the 5 before" in shop.fact_body(fact)["confirmed"][0]


def test_a_green_weight_when_fewer_than_five_came_before_then_nobody_is_asked(shop):
    one_more(shop, cut_so_far(shop, *FIVE[:4]), "6 kg")


def test_a_green_weight_when_of_another_product_then_it_has_its_own_usual(shop):
    animal = cut_so_far(shop, *FIVE)
    pieces = [dict(product="Cured duck breast", weight="250 g")]
    at_bench(shop, "cut", from_=animal, pieces=pieces, at="2026-11-21", yes=True)  # asked about the animal, no more


def test_a_hang_weight_when_unlike_those_before_then_it_is_asked(shop):
    for _ in range(5):
        shop.hanging_piece()  # 980 g net each
    shop.day = "2026-11-20"
    heavy = shop.green_piece("4000 g")
    shop.cure([heavy], (shop.ingredient(), "100 g"), tub="grey")
    with pytest.raises(ConfirmationNeeded, match=r"^weight: expected a weight like the 5 before of Cured neck, 980 g to 980 g"):
        at_bench(shop, "string", piece=heavy, weight="3900 g", place="room 1", at="2026-11-21")
