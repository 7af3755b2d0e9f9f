"""Reading many lots starts from the lots asked for, never from a whole table, whatever the database learnt of itself."""

from decimal import Decimal

import pytest
from benchmarks.bulk import fill
from benchmarks.workshop_years import WorkshopYears
from sqlalchemy import event, text

from labelsvc.ledger.database import open_ledger
from labelsvc.operations import looking
from labelsvc.operations.batch import batch_record
from labelsvc.operations.recalling import Suspicion, recall
from labelsvc.operations.tracing import trace

_ANSWERS = {
    "trace": lambda ledger, code: trace(ledger, code),
    "recall": lambda ledger, code: recall(ledger, Suspicion(lots=(code,))),
    "recall of a tub": lambda ledger, code: recall(ledger, Suspicion(lots=(code,), reach="tub")),
    "recall of a slicer": lambda ledger, code: recall(ledger, Suspicion(lots=(code,), reach="slicer")),
    "search by customer": lambda ledger, code: recall(ledger, Suspicion(customer="Shop 3")),
    "search by recipe": lambda ledger, code: recall(ledger, Suspicion(recipe="Neck cure")),
    "search by version of a recipe": lambda ledger, code: recall(ledger, Suspicion(recipe="Neck cure", recipe_version=1)),
    "search by rule": lambda ledger, code: recall(ledger, Suspicion(rule="eu.nitrite.non_heat_treated")),
    "search by dose": lambda ledger, code: recall(ledger, Suspicion(dose_above=Decimal(100))),
    "search by ingredient": lambda ledger, code: recall(ledger, Suspicion(ingredient="juniper")),
    "search by label": lambda ledger, code: recall(ledger, Suspicion(undeclared="mustard")),
    "record": lambda ledger, code: batch_record(ledger, code),
    "next step": lambda ledger, code: looking.standing_of(ledger, code),
    "today": lambda ledger, code: looking.standings(ledger),
}


@pytest.fixture(scope="module")
def filled():
    """A ledger of SQLite that has analysed itself: with statistics a planner dares more than without."""
    ledger = open_ledger("sqlite://")
    fill(ledger, WorkshopYears(lots=800))
    return ledger


@pytest.mark.parametrize("answer", _ANSWERS)
def test_no_answer_reads_a_whole_table(answer, filled):
    with filled.reading() as connection:
        code = (
            connection.execute(text("SELECT code FROM lots WHERE kind = 'pack' AND state = 'sold' ORDER BY id")).scalars().first()
        )
    asked: list[tuple[str, object]] = []
    event.listen(filled.engine, "before_cursor_execute", lambda _c, _k, said, values, _x, _m: asked.append((said, values)))
    _ANSWERS[answer](filled, code)
    statements = [(said, values) for said, values in asked if said.startswith(("SELECT", "WITH"))]
    assert statements
    with filled.engine.connect() as connection:
        plans = [
            (said, step[3])
            for said, values in statements
            for step in connection.exec_driver_sql(f"EXPLAIN QUERY PLAN {said}", values)
        ]
    tables = ("facts", "effective", "timeline", "lots", "postings", "links", "contacts")
    whole = [
        (step, said)
        for said, step in plans
        if "BLOOM" in step or any(step.startswith(f"SCAN {table}") and "ix_lots_here" not in step for table in tables)
    ]
    assert whole == []
