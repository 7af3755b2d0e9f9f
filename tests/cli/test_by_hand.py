"""A whole year's work by commands alone: goods in to two customers, then trace, recall and verify."""

import re

import pytest
from by_hand import Hand
from curing_story import Story, day, told_by_commands, told_by_record

from labelsvc import facts


@pytest.fixture(scope="module", params=[told_by_commands, told_by_record], ids=["friendly", "record"])
def told(request, tmp_path_factory):
    """The same story told by friendly commands and by ``record``; the tests only read it."""
    hand = Hand(tmp_path_factory.mktemp("told") / "workshop.db")
    return hand, request.param(hand)


def test_story_when_told_both_ways_then_the_same_facts_follow(tmp_path):
    friendly, by_json = Hand(tmp_path / "friendly.db"), Hand(tmp_path / "json.db")

    assert told_by_commands(friendly) == told_by_record(by_json)

    said = [[facts.read(kind, given) for kind, given in hand.said()] for hand in (friendly, by_json)]
    assert said[0] == said[1]
    assert friendly.rows("postings") == by_json.rows("postings")
    assert friendly.rows("contacts") == by_json.rows("contacts")


def test_trace_when_a_sold_pack_is_asked_for_then_pig_ingredients_and_both_customers_are_named(told: tuple[Hand, Story]):
    hand, story = told
    answer = hand("trace", story.mixed[1], "--json").json

    assert {lot["code"] for lot in answer["back"]} == story.behind_mixed
    assert {lot["name"]: lot["supplier"] for lot in answer["back"] if lot["supplier"]} == {
        "half pig": "Hill Farm", "sea salt": "Dry Goods", "curing salt": "Dry Goods", "mustard seed": "Dry Goods",
    }  # fmt: skip
    assert {sale["name"] for sale in answer["sales"]} == {"Corner Shop", "Bistro"}
    steps = {lot["code"]: lot["steps"] for lot in answer["back"]}
    assert (steps[story.first], steps[story.pig], steps[story.mix], steps[story.salt]) == (1, 2, 2, 3)


def test_trace_when_a_person_reads_it_then_every_name_stands_in_it(told: tuple[Hand, Story]):
    hand, story = told
    said = hand("trace", story.mixed[1]).out
    people_and_goods = ("half pig", "Hill Farm", "sea salt", "curing salt", "mustard seed", "Corner Shop", "Bistro")
    assert [name for name in (*story.behind_mixed, *people_and_goods) if name not in said] == []


def test_trace_when_the_pig_is_asked_for_by_the_suppliers_number_then_all_packs_are_ahead(told: tuple[Hand, Story]):
    hand, story = told
    answer = hand("trace", "HF-12", "--json").json
    assert answer["lot"]["code"] == story.pig
    assert {lot["code"] for lot in answer["forward"]} == {story.first, story.second, *story.packs[1:], *story.mixed[1:]}


def test_trace_when_a_code_is_typed_with_cold_fingers_then_it_is_found(told: tuple[Hand, Story]):
    hand, story = told
    typed = f" {story.first[0].lower()} {story.first[1:7].replace('0', 'O').replace('1', 'l')}-{story.first[7:].lower()}"
    assert hand("trace", typed, "--json").json["lot"]["code"] == story.first


def test_recall_when_the_salt_is_suspected_then_all_made_with_it_and_a_balance_of_zero(told: tuple[Hand, Story]):
    hand, story = told
    answer = hand("recall", "--lot", story.salt, "--json").json

    assert {lot["code"] for lot in answer["affected"]} == {story.salt, *story.made_with_salt}
    # In: salt 5000 + curing salt 30 + mustard 10 + meat 2000 = 7040. Out: sold 300 + 200; dripped 27 + 28;
    # dried 230 + 150 + 115 + 130 + 35 + 25; here 4 x 100 + 200 + 230 in packs and 4970 of salt.
    assert answer["balance"] == {
        "in": "7040",
        "out": {"customer": "500", "drip and brine": "55", "drying": "685", "here: in stock": "830", "here: received": "4970"},
        "difference": "0",
    }
    assert {customer["name"]: customer["grams"] for customer in answer["customers"]} == {"Corner Shop": "300", "Bistro": "200"}
    shop = next(customer for customer in answer["customers"] if customer["name"] == "Corner Shop")
    assert shop["packs"] == [story.packs[1], story.mixed[1]]
    assert shop["documents"] == ["note 7"]
    assert (shop["address"], shop["contact"]) == ("1 Market Row, Exampleton", "shop@example.com")
    assert shop["dates"] == [day(37)]


def test_recall_when_a_person_reads_it_then_whom_to_tell_and_nothing_unexplained(told: tuple[Hand, Story]):
    hand, story = told
    said = hand("recall", "--lot", story.salt).out
    assert "Corner Shop (1 Market Row, Exampleton, shop@example.com): 300 g" in said
    assert "Bistro (no address known): 200 g" in said
    assert "             0 g  not explained" in said
    (start,) = (line for line in said.splitlines() if line.startswith(f"  {story.salt}"))
    assert start.endswith(": the start")
    (piece,) = (line for line in said.splitlines() if line.startswith(f"  {story.second}"))
    assert re.search(r": [0-9.]+ % of it, [12] steps?$", piece)  # salt, the mix of the tub where there was one, the piece
    beside = hand("recall", "--lot", "M 7", "--reach", "tub").out
    assert re.search(rf"  {story.first} .*: same tub ", beside)


def test_recall_when_only_one_piece_is_suspected_then_the_other_and_the_salt_are_out_of_it(told: tuple[Hand, Story]):
    hand, story = told
    affected = {lot["code"] for lot in hand("recall", "--lot", "M 7", "--json").json["affected"]}
    assert affected == {story.second, *story.mixed[1:]}


def test_recall_when_the_reach_is_the_tub_then_the_piece_that_shared_it_is_in(told: tuple[Hand, Story]):
    hand, story = told
    affected = {lot["code"] for lot in hand("recall", "--lot", "M 7", "--reach", "tub", "--json").json["affected"]}
    assert affected == {story.first, story.second, *story.packs[1:], *story.mixed[1:]}


def test_list_when_the_story_is_told_then_what_is_left_stands_in_it(told: tuple[Hand, Story]):
    hand, story = told
    lots = {lot["code"]: lot["grams_here"] for lot in hand("list", "--json").json["lots"]}
    assert lots == {
        story.pig: "36700", story.salt: "4970", story.curing_salt: "970", story.mustard: "240",
        **{code: "100" for code in story.packs[2:]}, story.mixed[3]: "200", story.mixed[4]: "230",
    }  # fmt: skip


def test_export_when_postings_are_added_up_then_every_flow_is_zero_and_balances_are_the_lists(told: tuple[Hand, Story]):
    hand, _ = told
    flows: dict[tuple[str, str], int] = {}
    accounts: dict[str, int] = {}
    for row in hand.rows("postings"):
        flows[row["fact"], row["flow"]] = flows.get((row["fact"], row["flow"]), 0) + int(row["milligrams"])
        if row["kind"] in ("animal", "part", "ingredient", "piece", "pack"):
            accounts[row["account"]] = accounts.get(row["account"], 0) + int(row["milligrams"])
    listed = {lot["code"]: int(lot["grams_here"]) * 1000 for lot in hand("list", "--json").json["lots"]}
    assert set(flows.values()) == {0}
    assert {code: milligrams for code, milligrams in accounts.items() if milligrams} == listed


def test_export_when_sales_are_asked_for_then_each_pack_stands_once(told: tuple[Hand, Story]):
    hand, story = told
    found = [(row["date"], row["code"], row["how"], row["name"], row["grams"], row["document"]) for row in hand.rows("sales")]
    assert found == [
        (day(37), story.packs[1], "customer", "Corner Shop", "100", "note 7"),
        (day(37), story.mixed[1], "customer", "Corner Shop", "200", "note 7"),
        (day(37), story.mixed[2], "customer", "Bistro", "200", ""),
    ]


def test_verify_when_nothing_was_touched_then_all_facts_hold(told: tuple[Hand, Story]):
    hand, _ = told
    answer = hand("verify", "--json").json
    # 10 cards, 4 receipts, cut, cure, take-out, 2 stringings, 4 weighings, 2 releases, 2 packings, 2 sales.
    assert (answer["verified"], answer["facts"]) == (True, 29)
    assert answer["head"] == hand.sealed()[-1]["hash"]


def _with_a_byte_changed(hand: Hand, tmp_path, old: bytes, new: bytes) -> Hand:
    """Copy the database as one file and change bytes in the copy, behind the program's back."""
    copy = hand.copied_to(tmp_path / "tampered.db")
    stored = copy.database.read_bytes()
    assert stored.count(old) == 1
    assert sum(a != b for a, b in zip(old, new, strict=True)) == 1
    copy.database.write_bytes(stored.replace(old, new))
    return copy


def test_verify_when_one_byte_of_one_fact_is_changed_in_the_file_then_exit_4_names_the_fact(told: tuple[Hand, Story], tmp_path):
    hand, story = told
    cut = next(fact for fact in hand.sealed() if fact["kind"] == "cut")
    given = f'"given":{{"bone":"1 kg","from":"{story.pig}","pieces":[{{"product":"Pork neck","weight":"1200 g"}}'.encode()
    tampered = _with_a_byte_changed(hand, tmp_path, given, given.replace(b"1200 g", b"1300 g"))

    answer = tampered.refused("verify", "--json")

    sentence = f"fact {cut['seq']} (cut) was changed after it was sealed: its contents do not fit its hash"
    assert (answer.code, answer.err) == (4, f"{sentence}\n")
    assert answer.error["message"] == sentence
    assert tampered.refused("rebuild").code == 4


def test_verify_when_a_delivery_note_is_changed_in_the_file_then_exit_4_names_the_sale(told: tuple[Hand, Story], tmp_path):
    hand, _ = told
    sale = next(fact for fact in hand.sealed() if fact["kind"] == "sell")
    key = sale["body"]["given"]["customer"]["personal"]
    given = f'"given":{{"customer":{{"personal":"{key}"}},"document":"note 7"'.encode()
    tampered = _with_a_byte_changed(hand, tmp_path, given, given.replace(b"note 7", b"note 8"))
    answer = tampered.refused("verify")
    assert answer.code == 4
    assert answer.err.startswith(f"fact {sale['seq']} (sell) was changed after it was sealed")
