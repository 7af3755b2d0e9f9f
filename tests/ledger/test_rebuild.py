"""The projections are the same whether facts, corrections and late entries came one by one, or all are derived anew."""

import pytest
from random_ledgers import Story, story
from sqlalchemy import text

from labelsvc.ledger import replay, verify

SEEDS = range(200)


@pytest.mark.parametrize("seed", SEEDS)
def test_projections_after_any_story_equal_those_after_a_rebuild(seed):
    shop = story(seed).shop
    grown = shop.dump()
    shop.rebuild()
    rebuilt = shop.dump()
    assert grown == rebuilt


@pytest.mark.parametrize("seed", range(20))
@pytest.mark.parametrize(("facts_a_batch", "lots_at_hand"), [(1, 0), (7, 3)])
def test_rebuild_does_not_depend_on_its_batches(seed, facts_a_batch, lots_at_hand, monkeypatch):
    shop = story(seed).shop
    grown = shop.dump()
    monkeypatch.setattr(replay, "_FACTS_A_BATCH", facts_a_batch)
    monkeypatch.setattr(replay, "_LOTS_AT_HAND", lots_at_hand)
    shop.rebuild()
    assert shop.dump() == grown


@pytest.mark.parametrize("kind", ["postgresql"])
@pytest.mark.parametrize("seed", range(8))
def test_story_on_a_server_leaves_what_it_leaves_in_a_file_and_so_does_its_rebuild(seed, shop):
    told = Story(seed, steps=34, shop=shop)
    assert told.refused == story(seed).refused
    assert shop.dump() == story(seed).shop.dump()
    shop.rebuild()
    assert shop.dump() == story(seed).shop.dump()


@pytest.mark.parametrize("seed", SEEDS)
def test_ledger_after_any_story_holds_together(seed):
    """Every flow sums to zero, every lot is the sum of its postings, no lot is below zero, and the chain is whole."""
    sealed = story(seed).shop.facts()
    with story(seed).shop.ledger.reading() as connection:
        uneven = connection.execute(text("SELECT fact, flow FROM postings GROUP BY fact, flow HAVING sum(milligrams) <> 0"))
        assert uneven.all() == []
        sums = connection.execute(
            text("SELECT code, l.milligrams, coalesce(sum(p.milligrams), 0) FROM lots l LEFT JOIN postings p ON p.lot = l.id "
                 "GROUP BY code, l.milligrams")
        )  # fmt: skip
        assert [row for row in sums if row[1] != row[2]] == []
        assert connection.execute(text("SELECT code, milligrams FROM lots WHERE milligrams < 0")).all() == []
        verify.verify_projection(connection)
        assert verify.verify_chain(connection)[0] == sealed
