"""Two people at one packing session, or at two sessions of the same piece, at the same moment: no pack is lost."""

import subprocess
import sys
import textwrap
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from threading import Barrier

import build
import pytest

from labelsvc.errors import BlockedError, ConflictError, InputError
from labelsvc.operations import packing

FIELDS = {"market": "eu", "language": "en", "form": "prepacked"}


@pytest.fixture
def shop(file_shop):
    """A workshop as several stations see it."""
    return file_shop


def released(shop):
    """A piece of 700 g net that may be packed."""
    piece = shop.hanging_piece(hung="720 g")
    shop.release(piece, at="2026-05-20")
    return piece


def begin(shop, piece, weight, session, who="Ada"):
    body = {**FIELDS, "from": [{"piece": piece}], "packs": [{"weight": weight}], "session": session}
    return packing.begin(shop.ledger, body, now=build.NOW, who=who)


def add(shop, fact, *weights, who="Ada"):
    return packing.add_packs(shop.ledger, fact, weights, now=build.NOW, who=who)


def grams(session):
    return sorted(int(weight) for _, weight in session.packs)


def test_one_session_when_two_pack_at_the_same_moment_then_every_pack_is_there(shop):
    piece = released(shop)
    fact = begin(shop, piece, "50 g", "neck").fact
    gate = Barrier(2)

    def packs(first):
        gate.wait()
        return [add(shop, fact, f"{first + number} g").codes[-1] for number in range(3)]

    with ThreadPoolExecutor(2) as hands:
        given = [code for codes in hands.map(packs, (20, 30)) for code in codes]
    assert grams(packing.session_of(shop.ledger, fact)) == [20, 21, 22, 30, 31, 32, 50]
    assert len(set(given)) == 6  # each hand was told its own pack
    assert shop.state(piece).milligrams == 494_000  # 700 - 50 - 63 - 93


def test_one_session_when_two_processes_pack_then_every_pack_is_there(shop):
    piece = released(shop)
    fact = begin(shop, piece, "50 g", "neck").fact
    script = textwrap.dedent("""
        import datetime, sys
        from labelsvc.ledger.database import open_ledger
        from labelsvc.operations import packing
        for number in range(3):
            packing.add_packs(open_ledger(sys.argv[1]), int(sys.argv[2]), [f"{int(sys.argv[3]) + number} g"],
                              now=datetime.datetime(2026, 11, 25, 9, tzinfo=datetime.UTC), who="Ben")
    """)
    argv = [sys.executable, "-c", script, shop.url, str(fact)]
    hands = [subprocess.Popen([*argv, first], cwd=Path(__file__).parents[2]) for first in ("20", "30")]
    assert [hand.wait(timeout=60) for hand in hands] == [0, 0]
    assert grams(packing.session_of(shop.ledger, fact)) == [20, 21, 22, 30, 31, 32, 50]
    assert shop.state(piece).milligrams == 494_000


def test_one_piece_when_two_sessions_take_from_it_in_turn_then_both_lots_and_the_rest_are_right(shop):
    piece = released(shop)
    one = begin(shop, piece, "120 g", "sliced").fact
    two = begin(shop, piece, "130 g", "whole").fact
    add(shop, one, "140 g")
    add(shop, two, "50 g")
    add(shop, one, "60 g")
    assert grams(packing.session_of(shop.ledger, one)) == [60, 120, 140]
    assert grams(packing.session_of(shop.ledger, two)) == [50, 130]
    assert shop.state(piece).milligrams == 200_000  # 700 - 320 - 180
    assert_nothing_is_found_or_dried(shop, one, two)


def assert_nothing_is_found_or_dried(shop, *facts):
    ends = {account for fact in facts for flow in shop.flows(fact) for account, _ in flow}
    assert not ends & {"drying", "count difference"}


def test_one_piece_when_two_begin_at_the_same_moment_then_neither_counts_the_others_pack_as_rest(shop):
    piece = released(shop)
    gate = Barrier(2)

    def begun(weight):
        gate.wait()
        return begin(shop, piece, weight, weight).fact

    with ThreadPoolExecutor(2) as hands:
        facts = list(hands.map(begun, ("120 g", "130 g")))
    assert shop.state(piece).milligrams == 450_000  # 700 - 250
    assert_nothing_is_found_or_dried(shop, *facts)


def test_one_piece_when_the_earlier_session_ends_then_the_rest_on_the_scale_is_what_is_left_now(shop):
    piece = released(shop)
    one = begin(shop, piece, "120 g", "sliced").fact
    begin(shop, piece, "130 g", "whole")
    left = [{"piece": piece, "rest": "440 g"}]
    packing.finish(shop.ledger, one, left, now=build.NOW, who="Ada")
    assert shop.state(piece).milligrams == 440_000  # 700 - 250, and 10 g dried meanwhile
    assert [milligrams for flow in shop.flows(one) for account, milligrams in flow if account == "drying"] == [10_000]


def test_one_piece_when_another_session_left_less_than_the_pack_then_it_is_refused_whole(shop):
    piece = released(shop)
    one = begin(shop, piece, "120 g", "sliced").fact
    begin(shop, piece, "500 g", "whole")
    before = shop.facts()
    with pytest.raises(InputError, match="at most the 80 g that are left"):
        add(shop, one, "90 g")
    assert shop.facts() == before


def test_one_session_when_its_piece_was_weighed_since_then_it_asks_for_another_session(shop):
    piece = released(shop)
    one = begin(shop, piece, "120 g", "sliced").fact
    shop.weigh(piece, "590 g", at="2026-11-25")  # 570 g net
    with pytest.raises(ConflictError, match="begin another"):
        add(shop, one, "90 g")
    two = begin(shop, piece, "90 g", "sliced on").fact
    assert shop.state(piece).milligrams == 480_000  # 570 - 90
    assert_nothing_is_found_or_dried(shop, one, two)


def test_the_ledger_when_two_sessions_were_put_right_then_a_rebuild_gives_the_same(shop):
    piece = released(shop)
    one = begin(shop, piece, "120 g", "sliced").fact
    begin(shop, piece, "130 g", "whole")
    add(shop, one, "140 g")
    before = shop.dump()
    shop.rebuild()
    assert shop.dump() == before


@pytest.mark.parametrize(("trouble", "said"), [("hold", "reason"), ("incident", "what")])
def test_session_when_its_piece_is_held_meanwhile_then_no_pack_is_added_and_its_rest_can_be_said(shop, trouble, said):
    piece = released(shop)
    fact = begin(shop, piece, "50 g", "neck").fact
    shop.record(trouble, lots=[piece], at="2026-11-25", **{said: "glass"})
    with pytest.raises(BlockedError) as stopped:
        add(shop, fact, "50 g")
    assert str(stopped.value) == f"from: expected a piece that is not held (glass), got {piece}. Lift the hold first."
    packing.finish(shop.ledger, fact, [{"piece": piece, "rest": "640 g"}], now=build.NOW, who="Ada", confirmed=True)
    assert shop.state(piece).milligrams == 640_000
    shop.record("lift", lots=[piece], reason="it was flour", at="2026-11-25")
    assert len(packing.add_packs(shop.ledger, fact, ["50 g"], now=build.NOW, who="Ada", confirmed=True).codes) == 3
