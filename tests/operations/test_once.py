"""A retry is safe: under its key a request is recorded once, on each door, whatever was lost on the way back."""

import datetime as dt
import json

import build
import pytest
from by_hand import Hand

from labelsvc.errors import ConfirmationNeeded, ConflictError, InputError
from labelsvc.ledger.database import open_ledger
from labelsvc.operations import keeping, packing
from labelsvc.operations.recording import record, record_all

GOODS = build.body("receive")


def received(shop, once, **changes):
    return record(shop.ledger, "receive", {**GOODS, **changes}, now=build.NOW, who="Ada", once=once)


def test_request_when_sent_again_under_its_key_then_the_same_answer_and_one_fact(file_shop):
    first = received(file_shop, "k1")
    again = build.Shop(open_ledger(file_shop.url))  # another process, or the same one after a restart
    assert received(again, "k1") == first
    assert again.facts() == first.fact == 11
    again.ledger.close()


def test_request_when_nothing_but_the_key_differs_then_two_facts(shop):
    assert received(shop, "k1").codes != received(shop, "k2").codes


def test_request_when_the_key_stands_for_another_then_a_conflict_names_the_first(shop):
    received(shop, "k1")
    with pytest.raises(
        ConflictError,
        match=r"^once: expected a new key for a new request, got k1, under which fact 11 was recorded\. "
        r"What was sent first stands\. To change it, correct fact 11\.$",
    ):
        received(shop, "k1", weight="81 kg")
    assert shop.facts() == 11


def test_answer_when_it_carries_notes_then_they_come_again(shop):
    piece = shop.hanging_piece()
    given = dict(piece=piece, weight="990 g", at="2026-03-25")
    first, again = (record(shop.ledger, "weigh", given, now=build.NOW, once="w") for _ in range(2))
    assert again == first
    assert again.as_json() == first.as_json()


def test_question_when_answered_under_the_same_key_then_it_is_recorded(shop):
    lot = shop.ingredient(weight="5 kg")
    given = dict(lot=lot, weight="1 kg", at="2026-03-05")
    with pytest.raises(ConfirmationNeeded):
        record(shop.ledger, "count", given, now=build.NOW, once="c")
    assert record(shop.ledger, "count", given, now=build.NOW, once="c", confirmed=True).fact == 12


@pytest.mark.parametrize("key", ["k" * 201, "tab\t", "é"])
def test_key_when_it_cannot_be_then_an_error_says_so(shop, key):
    with pytest.raises(InputError, match=r"^once: expected a key of 1 to 200 letters, digits and signs of ASCII, got "):
        received(shop, key)
    assert shop.facts() == 10


def test_packing_when_each_step_is_sent_twice_then_each_pack_is_there_once(shop):
    piece = shop.hanging_piece(hung="720 g")
    shop.release(piece, at="2026-05-20")
    body = {"from": [{"piece": piece}], "packs": [{"weight": "100 g"}], "session": "s", "market": "eu", "language": "en",
            "form": "prepacked"}  # fmt: skip
    said = dict(now=build.NOW, who="Ada")
    begun = [packing.begin(shop.ledger, body, once="a", **said) for _ in range(2)]
    more = [packing.add_packs(shop.ledger, begun[0].fact, ["50 g"], once="b", **said) for _ in range(2)]
    ended = [packing.finish(shop.ledger, begun[0].fact, [{"piece": piece, "rest": "550 g"}], once="c", **said) for _ in range(2)]
    for first, again in (begun, more, ended):
        assert first == again
    assert [grams for _, grams in packing.session_of(shop.ledger, begun[0].fact).packs] == ["100", "50"]


def test_decisions_of_one_incident_are_all_recorded_or_none(shop):
    one, two = shop.hanging_piece(), shop.hanging_piece()
    shop.record("hold", lots=[one], reason="mould", at="2026-04-01")
    before = shop.facts()
    acts = [("lift", dict(lots=[one], reason="flour")), ("dispose", dict(lot=two, how="destroyed")), ("dispose", dict(lot="P1"))]
    with pytest.raises(InputError):
        record_all(shop.ledger, acts, now=build.NOW)
    assert shop.facts() == before
    assert shop.state(one).is_held
    told = [record_all(shop.ledger, acts[:2], now=build.NOW, once="d") for _ in range(2)]
    assert told[0] == told[1]
    assert shop.facts() == before + 2


def test_command_when_typed_again_with_its_key_then_the_same_answer(file_shop):
    hand = Hand(file_shop.url)
    told = [hand("supplier", "Hill Farm", "--once", "k", "--json").json for _ in range(2)]
    assert told[0] == told[1]
    by_json = [hand("record", "receive", "--once", "j", given=json.dumps(GOODS)) for _ in range(2)]
    assert by_json[0] == by_json[1]
    assert file_shop.facts() == 12


@pytest.mark.parametrize(("days", "is_forgotten"), [(30, False), (31, True)])  # after 30 days, as the README says
def test_key_when_its_time_is_over_then_it_is_forgotten_and_the_fact_stays(shop, days, is_forgotten):
    received(shop, "k1")
    assert keeping.forget_old_keys(shop.ledger, build.NOW + dt.timedelta(days=days)) == is_forgotten
    assert shop.facts() == 11
