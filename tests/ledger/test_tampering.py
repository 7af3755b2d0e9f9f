"""A change made behind the back of the database's own guards is found, and the first wrong fact is named."""

import re

import pytest
from sqlalchemy import text

from labelsvc.errors import LedgerIntegrityError
from labelsvc.ledger import verify

OPEN = {
    "sqlite": ("DROP TRIGGER facts_no_update", "DROP TRIGGER facts_no_delete", "DROP TRIGGER facts_no_replace"),
    "postgresql": ("ALTER TABLE facts DISABLE TRIGGER ALL",),
}


def behind_its_back(shop, kind, *statements):
    """Change the facts as somebody would who knows how: without the triggers."""
    say(shop, *OPEN[kind], *statements)


def say(shop, *statements):
    """Say statements to the database in one transaction."""
    with shop.ledger.writing() as connection:
        for statement in statements:
            connection.execute(text(statement))


def verified(shop):
    with shop.ledger.reading() as connection:
        return verify.verify_chain(connection)


@pytest.mark.parametrize("column", ["kind", "version", "happened_at", "recorded_at", "recorded_by", "body"])
def test_verify_names_the_fact_of_which_one_byte_was_changed(file_shop, kind, column):
    change = "version + 1" if column == "version" else f"substr({column}, 1, length({column}) - 1) || 'X'"
    behind_its_back(file_shop, kind, f"UPDATE facts SET {column} = {change} WHERE seq = 5")
    with pytest.raises(
        LedgerIntegrityError, match=r"^fact 5 \(.*\) was changed after it was sealed: its contents do not fit its hash$"
    ):
        verified(file_shop)


@pytest.mark.parametrize("kind", ["sqlite"])
def test_verify_names_the_fact_when_a_byte_of_the_file_was_changed(file_shop):
    file_shop.record("supplier", name="Byte Farm")
    with file_shop.ledger.engine.connect() as connection:
        connection.exec_driver_sql("ROLLBACK")
        connection.exec_driver_sql("PRAGMA wal_checkpoint(TRUNCATE)")
        connection.exec_driver_sql("BEGIN")
    file_shop.ledger.close()
    with open(file_shop.ledger.url.database, "r+b") as file:  # noqa: PTH123 - bytes in place
        content = file.read()
        place = content.index(b'{"day":"2026-03-02","given":{"name":"Byte Farm"}}')
        file.seek(place + 30)
        file.write(b"X")
    with pytest.raises(LedgerIntegrityError, match=r"^fact 11 \(supplier\) was changed after it was sealed"):
        verified(file_shop)


@pytest.mark.parametrize("gone", [1, 5, 9])
def test_verify_names_the_fact_that_is_missing(file_shop, kind, gone):
    behind_its_back(file_shop, kind, f"DELETE FROM facts WHERE seq = {gone}")
    with pytest.raises(
        LedgerIntegrityError, match=f"^fact {gone} is missing: expected it after fact {gone - 1}, got fact {gone + 1}$"
    ):
        verified(file_shop)


def test_verify_names_the_first_fact_when_two_are_reordered(file_shop, kind):
    behind_its_back(
        file_shop,
        kind,
        "UPDATE facts SET seq = -1 WHERE seq = 4",
        "UPDATE facts SET seq = 4 WHERE seq = 5",
        "UPDATE facts SET seq = 5 WHERE seq = -1",
    )
    with pytest.raises(LedgerIntegrityError, match=r"^fact 4 \(\w+\) does not follow fact 3: it was sealed after another one$"):
        verified(file_shop)


@pytest.mark.parametrize(
    ("statement", "found"),
    [
        ("DELETE FROM effective WHERE fact = 7", "fact 7 is not in the projections: run rebuild"),
        (
            "UPDATE postings SET milligrams = milligrams + 1 WHERE kind = 'animal'",
            "flow 1 of fact 11 does not sum to zero: run rebuild",
        ),
    ],
)
def test_projection_changed_by_hand_is_found(file_shop, statement, found):
    file_shop.receive()
    say(file_shop, statement)
    with file_shop.ledger.reading() as reading, pytest.raises(LedgerIntegrityError, match=f"^{re.escape(found)}$"):
        verify.verify_projection(reading)
