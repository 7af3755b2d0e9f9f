"""A change made behind the back of the database's own guards is found, and the first wrong fact is named."""

import io
import re

import build
import pytest
from by_hand import Hand
from PIL import Image
from sqlalchemy import select, text, update

from labelsvc.errors import LedgerIntegrityError
from labelsvc.ledger import verify
from labelsvc.ledger.append import seal
from labelsvc.ledger.tables import facts
from labelsvc.operations import keeping
from labelsvc.operations.photos import erase_photo, keep_photo

CLOSED = {
    "sqlite": tuple(
        f"CREATE TRIGGER {name} BEFORE {moment} ON facts BEGIN SELECT RAISE(ABORT, 'no'); END"
        for name, moment in (("facts_no_update", "UPDATE"), ("facts_no_delete", "DELETE"), ("facts_no_replace", "INSERT"))
    ),
    "postgresql": ("ALTER TABLE facts ENABLE TRIGGER ALL",),
}
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
    file_shop.record("ingredient", name="byte leaf")
    with file_shop.ledger.engine.connect() as connection:
        connection.exec_driver_sql("ROLLBACK")
        connection.exec_driver_sql("PRAGMA wal_checkpoint(TRUNCATE)")
        connection.exec_driver_sql("BEGIN")
    file_shop.ledger.close()
    with open(file_shop.ledger.url.database, "r+b") as file:  # noqa: PTH123 - bytes in place
        content = file.read()
        place = content.index(b'{"day":"2026-03-02","given":{"name":"byte leaf"}}')
        file.seek(place + 30)
        file.write(b"X")
    with pytest.raises(LedgerIntegrityError, match=r"^fact 11 \(ingredient\) was changed after it was sealed"):
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


# --- what was derived, changed by hand -----------------------------------------------------------------------------------
BY_HAND = [
    ("UPDATE lots SET milligrams = milligrams + 1 WHERE kind = 'piece'", "lots of code {piece}: expected milligrams "),
    ("UPDATE lots SET place = 'nowhere' WHERE kind = 'piece'", "lots of code {piece}: expected place "),
    ("UPDATE postings SET milligrams = milligrams * 2 WHERE fact = 11", "postings of fact 11, flow 1: expected milligrams "),
    ("DELETE FROM postings WHERE fact = 11", "postings of fact 11, flow 1 is missing: run rebuild"),
    ("UPDATE links SET milligrams = milligrams + 1 WHERE fact = 12", "links of fact 12, giver "),
    ("DELETE FROM links WHERE fact = 12", "links of fact 12, giver "),
    ("UPDATE timeline SET state = NULL WHERE fact = 12", "timeline of fact 12, subject "),
    ("UPDATE effective SET issues = '[1]' WHERE fact = 12", "effective of fact 12: expected issues "),
    ("UPDATE contacts SET thing = 'another tub'", "contacts of code "),
    ("DELETE FROM aliases", "aliases of code "),
    ("UPDATE counters SET last = 1", "codes of 2026-11-25: expected a count of "),
]


@pytest.mark.parametrize(("statement", "found"), BY_HAND)
def test_deep_verification_names_the_first_difference_when_something_derived_was_changed(file_shop, statement, found):
    piece = file_shop.green_piece(marker="ring 7")
    file_shop.cure([piece], (file_shop.ingredient(), "30 g"))
    file_shop.string(piece, "1000 g", tare="20 g", at="2026-03-20")
    assert keeping.verify(file_shop.ledger, deep=True)[0] == file_shop.facts()
    say(file_shop, statement)
    with pytest.raises(LedgerIntegrityError, match=f"^{re.escape(found.format(piece=piece))}"):
        keeping.verify(file_shop.ledger, deep=True)
    if "counters" not in statement:
        file_shop.rebuild()
        assert keeping.verify(file_shop.ledger, deep=True)[0] == file_shop.facts()


# --- what lies beside the chain, changed by hand ----------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("statement", "found"),
    [
        (
            "UPDATE attachments SET content = :other",
            "the photo {photo}... is not the one that was kept: it does not fit its hash",
        ),
        ("UPDATE attachments SET content = NULL", "the photo {photo}... is not the one that was kept: it does not fit its hash"),
        ("DELETE FROM attachments", "the photo {photo}... of fact 11 is missing: it was not erased, it was taken away"),
    ],
)
def test_deep_verification_names_the_photo_that_was_changed_or_taken_away(file_shop, statement, found):
    out = io.BytesIO()
    Image.new("RGB", (20, 10), "white").save(out, "PNG")
    digest = keep_photo(file_shop.ledger, out.getvalue(), now=build.NOW)
    file_shop.receive(photos=[digest])
    keeping.verify(file_shop.ledger, deep=True)
    with file_shop.ledger.writing() as connection:
        connection.execute(text(statement), {"other": b"another"} if ":other" in statement else {})
    with pytest.raises(LedgerIntegrityError, match=f"^{re.escape(found.format(photo=digest[:16]))}$"):
        keeping.verify(file_shop.ledger, deep=True)


def test_photo_that_was_erased_then_nothing_is_missed(file_shop):
    out = io.BytesIO()
    Image.new("RGB", (20, 10), "white").save(out, "PNG")
    digest = keep_photo(file_shop.ledger, out.getvalue(), now=build.NOW)
    file_shop.receive(photos=[digest])
    erase_photo(file_shop.ledger, digest, build.NOW.date())
    assert keeping.verify(file_shop.ledger, deep=True)[0] == 11


# --- the whole chain, rewritten ------------------------------------------------------------------------------------------
def seal_again(shop, kind, since, **changes):
    """Change a fact and seal it and all after it anew, as somebody would who knows how."""
    say(shop, *OPEN[kind])
    with shop.ledger.writing() as connection:
        rows = connection.execute(select(facts).where(facts.c.seq >= since).order_by(facts.c.seq)).all()
        previous = rows[0].previous_hash
        for row in rows:
            said = {**row._mapping, **(changes if row.seq == since else {}), "previous_hash": previous}
            del said["hash"]
            previous = seal(**said)
            connection.execute(update(facts).where(facts.c.seq == row.seq).values(**said, hash=previous))


def test_chain_sealed_anew_holds_in_itself_and_is_found_out_by_a_head_that_was_kept(file_shop, kind):
    file_shop.receive()
    kept = keeping.head_of(file_shop.ledger, build.NOW)
    file_shop.receive()
    seal_again(file_shop, kind, 11, recorded_by="Eve")
    assert verified(file_shop)[0] == 12
    with pytest.raises(
        LedgerIntegrityError,
        match=r"^fact 11 is not the one of the head that was kept: .*; the chain was rewritten at that fact or before it$",
    ):
        keeping.verify(file_shop.ledger, head=kept)


def test_last_facts_taken_away_are_found_out_by_a_head_that_was_kept(file_shop, kind):
    file_shop.receive()
    file_shop.receive()
    kept = keeping.head_of(file_shop.ledger, build.NOW)
    behind_its_back(file_shop, kind, "DELETE FROM facts WHERE seq > 10")
    assert verified(file_shop)[0] == 10
    with pytest.raises(
        LedgerIntegrityError, match=r"^fact 11 is missing: the head that was kept knows 12 facts, the ledger has 10$"
    ):
        keeping.verify(file_shop.ledger, head=kept)


def test_last_facts_taken_away_are_found_without_a_head_by_what_was_derived_from_them(file_shop, kind):
    file_shop.receive()
    behind_its_back(file_shop, kind, "DELETE FROM facts WHERE seq > 10")
    say(file_shop, *CLOSED[kind])
    with pytest.raises(LedgerIntegrityError, match=r"^effective of fact 11 follows from no fact: run rebuild$"):
        keeping.verify(file_shop.ledger, deep=True)


def test_guards_that_were_taken_away_are_missed(file_shop, kind):
    say(file_shop, OPEN[kind][0])
    with pytest.raises(
        LedgerIntegrityError,
        match=r"^the database does not refuse every change of a fact any more: expected the trigger facts_no_",
    ):
        keeping.verify(file_shop.ledger)


def test_head_when_kept_and_facts_follow_then_it_is_still_in_the_chain(file_shop, tmp_path):
    hand, lines = Hand(file_shop.url), []
    for _ in range(2):
        lines.append(hand("head").out.strip())
        file_shop.receive()
    assert re.fullmatch(r"labelsvc head \S+Z facts=10 sha256=[0-9a-f]{64}", lines[0])
    assert hand("verify", "--head", lines[0], "--json").json["heads"] == 1
    file = tmp_path / "heads.txt"
    file.write_text("\n".join(lines) + "\n")
    assert "2 kept heads are in the chain." in hand("verify", "--head", str(file)).out
    refused = hand.refused("verify", "--head", "labelsvc head")
    assert (refused.code, refused.err) == (
        2,
        "head: expected a line as the command head printed it, got labelsvc head\n",
    )
