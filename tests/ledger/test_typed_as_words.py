"""True, false and numbers typed as words, as a command line or a till sends them: a no is a no wherever the fact is read."""

import build
import pytest

from labelsvc.ledger import issued, read
from labelsvc.ledger.around import last_allergen_clean
from labelsvc.ledger.database import open_ledger
from labelsvc.ledger.meetings import met
from labelsvc.ledger.search import sale_labels_of
from labelsvc.operations import keeping

LONG_AFTER = "2026-12-01T00:00:00.000000Z"


@pytest.fixture
def shop(cards_url):
    shop = build.Shop(open_ledger(cards_url))
    yield shop
    keeping.verify(shop.ledger, deep=True)  # whatever was typed how, the projections are as sealed
    shop.ledger.close()


def test_cleaning_that_was_not_allergen_clean_when_typed_as_a_word_then_the_reach_goes_on(shop):
    shop.record("clean", thing="slicer", allergen_clean="false")
    with shop.ledger.reading() as connection:
        assert last_allergen_clean(connection, "slicer", LONG_AFTER) == ""
    shop.record("clean", thing="slicer", allergen_clean="true", at="2026-03-03T10:00")
    with shop.ledger.reading() as connection:
        assert last_allergen_clean(connection, "slicer", LONG_AFTER) == "2026-03-03T09:00:00.000000Z"


@pytest.mark.parametrize(("said", "meets"), [(True, False), ("true", False), ("false", True), (False, True)])
def test_packs_before_and_after_a_cleaning_when_it_is_typed_either_way_then_they_meet_alike(shop, said, meets):
    first, second = (shop.hanging_piece(hung="720 g") for _ in range(2))
    for piece in (first, second):
        shop.release(piece, at="2026-05-20")
    before = shop.pack([first], "350 g", slicer="slicer", at="2026-05-21T09:00", session="a", yes=True)[1]
    shop.record("clean", thing="slicer", allergen_clean=said, at="2026-05-21T10:00")
    after = shop.pack([second], "350 g", slicer="slicer", at="2026-05-21T11:00", session="b", yes=True)[1]
    with shop.ledger.reading() as connection:
        own, other = read.find(connection, before), read.find(connection, after)
        found = {one.number for one in met(connection, [own.number], ["slicer"], "allergen-clean")}
    assert (other.number in found) is meets


def test_label_when_the_number_of_its_end_is_typed_as_a_word_then_it_counts_no_more(shop):
    pack = shop.packed("350 g", "340 g")[1]
    label = dict(layout="sale_label", layout_digest="0" * 64, content={}, market="eu")
    number = shop.record("issue_label", lots=[pack], at="2026-05-21", **label).fact
    with shop.ledger.reading() as connection:
        assert [fact for fact, _ in sale_labels_of(connection, [pack])[pack]] == [number]
    shop.record("reprint_label", label=str(number), lots=[pack], reason="torn", at="2026-05-22")
    shop.record("void_label", label=str(number), lots=[pack], reason="taken off", at="2026-05-22")
    with shop.ledger.reading() as connection:
        assert sale_labels_of(connection, [pack]) == {pack: []}
        (one,) = issued.labels_of(connection, pack)
        assert (one["void"], [again["reason"] for again in one["reprints"]]) == ("taken off", ["torn"])


def test_correction_when_its_yes_is_typed_as_a_word_then_it_reads_as_one(shop):
    wrong = shop.record("clean", thing="slicer", allergen_clean=True)
    shop.correct(str(wrong.fact), {"thing": "slicer", "allergen_clean": "false", "ask": False})
    with shop.ledger.reading() as connection:
        assert last_allergen_clean(connection, "slicer", LONG_AFTER) == ""
    assert shop.fact_body(shop.last.fact)["given"]["instead"]["allergen_clean"] == "false"
