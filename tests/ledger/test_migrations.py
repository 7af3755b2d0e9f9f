"""A ledger of every earlier shape, with data in it, becomes one of today's: same facts, same guards, same balances."""

import build
import pytest
from alembic import command
from alembic.script import ScriptDirectory
from sqlalchemy import MetaData, insert, select, text

from labelsvc.ledger import tables
from labelsvc.ledger.database import Ledger, open_ledger
from labelsvc.ledger.migrations.run import configured
from labelsvc.operations import keeping, recording

SHAPES = [one.revision for one in reversed(list(ScriptDirectory.from_config(configured()).walk_revisions()))]


@pytest.mark.parametrize("shape", SHAPES)
def test_ledger_of_an_earlier_shape_when_opened_then_nothing_is_lost_and_it_is_still_guarded(empty_url, shape, monkeypatch):
    if shape < "0009":  # buyers' names were sealed with the facts then
        monkeypatch.setattr(recording, "put_apart", lambda _connection, _kind, given, _seq: dict(given))
    today = build.Shop(open_ledger("sqlite://"))
    build.record_cards(today)
    today.sell(today.packed("350 g", "340 g")[1], at="2026-05-22")
    today.record("clean", thing="slicer", allergen_clean="false", at="2026-05-22")
    earlier = Ledger(empty_url)
    with earlier.writing() as connection:
        configuration = configured()
        configuration.attributes["connection"] = connection
        command.upgrade(configuration, shape)
    _fill(earlier, today)
    if shape < "0011":  # a no typed as a word stood so in what was derived
        body = '{"allergen_clean":"false","thing":"slicer"}'
        with earlier.writing() as connection:
            connection.execute(text("UPDATE effective SET body = :body WHERE kind = 'clean'"), {"body": body})
    earlier.close()
    now = build.Shop(open_ledger(empty_url))
    assert keeping.verify(now.ledger, deep=True) == keeping.verify(today.ledger)  # the guards among it
    assert now.dump() == today.dump()
    for one in (now, today):
        one.ledger.close()


def _fill(earlier, today):
    """Put the rows of today's ledger into the tables that there were then."""
    with today.ledger.reading() as reading, earlier.writing() as writing:
        there = MetaData()
        there.reflect(writing)
        for table in tables.metadata.sorted_tables:
            if table.name in there.tables:
                names = [column.name for column in table.columns if column.name in there.tables[table.name].columns]
                rows = [dict(row._mapping) for row in reading.execute(select(*(table.c[name] for name in names)))]
                if rows:
                    writing.execute(insert(there.tables[table.name]), rows)
