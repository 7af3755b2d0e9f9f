"""A search by what a label did not say counts the label that the pack left with."""

from pathlib import Path

from build import NOW

from labelsvc.labels.shelf import Shelf
from labelsvc.operations.labelling import sale_label
from labelsvc.operations.recalling import Suspicion, recall

LAYOUTS = Shelf(Path(__file__).parents[2] / "label_layouts")


def test_pack_sold_before_the_allergen_was_known_stays_found_after_its_lot_is_labelled_anew(shop):
    lot, first, second = shop.packed("300 g", "340 g")
    sale_label(shop.ledger, lot, layouts=LAYOUTS, now=NOW)
    shop.sell(first, at="2026-05-22")
    shop.record("ingredient", name="salt", allergens=["milk"])
    found = {one["code"] for one in recall(shop.ledger, Suspicion(undeclared="milk"))["affected"]}
    assert found == {first, second}
    sale_label(shop.ledger, lot, layouts=LAYOUTS, now=NOW)
    found = {one["code"] for one in recall(shop.ledger, Suspicion(undeclared="milk"))["affected"]}
    assert found == {first}
