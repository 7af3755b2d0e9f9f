"""How far a recall reaches: each step holds the one before it and adds what lay beside."""

from itertools import pairwise

import pytest

from labelsvc.operations.recalling import Suspicion, recall

REACHES = ("mass", "tub", "slicer", "room")


def affected(shop, code, reach, **more):
    return {one["code"] for one in recall(shop.ledger, Suspicion(lots=(code,), reach=reach, **more))["affected"]}


@pytest.fixture
def rooms(shop):
    """Two pieces of one tub in different rooms; a third of another tub beside the first; one that met none of them."""
    shop.salt = shop.ingredient()
    shop.one, shop.mate, shop.neighbour, shop.stranger = (shop.green_piece() for _ in range(4))
    shop.cure([shop.one, shop.mate], (shop.salt, "60 g"), tub="blue")
    shop.cure([shop.neighbour], (shop.ingredient(), "30 g"), tub="red")
    shop.cure([shop.stranger], (shop.ingredient(), "30 g"), tub="green")
    for piece, place in ((shop.one, "room 1"), (shop.mate, "room 2"), (shop.neighbour, "room 1"), (shop.stranger, "room 3")):
        shop.string(piece, "720 g", place, tare="20 g", at="2026-03-20")
        shop.release(piece, at="2026-05-20")
    return shop


def packed(shop, piece, day, slicer="slicer", session=None):
    return shop.pack([piece], "680 g", at=day, slicer=slicer, session=session or f"of {piece}", yes=True)


def test_each_reach_when_widened_then_it_holds_all_that_the_one_before_it_held(rooms):
    sets = [affected(rooms, rooms.one, reach) for reach in REACHES]
    assert all(narrow <= wide for narrow, wide in pairwise(sets))
    assert rooms.mate in sets[1] - sets[0]
    assert rooms.neighbour in sets[3] - sets[2]
    assert all(rooms.stranger not in one for one in sets)


def test_the_tub_when_a_pack_is_suspected_then_it_is_that_of_its_piece(rooms):
    lot, _ = packed(rooms, rooms.one, "2026-05-21")
    assert affected(rooms, lot, "mass") == {f"{lot}/1"}
    assert {rooms.one, rooms.mate} <= affected(rooms, lot, "tub")


def test_a_slicer_when_not_cleaned_between_then_what_was_on_it_is_reached_both_ways(rooms):
    before, _ = packed(rooms, rooms.stranger, "2026-05-20T08:00")
    lot, _ = packed(rooms, rooms.one, "2026-05-21T08:00")
    after, _ = packed(rooms, rooms.neighbour, "2026-05-22T08:00")
    assert {f"{before}/1", f"{lot}/1", f"{after}/1"} <= affected(rooms, lot, "slicer")


def test_a_session_when_its_packings_are_minutes_apart_then_they_met_and_one_of_another_day_did_not(rooms):
    lot, _ = packed(rooms, rooms.one, "2026-05-21T10:00", slicer=None, session="Monday")
    same, _ = packed(rooms, rooms.stranger, "2026-05-21T10:20", slicer=None, session="monday")
    later, _ = packed(rooms, rooms.neighbour, "2026-05-28T10:00", slicer=None, session="Monday")
    reached = affected(rooms, lot, "slicer")
    assert f"{same}/1" in reached
    assert f"{later}/1" not in reached
    assert f"{same}/1" not in affected(rooms, lot, "tub")


def test_a_slicer_when_cleaned_then_the_reach_ends_there(rooms):
    before, _ = packed(rooms, rooms.stranger, "2026-05-20T08:00")
    rooms.record("clean", thing="slicer", allergen_clean=False, at="2026-05-20T18:00")
    lot, _ = packed(rooms, rooms.one, "2026-05-21T08:00")
    rooms.record("clean", thing="Slicer", allergen_clean=False, at="2026-05-21T18:00")
    after, _ = packed(rooms, rooms.neighbour, "2026-05-22T08:00")
    reached = affected(rooms, lot, "slicer")
    assert f"{lot}/1" in reached
    assert not {f"{before}/1", f"{after}/1"} & reached


def test_a_slicer_when_cleaned_as_every_day_then_an_allergen_is_still_on_it(rooms):
    rooms.record("ingredient", name="mustard", allergens=["mustard"], at="2026-03-01")
    mustard = rooms.record(
        "receive", supplier="Meadow Farm", kind="ingredient", name="mustard", weight="1 kg", at="2026-03-01"
    ).codes[0]  # fmt: skip
    piece = rooms.green_piece()
    rooms.cure([piece], (mustard, "30 g"), tub="yellow")
    rooms.string(piece, "720 g", "room 4", tare="20 g", at="2026-03-20")
    rooms.release(piece, at="2026-05-20")
    carrier, _ = packed(rooms, piece, "2026-05-21T08:00")
    rooms.record("clean", thing="slicer", allergen_clean=False, at="2026-05-21T12:00")
    daily, _ = packed(rooms, rooms.one, "2026-05-21T14:00")
    rooms.record("clean", thing="slicer", allergen_clean=True, at="2026-05-21T18:00")
    free, _ = packed(rooms, rooms.neighbour, "2026-05-22T08:00")
    answer = recall(rooms.ledger, Suspicion(undeclared="mustard", reach="slicer"))
    reached = {one["code"] for one in answer["affected"]}
    assert {f"{carrier}/1", f"{daily}/1"} <= reached
    assert f"{free}/1" not in reached
