"""The ledgers that benchmarks run on are what recording the same facts one by one would have left."""

from build import Shop
from sqlalchemy import select

from benchmarks.bulk import fill, record_one_by_one
from benchmarks.workshop_years import WorkshopYears
from labelsvc.ledger.database import Ledger, open_ledger
from labelsvc.ledger.tables import counters, facts


def test_bulk_loading_leaves_what_recording_one_by_one_leaves():
    quick, slow = open_ledger("sqlite://"), open_ledger("sqlite://")
    fill(quick, WorkshopYears(lots=800))
    record_one_by_one(slow, WorkshopYears(lots=800))
    assert _rows(quick, facts) == _rows(slow, facts)
    assert sorted(_rows(quick, counters)) == sorted(_rows(slow, counters))
    assert Shop(quick).dump() == Shop(slow).dump()


def _rows(ledger: Ledger, table: object) -> list[tuple[object, ...]]:
    with ledger.reading() as connection:
        return [tuple(row) for row in connection.execute(select(table))]
