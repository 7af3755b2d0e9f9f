"""The database itself refuses every change of a fact, on both kinds, and its shape is that of the tables."""

import hashlib
import json

import build
import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import text
from sqlalchemy.exc import DBAPIError

from labelsvc.ledger import archive
from labelsvc.ledger.append import seal
from labelsvc.ledger.database import HEAD, open_ledger
from labelsvc.ledger.migrations.run import configured
from labelsvc.ledger.tables import metadata
from labelsvc.ledger.verify import verify_chain

NEVER = "facts are only ever appended: record a correction instead"
CHANGES = (
    "UPDATE facts SET body = '{}' WHERE seq = 3",
    "UPDATE facts SET hash = hash",
    "DELETE FROM facts WHERE seq = 3",
    "DELETE FROM facts",
    "INSERT INTO facts SELECT * FROM facts WHERE seq = 3 ON CONFLICT (seq) DO UPDATE SET body = '{}'",
)
OF_ONE_KIND = {
    "sqlite": (
        "INSERT OR REPLACE INTO facts SELECT * FROM facts WHERE seq = 3",
        "REPLACE INTO facts SELECT * FROM facts WHERE seq = 3",
        "UPDATE OR REPLACE facts SET seq = 4 WHERE seq = 3",
    ),
    "postgresql": (
        "TRUNCATE facts",
        "TRUNCATE facts CASCADE",
        "WITH gone AS (DELETE FROM facts WHERE seq = 3 RETURNING *) SELECT * FROM gone",
        "MERGE INTO facts USING (SELECT 3 AS seq) AS other ON facts.seq = other.seq WHEN MATCHED THEN DELETE",
    ),
}
TRIGGERS = {
    "sqlite": (
        {"facts_no_update", "facts_no_delete", "facts_no_replace"},
        "SELECT name FROM sqlite_master WHERE type = 'trigger'",
    ),
    "postgresql": ({"facts_no_change", "facts_no_truncate"}, "SELECT tgname FROM pg_trigger WHERE tgrelid = 'facts'::regclass"),
}


def test_change_of_a_fact_is_refused_by_the_database_itself(file_shop, kind):
    before = verified(file_shop)
    for statement in CHANGES + OF_ONE_KIND[kind]:
        with pytest.raises(DBAPIError, match=NEVER), file_shop.ledger.writing() as connection:
            connection.execute(text(statement))
    assert verified(file_shop) == before


def test_triggers_are_there_after_all_migrations(file_shop, kind):
    expected, query = TRIGGERS[kind]
    with file_shop.ledger.reading() as connection:
        assert set(connection.execute(text(query)).scalars()) == expected


def test_same_facts_in_two_databases_give_the_same_head(file_shop):
    other = build.new_shop()
    with file_shop.ledger.reading() as source, other.ledger.writing() as target:
        clear = "DROP TRIGGER facts_no_delete", "DELETE FROM facts", "DELETE FROM personal"
        for statement in clear:
            target.execute(text(statement))
        archive.load(target, archive.fact_lines(source))
    for one in (other, file_shop):
        one.packed("350 g", "340 g")  # names no buyer: what is personal is sealed with chance in it
    assert verified(other) == verified(file_shop)
    assert other.dump() == file_shop.dump()
    other.ledger.close()


def test_head_constant_is_the_newest_migration():
    assert ScriptDirectory.from_config(configured()).get_heads() == [HEAD]


def test_migrated_database_has_the_shape_of_the_tables(file_shop):
    with file_shop.ledger.engine.connect() as connection:
        assert compare_metadata(MigrationContext.configure(connection), metadata) == []


def test_opening_again_changes_nothing(file_shop):
    before = verified(file_shop)
    again = build.Shop(open_ledger(file_shop.url))
    assert verified(again) == before
    again.ledger.close()


def test_text_is_ordered_by_code_points_whatever_the_language_of_the_server(file_shop):
    with file_shop.ledger.writing() as connection:
        connection.execute(
            text("INSERT INTO counters (day, last) VALUES ('a', 1), ('B', 1), ('b', 1), ('Z', 1), ('-', 1), ('/', 1)")
        )
        found = connection.execute(text("SELECT day FROM counters WHERE length(day) = 1 ORDER BY day")).scalars().all()
    assert found == sorted(found) == ["-", "/", "B", "Z", "a", "b"]


def verified(shop):
    with shop.ledger.reading() as connection:
        return verify_chain(connection)


def test_seal_is_the_hash_over_the_canonical_json_that_the_documents_describe():
    every = "".join(map(chr, (*range(0xD800), *range(0xE000, 0x110000))))  # all there is but halves of pairs
    row = dict(seq=7, kind="pack", version=1, happened_at="a", recorded_at="b", recorded_by="Zoë", body=every, previous_hash="00")
    said = json.dumps(list(row.values()), sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    assert seal(**row) == hashlib.sha256(said.encode()).hexdigest()
