"""Allergens that a tub or machine may have left: asked at packing, kept in the fact, and nothing is printed undecided."""

import datetime as dt

import pytest
from build import NOW, body

from labelsvc.errors import BlockedError, ConfirmationNeeded, InputError
from labelsvc.ledger import read
from labelsvc.operations.content import sale_said
from labelsvc.operations.labelling import sale_label
from labelsvc.operations.recording import record
from labelsvc.settings import layouts

DAY = dt.date(2026, 5, 22)


def hung(shop, *mix, tub="blue", weight="1000 g", day="2026-03-02", **more):
    """A released piece cured in a tub, and strung three weeks later with 700 g net."""
    shop.day = day
    piece = shop.green_piece(weight)
    shop.cure([piece], *mix, tub=tub, **more)
    shop.string(piece, "720 g", tare="20 g", at="2026-03-23")
    shop.release(piece, at="2026-05-20")
    return piece


@pytest.fixture
def kitchen(shop):
    """A workshop whose blue tub held mustard until 23 March, and a plain piece that lay in it from 5 March on."""
    shop.record("ingredient", name="mustard", category="spice", allergens=["mustard"])
    shop.salt, shop.mustard = shop.ingredient(), shop.ingredient("mustard", "1 kg")
    shop.spiced = hung(shop, (shop.salt, "30 g"), (shop.mustard, "5 g"))
    shop.plain = hung(shop, (shop.salt, "30 g"), day="2026-03-05")
    return shop


def packed(shop, piece, at, *, yes=False, **more):
    """Pack at the bench, where someone can be asked; return the codes."""
    given = {**body("pack"), "from": [dict(piece=piece)], "packs": [dict(weight="700 g")], "at": at, **more}
    now = dt.datetime(2026, 5, 25, 9, tzinfo=dt.UTC)
    return record(shop.ledger, "pack", given, now=now, who="Ada", confirmed=yes, is_at_bench=True).codes


def findings(shop, code):
    with shop.ledger.reading() as connection:
        said = sale_said(connection, read.find(connection, code), DAY)
    return [one for one in said.findings if one.rule.endswith(".shared_equipment")], said


def test_packing_when_the_tub_held_another_allergen_then_it_is_asked_and_yes_is_kept_in_the_fact(kitchen):
    with pytest.raises(ConfirmationNeeded) as asked:
        packed(kitchen, kitchen.plain, "2026-05-21")
    assert asked.value.field == "may_contain"
    assert asked.value.got == "blue held mustard and no allergen clean of it is recorded"
    _, pack = packed(kitchen, kitchen.plain, "2026-05-21", yes=True)
    assert kitchen.state(pack).may_contain == ()
    (note,), said = findings(kitchen, pack)
    assert (note.severity, note.exceeded) == ("note", False)
    assert "decided at packing that the label warns of nothing" in note.message
    assert "May contain" not in said.content.text("statements")


def test_packing_when_the_answer_is_to_warn_then_the_label_says_may_contain(kitchen):
    _, pack = packed(kitchen, kitchen.plain, "2026-05-21", may_contain=["mustard"])
    (note,), said = findings(kitchen, pack)
    assert note.message.endswith("the label warns of mustard.")
    assert said.content.text("statements") == "May contain: mustard"


def test_packing_when_the_piece_declares_the_allergen_itself_then_nothing_is_asked(kitchen):
    _, pack = packed(kitchen, kitchen.spiced, "2026-05-21")
    assert findings(kitchen, pack)[0] == []


def test_packing_when_the_tub_was_cleaned_of_allergens_between_then_nothing_is_asked(shop):
    shop.record("ingredient", name="mustard", allergens=["mustard"])
    salt, mustard = shop.ingredient(), shop.ingredient("mustard", "1 kg")
    spiced = hung(shop, (salt, "30 g"), (mustard, "5 g"))
    shop.record("clean", at="2026-04-01", thing="Blue", allergen_clean=True)
    shop.day = "2026-04-02"
    piece = shop.green_piece()
    shop.cure([piece], (salt, "30 g"))
    shop.string(piece, "720 g", tare="20 g", at="2026-04-20")
    shop.release(piece, at="2026-05-20")
    assert packed(shop, piece, "2026-05-21")
    assert shop.state(spiced).phase == "hanging"


def test_packing_when_the_tub_was_only_rinsed_then_it_is_asked(shop):
    shop.record("ingredient", name="mustard", allergens=["mustard"])
    salt, mustard = shop.ingredient(), shop.ingredient("mustard", "1 kg")
    hung(shop, (salt, "30 g"), (mustard, "5 g"))
    shop.record("clean", at="2026-04-01", thing="blue", allergen_clean=False)
    piece = shop.green_piece()
    shop.cure([piece], (salt, "30 g"), at="2026-04-02")
    shop.string(piece, "720 g", tare="20 g", at="2026-04-20")
    shop.release(piece, at="2026-05-20")
    with pytest.raises(ConfirmationNeeded, match="blue held mustard"):
        packed(shop, piece, "2026-05-21")


@pytest.mark.parametrize(("first", "second"), [(dict(slicer="the slicer"), dict(slicer="The Slicer")),
                                               (dict(things=["vacuum machine"]), dict(things=["Vacuum machine"]))])  # fmt: skip
def test_packing_when_a_slicer_or_machine_had_an_allergen_before_then_it_is_asked(shop, first, second):
    shop.record("ingredient", name="mustard", allergens=["mustard"])
    salt, mustard = shop.ingredient(), shop.ingredient("mustard", "1 kg")
    spiced = hung(shop, (salt, "30 g"), (mustard, "5 g"), tub="red")
    plain = hung(shop, (salt, "30 g"), tub="white")
    packed(shop, spiced, "2026-05-20", **first)
    with pytest.raises(ConfirmationNeeded, match=r"(?i)(slicer|vacuum machine) held mustard"):
        packed(shop, plain, "2026-05-21", **second)
    shop.record("clean", at="2026-05-21", thing=next(iter(first.values())) if "slicer" in first else "vacuum machine",
                allergen_clean=True)  # fmt: skip
    assert packed(shop, plain, "2026-05-22", **second)


def test_label_when_contact_becomes_known_after_packing_then_it_stops_until_someone_decides(shop):
    """A bowl entered late: the packs exist, no label leaves, and the decision is a correction of the packing."""
    shop.record("ingredient", name="mustard", allergens=["mustard"])
    shop.day = "2026-03-01"
    salt, mustard = shop.ingredient(), shop.ingredient("mustard", "1 kg")
    plain = hung(shop, (salt, "30 g"), tub="white", things=["bowl"], day="2026-03-05")
    lot, pack = shop.pack([plain], "700 g", at="2026-05-21")
    packing = shop.last.fact
    shop.day = "2026-03-03"
    spiced = shop.green_piece()
    shop.cure([spiced], (salt, "30 g"), (mustard, "5 g"), tub="red", things=["bowl"], at="2026-03-04")
    (stop,), _ = findings(shop, pack)
    assert (stop.severity, stop.exceeded) == ("stop", True)
    with pytest.raises(BlockedError, match="Undecided: bowl held mustard"):
        sale_label(shop.ledger, lot, layouts=layouts(), now=NOW)
    shop.correct(packing, body("pack", from_=[dict(piece=plain)], packs=[dict(weight="700 g")], may_contain=[]), yes=True)
    (note,), _ = findings(shop, pack)
    assert note.severity == "note"


def test_may_contain_when_it_is_no_allergen_of_the_law_then_it_is_refused(kitchen):
    with pytest.raises(InputError, match=r"^may_contain: expected a substance of the allergen list"):
        packed(kitchen, kitchen.plain, "2026-05-21", may_contain=["lemons"])


def test_packing_when_nobody_is_there_to_be_asked_then_told_and_the_label_waits(kitchen):
    """By the interface: what is packed is packed, a yes to everything decides nothing, and no label is printed undecided."""
    lot, pack = kitchen.pack([kitchen.plain], "700 g", at="2026-05-21", yes=True)
    assert [note.field for note in kitchen.last.notes] == ["may_contain"]
    assert kitchen.state(pack).may_contain is None
    with pytest.raises(BlockedError, match="Undecided: blue held mustard"):
        sale_label(kitchen.ledger, lot, layouts=layouts(), now=NOW)
