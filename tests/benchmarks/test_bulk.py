"""The ledgers that benchmarks run on are what recording the same facts one by one would have left."""

import secrets
from random import Random

from build import Shop
from sqlalchemy import select

from benchmarks.bulk import fill, record_one_by_one
from benchmarks.workshop_years import WorkshopYears
from labelsvc.ledger.database import Ledger, open_ledger
from labelsvc.ledger.tables import counters, facts, personal


def test_bulk_loading_leaves_what_recording_one_by_one_leaves(monkeypatch):
    quick, slow = open_ledger("sqlite://"), open_ledger("sqlite://")
    for ledger, put_in in ((quick, fill), (slow, record_one_by_one)):
        chance = Random(5)  # the salts of personal texts, the same in both, so that every hash can be compared
        monkeypatch.setattr(secrets, "token_hex", lambda size, chance=chance: chance.randbytes(size).hex())
        put_in(ledger, WorkshopYears(lots=800))
    assert _rows(quick, personal) == _rows(slow, personal)
    assert _rows(quick, facts) == _rows(slow, facts)
    assert sorted(_rows(quick, counters)) == sorted(_rows(slow, counters))
    assert Shop(quick).dump() == Shop(slow).dump()


def _rows(ledger: Ledger, table: object) -> list[tuple[object, ...]]:
    with ledger.reading() as connection:
        return [tuple(row) for row in connection.execute(select(table))]
