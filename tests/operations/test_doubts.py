"""What someone at the bench is asked about once: a day long gone, a weight unlike the product's own."""

import datetime as dt

import build
import pytest

from labelsvc.errors import ConfirmationNeeded
from labelsvc.operations import packing as packing_desk
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


def packing(*weights):
    how = dict(session="s2", market="eu", language="en", form="prepacked", may_contain=[])
    return dict(packs=[dict(weight=weight) for weight in weights], **how)


@pytest.fixture
def packed_before(shop):
    """A piece of 700 g to pack, after five packs of its product of 40 to 60 g and one of 10 g."""
    old = shop.hanging_piece()
    shop.pack([dict(piece=old, rest="700 g")], "40 g", "45 g", "50 g", "55 g", "60 g", "10 g", at="2026-05-21")
    piece = shop.hanging_piece(hung="720 g", at="2026-11-20")
    shop.release(piece, at="2026-11-21")
    return piece


@pytest.mark.parametrize(
    ("weight", "is_asked"),
    [("4 g", True), ("5 g", False), ("20 g", False), ("21 g", False), ("120 g", False), ("121 g", True), ("500 g", True)],
)  # half to twice of one that was packed before: 5 to 20 g and 20 to 120 g
def test_a_pack_when_none_before_weighs_half_to_twice_as_much_then_it_is_asked(shop, packed_before, weight, is_asked):
    rest = f"{650 - int(weight.removesuffix(' g'))} g"  # so that nothing else is asked
    fields = dict(from_=[dict(piece=packed_before, rest=rest)], **packing(weight, "50 g"))
    if not is_asked:
        at_bench(shop, "pack", **fields)
        return
    said = rf"^packs\[0\]\.weight: expected a weight like the 6 before of Cured neck, 10 g to 60 g, got {weight}\."
    with pytest.raises(ConfirmationNeeded, match=said):
        at_bench(shop, "pack", **fields)
    fact = at_bench(shop, "pack", yes=True, **fields).fact
    assert "a weight like the 6 before of Cured neck" in shop.fact_body(fact)["confirmed"][0]


def test_packs_of_one_unusual_weight_when_many_then_one_question_asks_about_them(shop, packed_before):
    with pytest.raises(ConfirmationNeeded) as asked:
        at_bench(shop, "pack", from_=[dict(piece=packed_before)], **packing("200 g", "200 g", "200 g"))
    assert asked.value.message.count("a weight like") == 1


def test_a_program_when_it_says_that_someone_is_there_then_it_is_asked_too(shop, packed_before):
    given = {"from": [dict(piece=packed_before, rest="300 g")], **packing("400 g")}
    with pytest.raises(ConfirmationNeeded, match="a weight like the 6 before"):
        record(shop.ledger, "pack", {**given, "ask": True}, now=build.NOW)
    record(shop.ledger, "pack", given, now=build.NOW)  # one that says nothing of it records what it says


def test_a_session_when_a_pack_is_added_then_only_the_new_weight_is_asked_about(shop, packed_before):
    how = dict(now=build.NOW, who="Ada")
    given = {"from": [dict(piece=packed_before)], **packing("300 g")}
    first = packing_desk.begin(shop.ledger, given, **how, confirmed=True).fact
    packing_desk.add_packs(shop.ledger, first, ["50 g"], **how)
    packing_desk.add_packs(shop.ledger, first, ["290 g"], **how)  # one like it was said yes to
    with pytest.raises(ConfirmationNeeded, match=r"got 4 g"):
        packing_desk.add_packs(shop.ledger, first, ["4 g"], **how)


def test_a_session_of_an_earlier_day_when_begun_then_the_day_is_asked_once(shop, packed_before):
    given = {"from": [dict(piece=packed_before)], "at": "2026-11-21", **packing("50 g")}
    now = build.NOW + dt.timedelta(days=20)
    with pytest.raises(ConfirmationNeeded, match=r"^at: expected a day of the last 14 days, got 2026-11-21, 24 days ago"):
        packing_desk.begin(shop.ledger, given, now=now, who="Ada")
    fact = packing_desk.begin(shop.ledger, given, now=now, who="Ada", confirmed=True).fact
    packing_desk.add_packs(shop.ledger, fact, ["55 g"], now=now, who="Ada")  # the day was answered
    assert shop.fact_body(fact)["confirmed"] == ["at: expected a day of the last 14 days, got 2026-11-21, 24 days ago"]
