"""The green weight of a piece that is packed and labelled is put right: what must change, and what must not."""

import json

import pytest
from by_hand import Hand
from curing_story import Story, day, told_by_commands


@pytest.fixture(scope="module")
def printed(tmp_path_factory) -> tuple[Hand, Story]:
    """The story told, and the labels of both pack lots issued, once."""
    folder = tmp_path_factory.mktemp("printed")
    hand = Hand(folder / "workshop.db")
    story = told_by_commands(hand)
    for lot in (story.packs[0], story.mixed[0]):
        hand("sale-label", lot, "--output", str(folder / "labels.pdf"))
    return hand, story


@pytest.fixture
def labelled(printed: tuple[Hand, Story], tmp_path, monkeypatch) -> tuple[Hand, Story]:
    """A copy of it for a test to correct."""
    monkeypatch.chdir(tmp_path)
    return printed[0].copied_to(tmp_path / "workshop.db"), printed[1]


def _corrected_cut(story: Story, second: str = "850 g") -> dict[str, object]:
    pieces = [{"product": "Pork neck", "weight": "1200 g"}, {"product": "Pork neck", "weight": second, "marker": "M 7"}]
    return {"from": story.pig, "pieces": pieces, "trim": "300 g", "bone": "1 kg"}


def _correct(hand: Hand, story: Story) -> int:
    cut = next(fact["seq"] for fact in hand.sealed() if fact["kind"] == "cut")
    hand("correct", str(cut), "--instead", json.dumps(_corrected_cut(story)), "--reason", "800 was typed for 850")
    return int(cut)


def test_correction_when_a_packed_piece_was_weighed_wrong_then_both_facts_stay_visible(labelled: tuple[Hand, Story]):
    hand, story = labelled
    before = hand.sealed()
    cut = _correct(hand, story)

    sealed = hand.sealed()
    assert sealed[: len(before)] == before
    assert [fact["kind"] for fact in sealed[len(before) :]] == ["correct"]
    assert sealed[cut - 1]["body"]["given"]["pieces"][1]["weight"] == "800 g"
    assert sealed[-1]["body"]["given"]["instead"]["pieces"][1]["weight"] == "850 g"
    record = hand("lot", story.second, "--json").json
    marked = {step["fact"]: step["corrected_by"] for step in record["timeline"] if step["kind"] == "cut"}
    assert marked[cut] == len(sealed)
    assert record["weights"][0] == "green weight 850 g"
    assert f"[corrected by fact {len(sealed)}]" in hand("lot", story.second).out
    assert hand.facts() == len(sealed)


def test_correction_when_recorded_then_codes_stay_and_every_sum_is_right(labelled: tuple[Hand, Story]):
    hand, story = labelled
    cut = _correct(hand, story)

    rows = hand.rows("postings")
    of_cut = {row["account"]: int(row["milligrams"]) for row in rows if row["fact"] == str(cut)}
    assert of_cut == {story.pig: -3_350_000, story.first: 1_200_000, story.second: 850_000, "trim": 300_000, "bone": 1_000_000}
    # 70 g of mix on 1200 + 850 g of meat: 70000 mg x 1200 / 2050 = 40975.6, 70000 x 850 / 2050 = 29024.4.
    cure = next(fact["seq"] for fact in hand.sealed() if fact["kind"] == "cure")
    shares = {row["account"]: int(row["milligrams"]) for row in rows if row["fact"] == str(cure) and row["kind"] == "piece"}
    assert shares == {story.first: 40_976, story.second: 29_024}
    assert {lot["code"]: lot["grams_here"] for lot in hand("list", "--json").json["lots"]}[story.pig] == "36650"
    flows: dict[tuple[str, str], int] = {}
    for row in rows:
        flows[row["fact"], row["flow"]] = flows.get((row["fact"], row["flow"]), 0) + int(row["milligrams"])
    assert set(flows.values()) == {0}
    # In: 5000 + 30 + 10 + 1200 + 850 = 7090; 105 dripped: 1240.976 - 1215 of the first, 879.024 - 800 of the second.
    assert hand("recall", "--lot", story.salt, "--json").json["balance"] == {
        "in": "7090",
        "out": {"customer": "500", "drip and brine": "105", "drying": "685", "here: in stock": "830", "here: received": "4970"},
        "difference": "0",
    }


def test_correction_when_recorded_then_the_doses_are_worked_out_anew(labelled: tuple[Hand, Story]):
    hand, story = labelled
    # 30 g of curing salt with 0.6 % sodium nitrite are 180 mg: on 2000 g 90 ppm, on 2050 g 87.80 ppm, the same for both pieces.
    before = hand("lot", story.mixed[1], "--json").json["doses"]
    assert {dose["code"]: dose["nitrite"]["ppm_as_sodium_nitrite"] for dose in before} == {story.first: "90", story.second: "90"}
    _correct(hand, story)
    after = hand("lot", story.mixed[1], "--json").json["doses"]
    assert [dose["code"] for dose in after] == [story.first, story.second]
    assert {dose["nitrite"]["ppm_as_sodium_nitrite"][:4] for dose in after} == {"87.8"}
    # As nitrite ion: 87.8049 x 46.0055 / 68.9953 = 58.547 mg/kg.
    assert {dose["nitrite"]["mg_per_kg_as_ion"][:4] for dose in after} == {"58.5"}


def test_correction_when_a_label_was_issued_then_it_stays_as_printed_and_is_superseded(labelled: tuple[Hand, Story]):
    hand, story = labelled
    before = hand("lot", story.mixed[1], "--json").json["labels"]
    assert [label["superseded"] for label in before] == [False]
    # The average of the two pieces: 500 g of the first were packed before, 830 g of both now: (1200 + 800) / 1330 = 150.4,
    # declared as 150; corrected (1200 + 850) / 1330 = 154.1, so 154.
    assert "150" in before[0]["content"]["elements"]["quantity_statement"]
    _correct(hand, story)

    after = hand("lot", story.mixed[1], "--json").json["labels"]
    assert [(label["fact"], label["content"]) for label in after] == [(label["fact"], label["content"]) for label in before]
    assert [label["superseded"] for label in after] == [True]
    assert "superseded: it would say something else today" in hand("lot", story.mixed[1]).out
    # The other pack lot says what it said: its meat is 150 g a 100 g, before and after.
    assert [label["superseded"] for label in hand("lot", story.packs[1], "--json").json["labels"]] == [False]


def test_correction_when_the_label_is_printed_again_then_a_new_one_stands_beside_the_old(labelled: tuple[Hand, Story]):
    hand, story = labelled
    _correct(hand, story)
    hand("sale-label", story.mixed[0], "--output", "again.pdf")
    labels = hand("lot", story.mixed[1], "--json").json["labels"]
    assert [label["superseded"] for label in labels] == [False, True]
    assert "154" in labels[0]["content"]["elements"]["quantity_statement"]


def test_correction_when_recall_is_searched_before_and_after_then_the_same_lots_are_affected(labelled: tuple[Hand, Story]):
    hand, story = labelled
    seeds = [story.pig, story.salt, story.curing_salt, story.mustard, story.first, story.second, story.mix]

    def searched() -> dict[str, tuple[set[str], list[object]]]:
        answers = {seed: hand("recall", "--lot", seed, "--json").json for seed in seeds}
        return {seed: ({lot["code"] for lot in answer["affected"]}, answer["customers"]) for seed, answer in answers.items()}

    before = searched()
    _correct(hand, story)
    assert searched() == before


def test_correction_when_taken_back_then_everything_stands_as_before(labelled: tuple[Hand, Story]):
    hand, story = labelled
    postings, record = hand.rows("postings"), hand("lot", story.mixed[1], "--json").json
    _correct(hand, story)
    assert hand.rows("postings") != postings
    hand("correct", str(hand.facts()), "--take-back", "--reason", "it was 800 after all")
    assert hand.rows("postings") == postings
    assert hand("lot", story.mixed[1], "--json").json["labels"] == record["labels"]


def test_correction_when_the_new_weight_cannot_be_then_it_is_refused_and_nothing_changes(labelled: tuple[Hand, Story]):
    hand, story = labelled
    before = hand.exports()
    cut = next(fact["seq"] for fact in hand.sealed() if fact["kind"] == "cut")
    instead = json.dumps(_corrected_cut(story, second="-850 g"))
    answer = hand.refused("correct", str(cut), "--instead", instead, "--reason", "slip", "--json")
    assert answer.code == 2
    assert answer.error["field"] == "instead.pieces[1].weight"
    assert hand.exports() == before


def test_correction_when_it_takes_away_what_later_facts_need_then_it_conflicts(labelled: tuple[Hand, Story]):
    hand, _ = labelled
    before = hand.exports()
    pig = next(fact["seq"] for fact in hand.sealed() if fact["kind"] == "receive")
    answer = hand.refused("correct", str(pig), "--take-back", "--reason", "there was no pig")
    assert answer.code == 1, answer
    assert len(answer.err.splitlines()) == 1
    assert hand.exports() == before


def test_late_entry_when_a_weigh_in_is_recorded_late_then_drying_is_split_in_the_order_it_happened(labelled: tuple[Hand, Story]):
    hand, story = labelled
    # 985 g on day -60 and 835 g on day -40 were weighed without string; 900 g (915 on the scale) stand between them.
    late = hand("weigh", story.first, "915 g", "--at", day(50), "--json").json["fact"]
    dried = {row["fact"]: int(row["milligrams"]) for row in hand.rows("postings")
             if row["kind"] == "drying" and row["at"][:10] in (day(50), day(40))}  # fmt: skip
    assert dried[str(late)] == 85_000
    assert sorted(dried.values()) == [65_000, 85_000, 130_000]
