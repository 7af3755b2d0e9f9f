"""A recall in short, as a page shows a wide one, says the same as the whole answer does lot by lot."""

from collections import Counter
from fractions import Fraction

import pytest
from random_ledgers import story
from sqlalchemy import select

from labelsvc.ledger.tables import lots
from labelsvc.operations.recalling import Suspicion, recall

MOST = 2


@pytest.mark.parametrize("reach", ["mass", "tub", "room"])
@pytest.mark.parametrize("seed", range(12))
def test_recall_in_short_when_beside_the_whole_then_counts_sums_and_first_lots_are_the_same(seed, reach):
    ledger = story(seed).shop.ledger
    with ledger.reading() as connection:
        sources = connection.execute(select(lots.c.code).where(lots.c.kind.in_(("animal", "ingredient")))).scalars().all()
    suspicion = Suspicion(lots=tuple(sources[::2]), reach=reach)
    whole, short = recall(ledger, suspicion), recall(ledger, suspicion, MOST)
    assert len(whole["affected"]) > MOST
    assert short["affected"] == whole["affected"][: len(short["affected"])]
    assert len(short["affected"]) == MOST
    assert short["affected_count"] == len(whole["affected"])
    assert {name: short[name] for name in ("balance", "start", "notes")} == {
        name: whole[name] for name in ("balance", "start", "notes")
    }
    counted = Counter((one["kind"], one["state"]) for one in whole["affected"])
    assert {(one["kind"], one["state"]): one["lots"] for one in short["summary"]} == counted
    assert sum(Fraction(one["grams_here"]) for one in short["summary"]) == sum(
        Fraction(one["grams_here"]) for one in whole["affected"]
    )
    gone = ("sold", "given away", "used up", "destroyed", "own use", "sample", "held")
    free = [one["code"] for one in whole["affected"] if one["state"] not in gone and one["grams_here"] != "0"]
    assert short["to_hold"] == free
    for who in ("customers", "told_otherwise"):
        had = {(one["name"], len(one["packs"]), one["grams"]) for one in whole[who]}
        assert {(one["name"], one["packs"], one["grams"]) for one in short[who]} == had


def test_recall_when_no_more_than_the_most_are_affected_then_whole():
    ledger = story(0).shop.ledger
    with ledger.reading() as connection:
        code = connection.execute(select(lots.c.code).where(lots.c.kind == "animal")).scalars().first()
    answer, whole = recall(ledger, Suspicion(lots=(code,)), 10_000), recall(ledger, Suspicion(lots=(code,)))
    assert {**answer, "took_ms": 0} == {**whole, "took_ms": 0}
