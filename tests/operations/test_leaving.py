"""What leaves by the door: stopped where it went wrong, asked once where it may be right."""

from pathlib import Path

import pytest
from build import NOW, body

from labelsvc.errors import BlockedError, ConfirmationNeeded
from labelsvc.labels.shelf import Shelf
from labelsvc.operations.labelling import case_label, sale_label
from labelsvc.operations.recording import record

LAYOUTS = Shelf(Path(__file__).parents[2] / "label_layouts")
TODAY, YESTERDAY = "2026-11-25", "2026-11-24"


def label(shop, code):
    sale_label(shop.ledger, code, layouts=LAYOUTS, now=NOW)


def packed_today(shop, *weights, **more):
    """Packs of a released piece, packed today; the pack lot's code and those of its packs."""
    piece = shop.hanging_piece(hung="720 g")
    shop.release(piece, at="2026-05-20")
    return shop.pack([piece], *weights, at=TODAY, **more)


def leave(shop, kind, *packs, at=TODAY, ask=False, **more):
    to = {"sell": dict(customer="Corner Shop"), "give": dict(to="Bob")}[kind]
    return record(shop.ledger, kind, {"packs": list(packs), "at": at, "ask": ask, **to, **more}, now=NOW, who="Ada")


@pytest.mark.parametrize("kind_of_leaving", ["sell", "give"])
def test_pack_whose_buyers_are_warned_does_not_leave(shop, kind_of_leaving):
    _, first, second = packed_today(shop, "300 g", "340 g")
    case = shop.record("open_case", what="recall", reason="germ", lots=[first], at=TODAY).fact
    shop.record("publish", case=case, lots=[first], risk="germ", by="Ada", at=TODAY)
    with pytest.raises(BlockedError) as stopped:
        leave(shop, kind_of_leaving, first, confirmed=True)
    assert str(stopped.value) == (
        f"packs: expected packs that nobody is warned of, got {first}, whose buyers are warned in case {case}."
        " Take it off the shelf and hold it."
    )
    leave(shop, kind_of_leaving, second)  # of the same lot, but neither named by the case nor warned of


def test_pack_of_an_open_recall_is_asked_about_and_of_a_closed_one_not(shop):
    _, first, second = packed_today(shop, "300 g", "340 g")
    exercise = dict(body("open_case"), what="mock", lots=[second])
    shop.record("open_case", **exercise, at=TODAY)
    leave(shop, "sell", second)
    animal = shop.state(shop.state(shop.state(first).made_from[0]).parent).code
    case = shop.record("open_case", what="recall", reason="germ", lots=[animal], at=TODAY).fact
    with pytest.raises(ConfirmationNeeded, match=rf"{first}, which belongs to recall {case} \(germ\)"):
        leave(shop, "sell", first)
    shop.record("close_case", case=case, outcome="it was nothing", at=TODAY)
    leave(shop, "sell", first)


def test_label_silent_on_an_allergen_stops_until_it_is_printed_anew(shop):
    lot, first, second = packed_today(shop, "300 g", "340 g")
    label(shop, lot)
    case_label(shop.ledger, [lot], layouts=LAYOUTS, now=NOW)
    leave(shop, "sell", first)
    shop.record("ingredient", name="salt", allergens=["milk"], at=TODAY)
    case_label(shop.ledger, [second], layouts=LAYOUTS, now=NOW)  # names milk, but is on the case and not on the pack
    with pytest.raises(BlockedError) as stopped:
        leave(shop, "give", second, confirmed=True)
    assert str(stopped.value) == (
        f"packs: expected packs whose label names every allergen in them, got {second}, whose label does not name milk."
        " Take that label off, and print it anew."
    )
    assert [(one["rule"], one["severity"]) for one in stopped.value.findings] == [("eu.labelling.allergens", "stop")]
    label(shop, second)
    leave(shop, "give", second)


def test_pack_that_left_yesterday_with_a_silent_label_is_recorded_once_someone_says_so(shop):
    lot, first, _ = shop.packed("300 g", "340 g")
    label(shop, lot)
    shop.record("ingredient", name="salt", allergens=["milk"])
    with pytest.raises(ConfirmationNeeded, match="does not name milk"):
        leave(shop, "sell", first, at=YESTERDAY)
    leave(shop, "sell", first, at=YESTERDAY, confirmed=True)
    assert shop.state(first).holder == "Corner Shop"


def test_label_in_another_language_names_its_allergens(shop):
    shop.record("ingredient", name="salt", allergens=["milk"])
    product = {**body("product"), "languages": ["de"], "names": {"de": "Gereifter Schweinenacken"}}
    shop.record("product", **product)
    lot, *_ = packed_today(shop, "300 g", "340 g", language="de")
    label(shop, lot)
    leave(shop, "sell", lot)


@pytest.mark.parametrize(("mg_per_kg", "is_declared"), [("9", False), ("400", True)])
def test_sulphites_count_only_over_the_limit(shop, mg_per_kg, is_declared):
    # 10 mg/kg of the product as sold, Regulation (EU) No 1169/2011, Annex II point 12
    lot, first, _ = packed_today(shop, "300 g", "340 g")
    label(shop, lot)
    shop.record("ingredient", name="salt", so2_mg_per_kg=mg_per_kg, at=TODAY)
    if not is_declared:
        leave(shop, "sell", first)
        return
    with pytest.raises(BlockedError, match="does not name"):
        leave(shop, "sell", first)


def test_pack_without_a_label_is_asked_about_once_for_its_lot(shop):
    shop.record("ingredient", name="salt", allergens=["milk"])
    lot, first, second, third = packed_today(shop, "200 g", "200 g", "240 g")
    with pytest.raises(ConfirmationNeeded) as asked:
        leave(shop, "sell", first, ask=True)
    assert str(asked.value).startswith(
        f"packs: expected packs of {lot} with a label that was printed here, got {first}, of which none is recorded."
        " Print it, or say yes where one written by hand names milk."
    )
    leave(shop, "sell", first, ask=True, confirmed=True)
    assert not leave(shop, "give", second, ask=True).notes
    assert [note.field for note in leave(shop, "give", third).notes] == ["packs"]  # a program is told


def test_label_that_may_not_be_printed_is_named_with_its_reason(shop):
    shop.record("ingredient", name="mustard seed", allergens=["mustard"])
    other, mine = shop.green_piece(), shop.green_piece()
    shop.cure([other], (shop.ingredient(), "30 g"), (shop.ingredient("mustard seed"), "5 g"))
    shop.string(other, "1000 g", at="2026-03-10")
    shop.cure([mine], (shop.ingredient(), "30 g"), at="2026-03-11")
    shop.string(mine, "1000 g", at="2026-03-20")
    shop.release(mine, at="2026-05-20")
    _, pack = shop.pack([mine], "900 g", at=TODAY)
    with pytest.raises(ConfirmationNeeded, match="No label may be printed as it stands: Undecided: blue held mustard"):
        leave(shop, "sell", pack, ask=True)


@pytest.mark.parametrize(("form", "standing"), [("loose", "registered"), ("prepacked", "not_for_sale")])
def test_no_label_is_asked_for_where_none_is_due(shop, form, standing):
    shop.record("workshop", **{**body("workshop"), "standing": standing})
    _, first, _ = packed_today(shop, "300 g", "340 g", form=form)
    assert not leave(shop, "give", first, ask=True).notes


@pytest.mark.parametrize(("market", "rule"), [("eu", "eu.labelling.date_kind"), ("gb", "gb.labelling.date_kind")])
def test_after_its_use_by_date_nothing_leaves(shop, market, rule):
    shop.record("product", **{**body("product"), "date_kind": "use_by", "shelf_life_days": 1, "markets": [market]})
    piece = shop.hanging_piece(hung="720 g")
    shop.release(piece, at="2026-05-20")
    _, too_late = shop.pack([dict(piece=piece, rest="340 g")], "340 g", at="2026-11-23", market=market)
    _, on_the_day = shop.pack([piece], "340 g", at=YESTERDAY, market=market)
    leave(shop, "sell", on_the_day)
    with pytest.raises(BlockedError, match="expected packs before their date 2026-11-24, got") as stopped:
        leave(shop, "give", too_late, confirmed=True)
    assert [one["rule"] for one in stopped.value.findings] == [rule]


def test_after_its_best_before_date_one_yes_is_enough(shop):
    shop.record("product", **{**body("product"), "shelf_life_days": 1})
    _, late, _ = shop.packed("300 g", "340 g")
    with pytest.raises(ConfirmationNeeded, match="before their date"):
        leave(shop, "sell", late)
    leave(shop, "sell", late, confirmed=True)


def test_correction_that_adds_a_pack_meets_the_door_and_one_of_what_had_left_does_not(shop):
    lot, first, second = packed_today(shop, "300 g", "340 g")
    label(shop, lot)
    sold = leave(shop, "sell", first).fact
    shop.record("ingredient", name="salt", allergens=["milk"], at=TODAY)
    again = dict(customer="Corner Shop", packs=[first], document="D 7")
    shop.record("correct", fact=sold, instead=again, reason="the note", at=TODAY)
    with pytest.raises(BlockedError, match=f"{second}, whose label does not name milk"):
        shop.record("correct", fact=sold, instead={**again, "packs": [first, second]}, reason="both", at=TODAY)


def test_label_for_a_market_we_do_not_know_is_called_unchecked(shop):
    _, first, _ = packed_today(shop, "300 g", "340 g", market="se")
    label = dict(layout="their_own", layout_digest="0" * 64, content={}, market="se", language="en")
    shop.record("issue_label", lots=[first], at=TODAY, **label)
    shop.record("ingredient", name="salt", allergens=["milk"], at=TODAY)
    with pytest.raises(ConfirmationNeeded, match="Unchecked: market: expected one of eu, gb, us"):
        leave(shop, "sell", first)
