"""EPCIS of the ledger: valid by an outside judge, and every gram where the postings have it."""

import copy
import datetime as dt
import json
from decimal import Decimal

import build
import pytest
from epcis_judge import Judge, fetched
from random_ledgers import story

from labelsvc.errors import ConflictError
from labelsvc.operations.interchange import epcis_document

BASE = "https://labels.example.com"


@pytest.fixture(scope="session")
def judge(tmp_path_factory):
    return Judge(fetched(tmp_path_factory.mktemp("epcis")))


def exported(ledger):
    return json.loads(b"".join(epcis_document(ledger, build.NOW)), parse_float=Decimal)


def as_sent(document):
    """The document as a partner's program reads it, numbers as floats."""
    return json.loads(json.dumps(document, default=float))


def events(document, **wanted):
    found = document["epcisBody"]["eventList"]
    return [one for one in found if all(one.get(name) == value for name, value in wanted.items())]


@pytest.fixture
def lived(shop):
    """A workshop's life: received, cut, cured, strung, packed, sold, given, back, held, published, destroyed, corrected."""
    shop.salt = shop.ingredient(supplier_lot="H 552")
    shop.animal = shop.receive()
    (shop.piece,) = shop.cut(shop.animal, "1000 g")
    shop.cure([shop.piece], (shop.salt, "30 g"), at="2026-03-03")
    shop.string(shop.piece, "720 g", tare="20 g", at="2026-03-20")
    shop.release(shop.piece, at="2026-05-20")
    shop.lot, *shop.packs = shop.pack([shop.piece], "330 g", "340 g", at="2026-05-21")
    shop.day = "2026-05-22"
    shop.sell(shop.packs[0], document="note 7/26")
    shop.record("hold", lots=[shop.packs[1]], reason="glass")
    number = shop.record("open_case", what="recall", reason="glass", lots=[shop.lot]).fact
    shop.record("publish", case=number, lots=[shop.lot], risk="foreign_body", by="Ada")
    shop.record("return", from_="Corner Shop", packs=[shop.packs[0]])
    shop.record("dispose", lot=shop.packs[1], how="destroyed")
    return shop


def test_a_document_when_judged_from_outside_then_nothing_is_wrong(lived, judge):
    lived.correct(lived.last.fact, None)
    assert judge.of(as_sent(exported(lived.ledger))) == []


@pytest.mark.parametrize("seed", range(12))
def test_random_ledgers_when_judged_from_outside_then_nothing_is_wrong(seed, judge):
    document = exported(story(seed).shop.ledger)
    assert len(document["epcisBody"]["eventList"]) > 10
    assert judge.of(as_sent(document)) == []


@pytest.mark.parametrize(
    ("field", "value"), [("bizStep", "curing"), ("eventTimeZoneOffset", "Z"), ("action", "MOVE"), ("eventTime", "yesterday")]
)
def test_the_judge_when_something_is_wrong_then_it_says_so(lived, judge, field, value):
    document = as_sent(exported(lived.ledger))
    wrong = copy.deepcopy(events(document, type="ObjectEvent")[0])
    document["epcisBody"]["eventList"] = [{**wrong, field: value}]
    assert judge.of(document)


def test_the_cure_and_the_packs_when_exported_then_one_id_joins_what_went_in_to_what_came_out_months_later(lived):
    document = exported(lived.ledger)
    joined = events(document, transformationID=f"{BASE}/transformation/{lived.piece}")
    went_in, came_out = joined
    assert [one["epcClass"] for one in went_in["inputQuantityList"]] == [f"{BASE}/lot/{lived.piece}", f"{BASE}/lot/{lived.salt}"]
    assert went_in["inputQuantityList"][1]["quantity"] == Decimal("0.03")
    assert came_out["outputEPCList"] == [f"{BASE}/lot/{pack}" for pack in lived.packs]
    assert came_out["ilmd"] == {"cbvmda:lotNumber": lived.lot, "cbvmda:bestBeforeDate": "2026-07-20"}  # 60 days after 21 May
    assert came_out["eventTime"] > went_in["eventTime"]


def test_goods_in_cutting_selling_and_return_when_exported_then_each_is_its_own_step(lived):
    document = exported(lived.ledger)
    (received,) = [one for one in events(document, bizStep="receiving", action="ADD") if "ilmd" in one]
    assert received["quantityList"] == [{"epcClass": f"{BASE}/lot/{lived.salt}", "quantity": Decimal(5), "uom": "KGM"}]
    assert received["ilmd"] == {"cbvmda:lotNumber": "H 552"}
    assert received["sourceList"][0]["source"] == f"{BASE}/party/Meadow%20Farm"
    (cut,) = events(document, bizStep="disassembling")
    assert (cut["inputQuantityList"][0]["quantity"], cut["outputQuantityList"][0]["quantity"]) == (Decimal(1), Decimal(1))
    (shipped,) = events(document, bizStep="shipping")
    assert shipped["epcList"] == [f"{BASE}/lot/{lived.packs[0]}"]
    assert shipped["bizTransactionList"][0]["bizTransaction"] == f"{BASE}/document/note%207%2F26"
    assert shipped["eventTimeZoneOffset"] == "+02:00"  # Paris in May
    assert events(document, disposition="returned")[0]["epcList"] == shipped["epcList"]


def test_holding_recalling_and_destroying_when_exported_then_a_partner_sees_them(lived):
    document = exported(lived.ledger)
    assert events(document, bizStep="holding")[0]["epcList"] == [f"{BASE}/lot/{lived.packs[1]}"]
    (recalled,) = [one for one in events(document) if "persistentDisposition" in one]
    assert (recalled["persistentDisposition"], len(recalled["epcList"])) == ({"set": ["recalled"]}, 2)
    assert events(document, bizStep="destroying", action="DELETE")[0]["epcList"] == [f"{BASE}/lot/{lived.packs[1]}"]


def test_a_correction_when_exported_then_the_wrong_event_is_declared_and_names_the_one_in_its_place(lived):
    wrong = lived.receive(weight="8 kg")
    fact = lived.last.fact
    lived.correct(fact, {**build.body("receive"), "weight": "80 kg"})
    by = lived.last.fact
    document = exported(lived.ledger)
    told = {one["eventID"]: one for one in events(document) if f"{BASE}/lot/{wrong}" in json.dumps(one, default=str)}
    declared = told[f"{BASE}/event/{fact}.1"]
    assert declared["quantityList"][0]["quantity"] == Decimal(8)
    assert declared["errorDeclaration"]["reason"] == "incorrect_data"
    assert declared["errorDeclaration"]["correctiveEventIDs"] == [f"{BASE}/event/{by}.1"]
    assert told[f"{BASE}/event/{by}.1"]["quantityList"][0]["quantity"] == Decimal(80)


def test_a_fact_when_taken_back_then_its_event_is_declared_never_to_have_happened(lived):
    lived.record("hold", lots=[lived.packs[0]], reason="slip")
    fact = lived.last.fact
    lived.correct(fact, None)
    (declared,) = events(exported(lived.ledger), eventID=f"{BASE}/event/{fact}.1")
    assert declared["errorDeclaration"]["reason"] == "did_not_occur"
    assert "correctiveEventIDs" not in declared["errorDeclaration"]


def test_a_product_with_a_gtin_when_exported_then_its_packs_have_their_digital_link(lived):
    lived.record("product", **{**build.body("product"), "gtin": "9521234543213"})
    (shipped,) = events(exported(lived.ledger), bizStep="shipping")
    assert shipped["epcList"] == [f"{BASE}/01/09521234543213/10/{lived.lot}/21/1"]


def test_every_event_when_exported_then_its_number_is_its_own_and_its_time_is_in_utc(lived):
    found = [one["eventID"] for one in events(exported(lived.ledger))]
    assert len(found) == len(set(found))
    assert all(dt.datetime.fromisoformat(one["eventTime"]).tzinfo == dt.UTC for one in events(exported(lived.ledger)))


def test_a_workshop_without_an_address_when_exported_then_it_says_what_is_missing(shop):
    card = {name: value for name, value in build.body("workshop").items() if name != "base_url"}
    shop.record("workshop", **card)
    with pytest.raises(ConflictError, match="base_url: expected a web address on the workshop's card"):
        next(epcis_document(shop.ledger, build.NOW))
