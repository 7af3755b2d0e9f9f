"""A hold says what was made of its lots before, and what of it has left: it does not reach them by itself."""

import pytest


@pytest.mark.parametrize(("kind", "why"), [("hold", "reason"), ("incident", "what")])
def test_piece_held_after_some_of_it_was_packed_names_its_packs(shop, kind, why):
    piece = shop.hanging_piece(hung="720 g")
    shop.release(piece, at="2026-05-20")
    _, sold, *here = shop.pack([dict(piece=piece, rest="400 g")], "60 g", "60 g", "60 g", "60 g", "60 g", at="2026-05-21")
    shop.sell(sold, at="2026-05-22")
    (note,) = shop.record(kind, lots=[piece], at="2026-05-23", **{why: "glass"}).as_json()["notes"]
    assert note == (
        f"lots: expected what was made of them to be held as well, got 4 that are free: {', '.join(here[:3])} and 1 more;"
        f" 1 that left: {sold}. Hold what is here too. All of it, and who has it: labelsvc recall --lot {piece}"
    )
    assert not shop.state(here[0]).is_held  # a person decides
    (note,) = shop.record("hold", lots=here, reason="glass", at="2026-05-23").as_json().get("notes", [None])
    assert note is None


def test_ingredient_or_animal_held_names_every_piece_made_of_it(shop):
    animal, salt = shop.receive(), shop.ingredient()
    one, two = shop.cut(animal, "1 kg", "1 kg")
    shop.cure([one], (salt, "30 g"))
    assert shop.record("hold", lots=[salt], reason="bad salt").notes[0].got == f"1 that is free: {one}"
    assert shop.record("hold", lots=[animal], reason="ill").notes[0].got == f"2 that are free: {one}, {two}"


def test_hold_dated_before_the_packing_reaches_the_packs_and_names_none(shop):
    _, *packs = shop.packed("300 g", "340 g")
    (piece,) = shop.state(packs[0]).made_from
    assert shop.record("hold", lots=[piece], reason="mould", at="2026-05-20T23:59:59").notes == ()
    assert all(shop.state(pack).is_held for pack in packs)
