"""A fact costs one commit and few statements, so that eight stations do not wait for each other; however large the ledger is."""

import datetime as dt
from contextlib import contextmanager, suppress

import build
import pytest
from sqlalchemy import event

from labelsvc.operations import looking
from labelsvc.operations.recording import record

MOST = 15


@contextmanager
def counted(ledger):
    """Count what is said to the database: statements (the keyword of each) and commits."""
    said, commits = [], []

    def heard(_connection, _cursor, statement, *_more):
        if not statement.startswith(("BEGIN", "COMMIT", "SELECT pg_advisory_xact_lock")):  # the writer's turn is no statement
            said.append(statement.split(maxsplit=1)[0])

    def committed(_connection):
        commits.append(1)

    event.listen(ledger.engine, "before_cursor_execute", heard)
    event.listen(ledger.engine, "commit", committed)
    try:
        yield said, commits
    finally:
        event.remove(ledger.engine, "before_cursor_execute", heard)
        event.remove(ledger.engine, "commit", committed)


def moments(shop):
    """Yield the moments of a day's work, as fields without a day: now. It is told the codes that each gave out."""
    (animal,) = yield "receive", build.body("receive")
    (piece,) = yield "cut", build.body("cut", from_=animal)
    (salt,) = yield "receive", dict(supplier="Meadow Farm", kind="ingredient", name="salt", weight="5 kg")
    yield "cure", build.body("cure", pieces=[piece], mix=[dict(lot=salt, weight="30 g")])
    yield "turn", dict(tub="blue")
    yield "string", dict(piece=piece, weight="1000 g", place="room 1")
    yield "weigh", dict(piece=piece, weight="900 g")
    yield "move", dict(lot=piece, place="room 2")
    yield "release", dict(lot=piece, by="Ada")
    fields = build.body("pack", from_=[dict(piece=piece, rest="400 g")], packs=[dict(weight="45 g")] * 10)
    packs = yield "pack", fields
    yield "release", dict(lot=packs[0], by="Ada")
    label = dict(layout="sale_label_70x100", layout_digest="0" * 64, content={}, market="eu", language="en", allergens=[])
    yield "issue_label", dict(lots=list(packs[1:]), **label)
    yield "sell", dict(packs=list(packs[1:4]), customer="Corner Shop")
    yield "complaint", dict(text="soap", code=packs[2])
    yield "hold", dict(lots=[piece], reason="mould")


def test_fact_when_recorded_then_one_commit_and_few_statements(file_shop):
    day, now = moments(file_shop), build.NOW
    kind, fields = next(day)
    costs = {}
    with suppress(StopIteration):
        while True:
            now += dt.timedelta(hours=1)
            with counted(file_shop.ledger) as (said, commits):
                done = record(file_shop.ledger, kind, fields, now=now, who="Ada", confirmed=True)
            assert len(commits) == 1, kind
            costs[kind] = len(said)
            kind, fields = day.send(done.codes)
    assert {kind: cost for kind, cost in costs.items() if cost > MOST} == {}


@pytest.mark.parametrize("read", [looking.standings, lambda ledger: looking.standing_of(ledger, "ring 1")])
def test_everyday_look_when_the_ledger_has_grown_then_as_many_statements_as_before(shop, read):
    shop.green_piece(marker="ring 1")
    with counted(shop.ledger) as (few, _):
        read(shop.ledger)
    for _ in range(3):
        shop.packed("350 g", "340 g")
    with counted(shop.ledger) as (many, _):
        read(shop.ledger)
    assert len(many) == len(few) <= 6
