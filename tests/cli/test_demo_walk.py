"""An independent walk over the exported postings of the demo must find what trace and recall say, for every lot."""

import hashlib
import json
from collections import defaultdict

import networkx
import pytest
from by_hand import Hand, Told

LOTS = ("animal", "part", "ingredient", "piece", "pack")


@pytest.fixture(scope="module")
def graph(demo: Told) -> networkx.DiGraph:
    """The lots of the demo; within a flow every lot that gives goes into every lot that receives."""
    flows = defaultdict(list)
    for row in demo.hand.rows("postings"):
        flows[row["fact"], row["flow"]].append(row)
    made = networkx.DiGraph()
    for rows in flows.values():
        assert sum(int(row["milligrams"]) for row in rows) == 0
        lots = [row for row in rows if row["kind"] in LOTS]
        made.add_nodes_from(row["account"] for row in lots)
        made.add_edges_from(
            (giver["account"], receiver["account"]) for giver in lots for receiver in lots
            if int(giver["milligrams"]) < 0 < int(receiver["milligrams"])
        )  # fmt: skip
    return made


def test_demo_when_every_lot_is_recalled_then_the_walk_over_the_export_finds_the_same(demo: Told, graph: networkx.DiGraph):
    # 10 receipts, 3 + 2 + 2 + 2 pieces, 4 mixes, 2 + 5 + 6 packs.
    assert len(graph) == 36
    for lot in graph:
        answer = demo.hand("recall", "--lot", lot, "--json").json
        assert {one["code"] for one in answer["affected"]} - {lot} == networkx.descendants(graph, lot)
        assert answer["balance"]["difference"] == "0"


def test_demo_when_every_lot_is_traced_then_the_walk_over_the_export_finds_the_same(demo: Told, graph: networkx.DiGraph):
    for lot in graph:
        answer = demo.hand("trace", lot, "--json").json
        assert {one["code"] for one in answer["back"]} == networkx.ancestors(graph, lot)
        assert {one["code"] for one in answer["forward"]} == networkx.descendants(graph, lot)
        away = networkx.single_source_shortest_path_length(graph, lot)
        assert {one["code"]: one["steps"] for one in answer["forward"]} == {code: steps for code, steps in away.items() if steps}


def test_demo_when_recalled_then_who_got_it_is_who_the_export_of_postings_says(demo: Told, graph: networkx.DiGraph):
    holders = {row["account"] for row in demo.hand.rows("postings") if row["kind"] in ("customer", "gift")}
    salt = demo.hand("recall", "--lot", demo.codes["salt"][0], "--json").json
    named = {customer["name"] for customer in salt["customers"]} | {other["name"] for other in salt["told_otherwise"]}
    assert holders <= named


def test_export_facts_when_hashed_by_hand_then_every_seal_holds(demo: Told):
    previous = "0" * 64
    lines = demo.hand.sealed()
    assert len(lines) == demo.hand.facts() > 80
    for number, fact in enumerate(lines, start=1):
        body = json.dumps(fact["body"], sort_keys=True, separators=(",", ":"), ensure_ascii=False)
        columns = [fact[name] for name in ("seq", "kind", "version", "happened_at", "recorded_at", "recorded_by")]
        text = json.dumps([*columns, body, previous], sort_keys=True, separators=(",", ":"), ensure_ascii=False)
        assert (fact["seq"], fact["previous_hash"]) == (number, previous)
        assert fact["hash"] == hashlib.sha256(text.encode()).hexdigest()
        previous = fact["hash"]


def test_rebuild_when_done_after_the_demo_then_no_export_changes(demo: Told):
    before = demo.hand.exports()
    answers = [demo.hand("trace", code, "--json").json for code in demo.codes["mixed_packs"]]
    facts = demo.hand("rebuild", "--json").json["facts"]
    assert demo.hand.exports() == before
    assert [demo.hand("trace", code, "--json").json for code in demo.codes["mixed_packs"]] == answers
    # What stands: all facts but the correction, which stands in the place of the cut.
    assert facts == demo.hand.facts() - 1


def test_demo_when_another_workshop_is_in_the_database_then_it_refuses(hand: Hand, tmp_path):
    hand("supplier", "Hill Farm")
    facts = hand.facts()
    answer = hand.refused("demo", "--no-serve", "--folder", str(tmp_path / "pdf"), "--json")
    said = "database: expected a database without facts, got one that holds facts. Give another with --database."
    assert (answer.code, answer.err, answer.error["message"]) == (1, f"{said}\n", said)
    assert hand.facts() == facts
    assert not (tmp_path / "pdf").exists()


def test_demo_when_built_then_the_commands_it_names_work(hand: Hand, tmp_path):
    said = hand("demo", "--no-serve").out.splitlines()
    files = [line.strip() for line in said if line.endswith(".pdf")]
    assert files
    assert all((tmp_path / file).read_bytes().startswith(b"%PDF-") for file in files)
    commands = [line.split() for line in said[said.index("Try") + 1 :]]  # the program by the name it can be called by
    assert [words[1] for words in commands] == ["trace", "recall", "lot", "list", "verify"]
    for words in commands:
        answer = hand.ask(*words[1:])
        assert (answer.code, answer.err) == (0, "")
        assert answer.out


def test_demo_when_built_twice_then_it_is_built_anew_in_place_of_the_first(tmp_path):
    hand = Hand(tmp_path / "twice.db")
    for _ in range(2):
        hand("demo", "--no-serve", "--folder", str(tmp_path / "pdf"))
    once = hand.facts()
    hand("supplier", "Someone Real")
    refused = hand.refused("demo", "--no-serve", "--folder", str(tmp_path / "pdf"), "--json")
    assert (refused.code, refused.error["field"]) == (1, "database")
    assert hand.facts() == once + 1
