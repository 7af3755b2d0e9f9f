"""Cases of withdrawal and recall: who is to be told, where the grams are, and what an exercise leaves alone.

The grams are sums of the packs' net weights, added up by hand beside each test.
"""

import datetime as dt

import pytest

from labelsvc.errors import ConflictError, InputError, NotFoundError
from labelsvc.operations.batch import batch_record
from labelsvc.operations.buyer import seen_by_buyer
from labelsvc.operations.cases import case_of, cases
from labelsvc.operations.recalling import Suspicion, recall

NOW = dt.datetime(2026, 5, 23, 12, tzinfo=dt.UTC)


@pytest.fixture
def out(shop):
    """Packs of 300 g and 100 g with the Corner Shop, 200 g given to Mrs Example, 50 g in stock."""
    shop.lot, shop.one, shop.two, shop.three, shop.four = shop.packed("300 g", "100 g", "200 g", "50 g")
    shop.day = "2026-05-22"
    shop.sell(shop.one, shop.two, document="note 7")
    shop.record("give", to="Mrs Example", packs=[shop.three])
    return shop


def opened(shop, what="recall", **more):
    given = {"what": what, "reason": "glass", "lots": [shop.lot], "at": "2026-05-23T10:00", **more}
    return shop.record("open_case", **given).fact


def of(shop, number):
    return case_of(shop.ledger, number, NOW)


def told(shop, number, customer="Corner Shop", at="2026-05-23T10:30", **more):
    return shop.record("tell", case=number, customer=customer, how="by telephone", at=at, **more)


def test_a_case_when_opened_then_it_says_whom_to_tell_and_holds_and_publishes_nothing(out):
    found = of(out, opened(out))
    assert [(one["name"], one["state"], one["grams"]) for one in found["to_tell"]] == [
        ("Corner Shop", "to call", "400"),
        ("Mrs Example", "to call", "200"),
    ]
    assert found["to_tell"][0]["address"] == "1 Market Square, Exampleton"
    assert found["to_tell"][0]["documents"] == ["note 7"]
    assert found["to_hold"] == [out.four]
    assert found["published"] == []
    assert not out.state(out.four).is_held


def test_a_case_when_packs_were_for_the_us_then_the_district_office_hears_of_it_within_24_hours(shop):
    # 9 CFR 418.2: within 24 hours of learning of it
    piece = shop.hanging_piece(hung="720 g")
    shop.release(piece, at="2026-05-20")
    shop.lot, _ = shop.pack([piece], "300 g", at="2026-05-21", market="us", yes=True)
    (asked,) = of(shop, opened(shop, known_since="2026-05-22T16:30"))["authority"]
    assert (asked["rule"], asked["until"][:16]) == ("us.recall.notify", "2026-05-23T16:30")


def test_a_case_when_told_one_by_one_then_the_next_to_call_comes_first_and_the_figures_add_up(out):
    number = opened(out)
    told(out, number, reached=False)
    assert [one["state"] for one in of(out, number)["to_tell"]] == ["to call", "not reached"]
    told(out, number, still_had="100 g", answer="one left")
    found = of(out, number)
    assert [(one["name"], one["state"]) for one in found["to_tell"]] == [("Mrs Example", "to call"), ("Corner Shop", "told")]
    effect = found["effectiveness"]
    # 600 g out; the shop has 100 g of its 400 g left, so 300 g were used or sold on; of the 200 g given nobody has said anything
    assert (effect["to_tell"], effect["told"], effect["told_percent"]) == (2, 1, "50")
    sums = {name: effect[name] for name in ("out", "back", "still_there", "used_or_sold_on", "not_known")}
    assert sums == {"out": "600", "back": "0", "still_there": "100", "used_or_sold_on": "300", "not_known": "200"}
    assert effect["accounted_percent"] == "66.7"  # 400 of 600


def test_a_case_when_goods_come_back_then_what_was_still_there_grows_less(out):
    number = opened(out)
    told(out, number, still_had="400 g")
    out.record("return", from_="Corner Shop", packs=[out.one], at="2026-05-23T11:00")
    out.record("case_step", case=number, what="destroyed_there", words="photo", lots=[out.two], at="2026-05-23T11:10")
    effect = of(out, number)["effectiveness"]
    assert (effect["back"], effect["destroyed_there"], effect["still_there"], effect["used_or_sold_on"]) == (
        "300",
        "100",
        "0",
        "0",
    )
    assert effect["secured_percent"] == "66.7"  # 400 of 600


def test_a_case_when_something_came_back_before_it_then_that_is_not_out(out):
    out.record("return", from_="Corner Shop", packs=[out.one])
    number = opened(out)
    assert of(out, number)["effectiveness"]["out"] == "300"  # 100 g and 200 g
    assert [one["grams"] for one in of(out, number)["to_tell"]] == ["200", "100"]


def test_a_case_when_someone_told_never_got_it_then_it_says_so(out):
    number = opened(out)
    told(out, number, customer="Corner Shpo")
    found = of(out, number)
    assert found["told_besides"] == ["Corner Shpo"]
    assert found["effectiveness"]["told"] == 0


def test_a_case_when_more_lots_belong_to_it_then_they_are_affected(out):
    number = opened(out, lots=[out.one])
    assert len(of(out, number)["affected"]) == 1
    out.record("case_step", case=number, what="wider", words="same machine", lots=[out.lot], at="2026-05-23T11:00")
    assert len(of(out, number)["affected"]) == 4


def test_a_case_when_closed_then_the_clock_stands(out):
    number = opened(out, known_since="2026-05-23T09:30")
    assert of(out, number)["minutes"] == 270  # from 9:30 in Paris (7:30 UTC) to noon UTC
    out.record("close_case", case=number, outcome="all came back", at="2026-05-23T11:30")
    found = of(out, number)
    assert found["minutes"] == 120
    assert found["closed"]["outcome"] == "all came back"
    assert [one["case"] for one in cases(out.ledger, NOW)] == [number]


def test_cases_when_listed_then_open_ones_stand_first_and_those_taken_back_are_gone(out):
    first, second, third = opened(out), opened(out), opened(out)
    out.record("close_case", case=third, outcome="nothing", at="2026-05-23T11:30")
    out.correct(second, None)
    assert [one["case"] for one in cases(out.ledger, NOW)] == [first, third]
    with pytest.raises(NotFoundError, match="case: expected the number of an opened case"):
        of(out, second)


def test_a_step_when_there_is_no_such_case_then_it_is_refused(out):
    with pytest.raises(NotFoundError, match="case: expected the number of an opened case, got 999"):
        told(out, 999)


def test_a_case_when_known_only_after_it_was_opened_then_it_is_refused(out):
    with pytest.raises(InputError, match="known_since: expected a time before the case was opened"):
        opened(out, known_since="2026-05-23T18:00")


def test_a_case_when_taken_back_although_someone_was_told_then_the_correction_is_refused(out):
    number = opened(out)
    told(out, number)
    with pytest.raises(ConflictError, match="later facts are still possible"):
        out.correct(number, None)


# --- the public ------------------------------------------------------------------------------------------------------
def test_a_hold_when_set_then_it_stays_inside(out):
    out.record("hold", lots=[out.lot], reason="glass")
    assert seen_by_buyer(out.ledger, out.one).warned == ()


def test_publishing_when_decided_then_buyers_are_warned_until_it_is_taken_back(out):
    number = opened(out)
    out.record("publish", case=number, lots=[out.lot], risk="allergen", allergen="mustard", by="Ada", at="2026-05-23T11:00")
    warned = seen_by_buyer(out.ledger, out.one).warned
    assert [(one.risk, one.allergen, one.since) for one in warned] == [("allergen", "mustard", dt.date(2026, 5, 23))]
    assert of(out, number)["published"] == [out.lot]
    assert not out.state(out.four).is_held
    out.record("unpublish", case=number, lots=[out.one], reason="another lot", by="Ada", at="2026-05-23T11:10")
    assert seen_by_buyer(out.ledger, out.one).warned == ()
    assert seen_by_buyer(out.ledger, out.two).warned != ()


def test_publishing_when_two_cases_warn_then_taking_one_back_leaves_the_other(out):
    one, two = opened(out), opened(out)
    for number, risk in ((one, "germ"), (two, "cure")):
        out.record("publish", case=number, lots=[out.one], risk=risk, by="Ada", at="2026-05-23T11:00")
    out.record("unpublish", case=one, lots=[out.one], reason="no germ found", by="Ada", at="2026-05-23T11:30")
    assert [warning.risk for warning in seen_by_buyer(out.ledger, out.one).warned] == ["cure"]


def test_publishing_when_it_is_no_pack_then_it_is_refused(out):
    number = opened(out)
    piece = next(one["code"] for one in batch_record(out.ledger, out.one)["made_of"])
    with pytest.raises(InputError, match=r"lots\[0\]: expected the code of a pack"):
        out.record("publish", case=number, lots=[piece], risk="germ", by="Ada", at="2026-05-23T11:00")


def test_publishing_when_the_allergen_is_none_of_the_law_then_it_is_refused(out):
    number = opened(out)
    with pytest.raises(InputError, match="allergen: expected"):
        out.record("publish", case=number, lots=[out.one], risk="allergen", allergen="garlic", by="Ada", at="2026-05-23T11:00")


def test_an_exercise_when_run_then_it_publishes_nothing(out):
    number = opened(out, "mock")
    with pytest.raises(ConflictError, match="an exercise, which publishes nothing"):
        out.record("publish", case=number, lots=[out.one], risk="germ", by="Ada", at="2026-05-23T11:00")
    told(out, number, still_had="0 g")
    assert of(out, number)["effectiveness"]["used_or_sold_on"] == "400"


def test_a_case_when_all_is_derived_anew_then_it_is_the_same(out):
    number = opened(out)
    told(out, number, still_had="100 g")
    out.record("publish", case=number, lots=[out.one], risk="germ", by="Ada", at="2026-05-23T11:00")
    before, dumped = of(out, number), out.dump()
    out.rebuild()
    assert of(out, number) == before
    assert out.dump() == dumped


# --- what a search hands on to a case --------------------------------------------------------------------------------
def test_a_search_when_it_hands_on_its_start_then_the_case_affects_the_same_lots(out):
    for suspicion in (Suspicion(ingredient="salt"), Suspicion(lots=(out.lot,)), Suspicion(lots=(out.one,), reach="slicer")):
        answer = recall(out.ledger, suspicion)
        number = opened(out, lots=answer["start"])
        assert [one["code"] for one in of(out, number)["affected"]] == [one["code"] for one in answer["affected"]]
    assert recall(out.ledger, Suspicion(lots=(out.lot,)))["start"] == [out.lot]
