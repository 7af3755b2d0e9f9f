"""What is personal in the facts can be erased: the chain holds keys, everything else reads the texts, and stays right without."""

import datetime as dt
import json
import sqlite3
from contextlib import closing

import build
import pytest
from sqlalchemy import select, text, update

from labelsvc.errors import ConflictError, InputError, LedgerIntegrityError
from labelsvc.ledger import archive
from labelsvc.ledger.database import open_ledger
from labelsvc.ledger.tables import PROJECTIONS, facts, personal, requests
from labelsvc.operations import keeping, recording
from labelsvc.operations.cases import case_of
from labelsvc.operations.complaints import complaints
from labelsvc.operations.exporting import rows_of
from labelsvc.operations.personal import erase, kept, kept_of
from labelsvc.operations.photos import keep_photo, photo
from labelsvc.operations.recalling import recall as search
from labelsvc.operations.recording import record
from labelsvc.operations.searching import Suspicion
from labelsvc.operations.tracing import trace

NAMES = ("Fictional Fay", "fay@example.com", "7 Nowhere Row", "Invented Ivo", "sick after it", "she threw it away")
TODAY = dt.date(2026, 11, 25)


def busy(shop):
    """Sell, give, take back, hear of a complaint and tell, all with one buyer and one receiver; return the packs."""
    lot, *packs = shop.packed("350 g", "100 g", "100 g", "100 g")
    shop.record("customer", name="Fictional Fay", address="7 Nowhere Row", contact="fay@example.com", business=False)
    shop.day = "2026-05-22"
    shop.record("sell", packs=packs[:2], customer="fictional  fay", document="note 7")
    shop.record("give", packs=packs[2:], to="Invented Ivo")
    shop.record("return", from_="Fictional Fay", packs=packs[:1])
    shop.record("complaint", text="sick after it", contact="Fictional Fay", code=packs[1])
    case = shop.record("open_case", what="recall", reason="soap", lots=[lot]).fact
    shop.record("tell", case=case, customer="Fictional Fay", how="by telephone", answer="she threw it away")
    shop.record("tell", case=case, customer="Invented Ivo", how="by letter")
    return packs, case


def everything(shop):
    """Return all rows of all tables as text."""
    with shop.ledger.reading() as connection:
        tables = (facts, personal, requests, *PROJECTIONS)
        return "\n".join(str(tuple(row)) for table in tables for row in connection.execute(select(table)))


def sealed(shop):
    with shop.ledger.reading() as connection:
        return "\n".join(connection.execute(select(facts.c.body)).scalars())


def test_names_when_recorded_then_the_chain_holds_none_and_everyone_reads_them(shop):
    packs, _ = busy(shop)
    assert [name for name in NAMES if name.casefold() in sealed(shop).casefold()] == []
    found = search(shop.ledger, Suspicion(lots=(packs[1],)))
    assert [(one["name"], one["contact"]) for one in found["customers"]] == [("Fictional Fay", "fay@example.com")]
    assert [one["text"] for one in complaints(shop.ledger)] == ["sick after it"]
    keeping.verify(shop.ledger, deep=True)
    grown = shop.dump()
    shop.rebuild()
    assert shop.dump() == grown


def test_buyer_when_erased_then_nothing_of_them_is_left_and_the_ledger_verifies(file_shop, kind):
    packs, case = busy(file_shop)
    grams = search(file_shop.ledger, Suspicion(lots=(packs[1],)))["balance"]
    head = keeping.verify(file_shop.ledger)
    done = erase(file_shop.ledger, "fictional fay", TODAY, by="Ada", why="she asked for it")
    erase(file_shop.ledger, "Invented Ivo", TODAY, by="Ada", why="he asked for it")
    words = "erased on 2026-11-25 (fact "
    assert done.words.startswith(words)
    assert done.is_wiped
    assert [name for name in NAMES if name.casefold() in everything(file_shop).casefold()] == []
    assert keeping.verify(file_shop.ledger, deep=True) == head
    found = search(file_shop.ledger, Suspicion(lots=(packs[1],)))
    assert [one["name"] for one in found["customers"]] == [done.words]
    assert found["balance"] == grams
    assert {sale["name"] for sale in trace(file_shop.ledger, packs[1])["sales"]} >= {done.words}
    assert [one["text"] for one in complaints(file_shop.ledger)] == [done.words]
    assert done.words in [one["name"] for one in case_of(file_shop.ledger, case, build.NOW)["to_tell"]]
    if kind == "sqlite":
        file = file_shop.ledger.url.database
        file_shop.ledger.close()
        with closing(sqlite3.connect(file)), open(file, "rb") as raw:  # noqa: PTH123
            content = raw.read()
        assert [name for name in NAMES if name.encode() in content] == []


def test_erased_buyer_when_a_sale_is_put_right_or_copied_elsewhere_then_they_stay_one_person(shop, empty_url):
    packs, _ = busy(shop)
    done = erase(shop.ledger, "Fictional Fay", TODAY, by="Ada", why="she asked for it")
    with shop.ledger.reading() as connection:
        sale = connection.execute(select(facts.c.seq).where(facts.c.kind == "sell")).scalar_one()
    instead = dict(packs=packs[:2], customer=done.words, document="note 8")
    shop.record("correct", fact=sale, instead=instead, reason="typing slip")
    assert {one.name for one in kept(shop.ledger, TODAY)} == {
        "Meadow Farm", "Corner Shop", "Mrs Example", "Invented Ivo", done.words,
    }  # fmt: skip
    lines = [json.dumps(row) for row in rows_of(shop.ledger, "facts")]
    copy = build.Shop(open_ledger(empty_url))
    assert archive.check(lines) == keeping.verify(shop.ledger)
    with copy.ledger.writing() as connection:
        archive.load(connection, lines)
    assert keeping.verify(copy.ledger, deep=True) == keeping.verify(shop.ledger)
    assert copy.dump() == shop.dump()
    copy.ledger.close()
    with pytest.raises(ConflictError, match="erased on 2026-11-25"):
        erase(shop.ledger, done.words, TODAY, by="Ada")


def test_hunter_who_supplied_when_erased_then_what_he_brought_is_still_traced(shop):
    shop.record("supplier", name="Hunter Hal", address="9 Forest Row", contact="hal@example.com", business=False)
    boar = shop.receive(supplier="hunter hal", name="boar 3")
    piece = shop.cut(boar, "1000 g")[0]
    assert [name for name in ("hal", "forest row") if name in sealed(shop).casefold()] == []
    assert [row["code"] for row in search(shop.ledger, Suspicion(supplier="Hunter Hal"))["affected"]] == [boar, piece]
    one = kept_of(shop.ledger, "Hunter Hal", TODAY)
    # five years after delivery, as a business: (EC) No 178/2002 Art 18(2) asks for whoever supplied (rules/eu/records.toml)
    assert one.law_until == dt.date(2031, 3, 2)
    with pytest.raises(InputError, match="a reason for erasing before 2031-03-02"):
        erase(shop.ledger, "Hunter Hal", TODAY, by="Ada")
    done = erase(shop.ledger, "Hunter Hal", dt.date(2031, 3, 2), by="Ada")
    assert [name for name in ("hunter", "hal@", "forest row") if name in everything(shop).casefold()] == []
    assert [row["code"] for row in search(shop.ledger, Suspicion(supplier=done.words))["affected"]] == [boar, piece]
    keeping.verify(shop.ledger, deep=True)


def test_answer_to_a_complaint_goes_with_the_complainant(shop):
    with_name = shop.record("complaint", text="sand in it", contact="Fictional Fay", at="2026-05-22").fact
    without = shop.record("complaint", text="too salty", at="2026-05-22").fact
    for number, words in ((with_name, "a voucher for Fay"), (without, "said sorry at the door")):
        shop.record("answer_complaint", complaint=number, decision="nothing found", answer=words, at="2026-05-23")
    assert [one for one in ("voucher", "sorry") if one in sealed(shop)] == []
    erase(shop.ledger, "Fictional Fay", TODAY, by="Ada", why="she asked for it")
    assert ("voucher" in everything(shop), "sorry" in everything(shop)) == (False, True)
    erase(shop.ledger, str(without), TODAY, by="Ada", why="he asked for it")
    assert "sorry" not in everything(shop)
    late = shop.record("answer_complaint", complaint=with_name, decision="closed", answer="written again", at="2026-05-24").fact
    erase(shop.ledger, str(late), TODAY, by="Ada", why="again")
    assert "written again" not in everything(shop)
    keeping.verify(shop.ledger, deep=True)


def test_photos_of_a_complaint_and_answers_to_retries_go_with_the_complainant(shop):
    from io import BytesIO

    from PIL import Image

    out = BytesIO()
    Image.new("RGB", (20, 10), "white").save(out, "PNG")
    digest = keep_photo(shop.ledger, out.getvalue(), now=build.NOW)
    given = dict(text="hair in it", photos=[digest], at="2026-05-22")
    fact = record(shop.ledger, "complaint", given, now=build.NOW, once="k1").fact
    with shop.ledger.writing() as connection:
        connection.execute(update(requests).values(answer='{"notes":["hair in it"]}'))
    done = erase(shop.ledger, str(fact), TODAY, by="Ada", why="asked")
    assert (done.photos, photo(shop.ledger, digest).content) == (1, None)
    assert "hair in it" not in everything(shop)


def test_personal_text_when_changed_or_taken_away_by_hand_then_verify_names_it(shop):
    busy(shop)
    with shop.ledger.writing() as connection:
        connection.execute(update(personal).where(personal.c.text == "Fictional Fay").values(text="Someone Else"))
    with pytest.raises(LedgerIntegrityError, match=r"personal text of fact [0-9]+ was changed"):
        keeping.verify(shop.ledger)
    with shop.ledger.writing() as connection:
        connection.execute(text("DELETE FROM personal WHERE text = 'Someone Else'"))
    with pytest.raises(LedgerIntegrityError, match="is missing: it was not erased"):
        keeping.verify(shop.ledger)


def test_name_sealed_before_it_could_be_erased_then_it_is_said_and_new_facts_are_erased(shop, monkeypatch):
    with monkeypatch.context() as before:
        before.setattr(recording, "put_apart", lambda _connection, _kind, given, _seq: dict(given))
        old = shop.record("customer", name="Fictional Fay", address="7 Nowhere Row").fact
    shop.record("customer", name="Fictional Fay", address="8 Nowhere Row")
    assert kept_of(shop.ledger, "Fictional Fay", TODAY).sealed_before == (old,)
    assert erase(shop.ledger, "Fictional Fay", TODAY, by="Ada", why="asked").sealed_before == (old,)
    keeping.verify(shop.ledger, deep=True)


@pytest.mark.parametrize(
    ("day", "is_refused"),
    [("2026-11-21", True), ("2026-11-22", False)],  # six months after 22 May, guidance on (EC) 178/2002 Art 18, second hand
)
def test_private_buyer_when_erased_before_the_least_time_then_a_reason_is_asked_for(shop, day, is_refused):
    busy(shop)
    if not is_refused:
        assert erase(shop.ledger, "Fictional Fay", dt.date.fromisoformat(day), by="Ada").words
        return
    with pytest.raises(InputError, match=r"reason: expected a reason for erasing before 2026-11-22, got none\. .*178/2002"):
        erase(shop.ledger, "Fictional Fay", dt.date.fromisoformat(day), by="Ada")


@pytest.mark.parametrize(("name", "kind"), [("Fictional Fay", "sell"), ("Invented Ivo", "give")])
def test_someone_to_be_told_in_an_open_recall_is_erased_only_once_told(shop, name, kind):
    lot, *packs = shop.packed("350 g", "340 g")
    shop.record("customer", name="Fictional Fay", contact="fay@example.com", business=False)
    shop.day = "2026-05-22"
    shop.record(kind, packs=packs, **{"sell": {"customer": name}, "give": {"to": name}}[kind])
    shop.record("open_case", what="mock", reason="soap", lots=[lot])
    case = shop.record("open_case", what="recall", reason="germ", lots=[lot]).fact
    shop.record("tell", case=case, customer=name, how="by telephone", reached=False)
    with pytest.raises(ConflictError) as refused:
        erase(shop.ledger, name, TODAY, by="Ada", why="asked for it")
    assert str(refused.value) == (
        "who: expected someone who is told of every open withdrawal and recall,"
        f" got {name}, who waits to be told in recall {case} (germ). Tell them first, or close the case."
    )
    shop.record("tell", case=case, customer=name, how="by letter")
    assert erase(shop.ledger, name, TODAY, by="Ada", why="asked for it").words.startswith("erased on 2026-11-25")
