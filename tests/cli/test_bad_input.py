"""What cannot be: each with its exit code, one line on standard error, the error object with --json, and nothing recorded."""

import json

import pytest
from by_hand import Answer, Hand
from curing_story import Story, cards_by_commands, day, goods_by_commands, hung_by_commands

UNKNOWN = "P261125A4M"  # well-formed, and its check character fits: the example of the documentation
HUNG_ON, CUT_ON = 80, 99
FINDING = set("rule severity exceeded limit found unit expressed_as basis known citation message".split())  # noqa: SIM905


@pytest.fixture(scope="module")
def hung(tmp_path_factory):
    """Two pieces that hang and four lots received; a piece packed unreleased, another packed, released and held."""
    hand = Hand(tmp_path_factory.mktemp("hung") / "workshop.db")
    story = hung_by_commands(hand)
    return hand, story, hand.facts()


@pytest.fixture(scope="module")
def packed(tmp_path_factory):
    """One pack lot of a piece nobody released, and one pack lot that is held."""
    hand = Hand(tmp_path_factory.mktemp("packed") / "workshop.db")
    story = hung_by_commands(hand)
    sold_as = ("--market", "eu", "--language", "en", "--form", "prepacked")
    unreleased = hand.codes(
        "pack", "--from", f"{story.first}=1 kg", "--pack", "200 g", "--session", "one", *sold_as, "--at", day(30)
    )
    hand("release", story.second, "--by", "Ada", "--at", day(30))
    held = hand.codes("pack", "--from", f"{story.second}=600 g", "--pack", "200 g", "--session", "two", *sold_as, "--at", day(29))
    hand("hold", held[0], "--reason", "smells odd", "--at", day(28))
    return hand, unreleased, held, hand.facts()


def _is_refused(answer: Answer, code: int, message: str, hand: Hand, facts: int) -> None:
    assert answer.err == f"{message}\n"
    assert answer.code == code
    assert hand.facts() == facts
    field, _, rest = message.partition(": expected ")
    error = answer.error
    assert error["message"] == message
    assert error["field"] == field
    assert rest.startswith(f"{error['expected']}, got {error['got']}")


# A weighing of the first piece, which hangs with 1215 g net and a string of 15 g: weight, and what is said to it.
WEIGHINGS = {
    "negative": ("-5 g", "expected a weight of 0 g or more, got -5 g"),
    "nothing": ("0 g", "expected a weight above 0 g, got 0 g"),
    "without unit": ("85", 'expected a weight with its unit, such as "638 g", "2.5 kg", "3.2 oz" or "1 lb 4 oz", got 85'),
    "a float": (85.5, 'expected an exact number in quotes, such as "2.5", got the float 85.5'),
    "under the tare": ("9 g", "expected more than the tare of 15 g, got 9 g"),
    # 84985 / 1215 = 69.947
    "absurd": ("85 kg", "expected a weight near the 1215 g that {first} had before, got 84985 g, 6994.7 % of it. "
               "Is it the right piece, and the right unit?"),
    # 85 / 1215 = 6.996 %
    "a tenth": ("100 g", "expected a weight near the 1215 g that {first} had before, got 85 g, 7.0 % of it. "
                "Is it the right piece, and the right unit?"),
    # 385 / 1215 = 31.69 %
    "unusual": ("400 g", "expected a weight near the 1215 g that {first} had before, got 385 g, 31.7 % of it. "
                "Unusual but possible: say yes to record it so."),
}  # fmt: skip


@pytest.mark.parametrize("weight", WEIGHINGS)
def test_weigh_when_the_weight_cannot_be_then_exit_2_and_why(hung: tuple[Hand, Story, int], weight: str):
    hand, story, facts = hung
    given, said = WEIGHINGS[weight]
    answer = hand.refuse("weigh", piece=story.first, weight=given)
    _is_refused(answer, 2, f"weight: {said.format(first=story.first)}", hand, facts)


def test_weigh_when_nobody_knows_the_code_then_exit_1(hung: tuple[Hand, Story, int]):
    hand, _, facts = hung
    said = f"piece: expected the code of a lot, got {UNKNOWN}. No such lot: read the code again."
    _is_refused(hand.refuse("weigh", piece=UNKNOWN, weight="900 g"), 1, said, hand, facts)


def test_weigh_when_one_character_of_the_code_is_wrong_then_exit_2(hung: tuple[Hand, Story, int]):
    hand, story, facts = hung
    for place in range(7, len(story.first)):
        wrong = "".join("3" if here == place and letter != "3" else "4" if here == place else letter
                        for here, letter in enumerate(story.first))  # fmt: skip
        again = "One character is wrong or two are swapped: read it again."
        said = f"piece: expected a code whose check character fits, got {wrong}. {again}"
        _is_refused(hand.refuse("weigh", piece=wrong, weight="900 g"), 2, said, hand, facts)


def test_weigh_when_it_is_no_code_at_all_then_exit_2(hung: tuple[Hand, Story, int]):
    hand, _, facts = hung
    said = "piece: expected a lot code such as P261125A4M: kind, date, serial and check character, got the big one"
    answer = hand.refuse("weigh", piece="the big one", weight="900 g")
    assert (answer.code, answer.error["field"], answer.error["got"]) == (2, "piece", "the big one")
    assert answer.err.startswith(said)
    assert hand.facts() == facts


def test_weigh_when_the_lot_is_no_piece_then_exit_2(hung: tuple[Hand, Story, int]):
    hand, story, facts = hung
    said = f"piece: expected the code of a piece, got {story.pig}, an animal"
    _is_refused(hand.refuse("weigh", piece=story.pig, weight="900 g"), 2, said, hand, facts)


def test_weigh_when_dated_before_the_piece_was_cut_then_exit_2(hung: tuple[Hand, Story, int]):
    hand, story, facts = hung
    said = f"at: expected a time after {day(CUT_ON)}, when {story.first} came into being, got {day(CUT_ON + 1)}"
    _is_refused(hand.refuse("weigh", piece=story.first, weight="900 g", at=day(CUT_ON + 1)), 2, said, hand, facts)


def test_weigh_when_dated_before_the_stringing_it_follows_then_it_asks(hung: tuple[Hand, Story, int]):
    hand, story, facts = hung
    said = (f"at: expected a time after {day(HUNG_ON)}, when {story.first} was strung, got a time when it was in cure. "
            "Unusual but possible: say yes to record it so.")  # fmt: skip
    _is_refused(hand.refuse("weigh", piece=story.first, weight="1200 g", at=day(HUNG_ON + 5)), 2, said, hand, facts)


def test_weigh_when_dated_tomorrow_then_exit_2(hung: tuple[Hand, Story, int]):
    hand, story, facts = hung
    said = f"at: expected no later than today, {day(0)}, got {day(-1)}"
    _is_refused(hand.refuse("weigh", piece=story.first, weight="900 g", at=day(-1)), 2, said, hand, facts)


def test_weigh_when_the_date_is_written_another_way_then_exit_2(hung: tuple[Hand, Story, int]):
    hand, story, facts = hung
    said = "at: expected a day such as 2026-03-02 or a time such as 2026-03-02T08:15, got 12/03/2026"
    _is_refused(hand.refuse("weigh", piece=story.first, weight="900 g", at="12/03/2026"), 2, said, hand, facts)


def test_string_when_the_piece_hangs_already_then_exit_1(hung: tuple[Hand, Story, int]):
    hand, story, facts = hung
    said = (f"piece: expected a piece that does not hang yet, got {story.first}, strung on {day(HUNG_ON)}. "
            "Weigh it instead, or correct the earlier stringing.")  # fmt: skip
    _is_refused(hand.refuse("string", piece=story.first, weight="1200 g", place="Room 1"), 1, said, hand, facts)


def test_pack_when_the_packs_are_heavier_than_the_piece_then_exit_2(hung: tuple[Hand, Story, int]):
    hand, story, facts = hung
    said = "packs: expected packs, rest and trim of at most the 1215 g there are, got 1400 g. The packs alone weigh 1400 g."
    answer = hand.refuse("pack", from_=[{"piece": story.first}], packs=[{"weight": "1400 g"}], session="s", market="eu",
                         language="en", form="prepacked")  # fmt: skip
    _is_refused(answer, 2, said, hand, facts)


REFUSED = {
    "an unknown supplier": (
        "receive", {"supplier": "Nobody", "kind": "animal", "name": "pig", "weight": "40 kg"},
        "supplier: expected the name of a supplier recorded before, got Nobody. Record the supplier first."),
    "an unknown product": (
        "cut", {"from": "{pig}", "pieces": [{"product": "Ham", "weight": "1 kg"}]},
        "pieces[0].product: expected the name of a product recorded before, got Ham. Record the product first."),
    "an unknown ingredient": (
        "receive", {"supplier": "Dry Goods", "kind": "ingredient", "name": "thyme", "weight": "40 g"},
        "name: expected the name of an ingredient recorded before, got thyme. Record the ingredient first."),
    "an unknown customer": (
        "sell", {"packs": ["{first}"], "customer": "Nobody"},
        "customer: expected the name of a customer recorded before, got Nobody. Record the customer first."),
    "a choice that is none": (
        "receive", {"supplier": "Hill Farm", "kind": "plant", "name": "pig", "weight": "40 kg"},
        "kind: expected one of animal, part, ingredient, got plant"),
    "an unknown field": (
        "weigh", {"piece": "{first}", "weight": "900 g", "colour": "red"},
        "colour: expected only the fields piece, weight, got a field of that name"),
    "a missing field": ("weigh", {"piece": "{first}"}, "weight: expected a value, got nothing"),
    "a float deep inside": (
        "recipe", {"name": "r", "lines": [{"ingredient": "sea salt", "percent_of_green": 2.5}]},
        'lines[0].percent_of_green: expected an exact number in quotes, such as "2.5", got the float 2.5'),
    "a negative weight deep inside": (
        "cut", {"from": "{pig}", "pieces": [{"product": "Pork neck", "weight": weight} for weight in ("1 kg", "-1 kg")]},
        "pieces[1].weight: expected a weight of 0 g or more, got -1 kg"),
    "more meat than the pig has": (  # (40000 - 36700) / 40000 = 8.25 %, shown to a tenth
        "cut", {"from": "{pig}", "pieces": [{"product": "Pork neck", "weight": "40 kg"}]},
        "pieces: expected pieces, trim and bone of at most the 36700 g left of {pig}, got 40000 g, 8.2 % of the whole too much"),
    "a piece sold instead of a pack": (
        "sell", {"packs": ["{first}"], "customer": "Bistro"}, "packs[0]: expected the code of a pack, got {first}, a piece"),
    "no customer and no public": ("sell", {"packs": ["{first}"]}, "customer: expected a customer, or public: true, got neither"),
    "a time zone that is none": (
        "workshop", {"name": "x", "address": "y", "timezone": "Mars/Base", "country": "FR", "standing": "registered"},
        "timezone: expected a time zone such as Europe/Lisbon, got Mars/Base"),
}  # fmt: skip


def _filled(value: object, story: Story) -> object:
    return json.loads(json.dumps(value).replace("{pig}", story.pig).replace("{first}", story.first))


@pytest.mark.parametrize("case", REFUSED)
def test_record_when_a_field_cannot_be_then_exit_2_names_it(hung: tuple[Hand, Story, int], case: str):
    hand, story, facts = hung
    kind, fields, said = REFUSED[case]
    answer = hand.refused("record", kind, given=json.dumps(_filled(fields, story)))
    _is_refused(answer, 2, str(_filled(said, story)), hand, facts)


def test_record_when_the_kind_is_unknown_then_exit_2_lists_the_kinds(hung: tuple[Hand, Story, int]):
    hand, story, facts = hung
    answer = hand.refuse("polish", piece=story.first)
    assert answer.code == 2
    assert answer.err.startswith("kind: expected one of workshop, supplier, customer,")
    assert answer.err.endswith(", got polish\n")
    assert answer.error["got"] == "polish"
    assert hand.facts() == facts


@pytest.mark.parametrize(("given", "got"), [
    ("{piece: 1}", "text that stops being JSON at character 1: Expecting property name enclosed in double quotes"),
    ("", "text that stops being JSON at character 0: Expecting value"),
    ('["a"]', '["a"]'), ("12", "12"), ("null", "null"),
])  # fmt: skip
def test_record_when_it_is_no_json_object_then_exit_2(hung: tuple[Hand, Story, int], given: str, got: str):
    hand, _, facts = hung
    _is_refused(hand.refused("record", "weigh", given=given), 2, f"weigh: expected one JSON object, got {got}", hand, facts)


def test_correct_when_there_is_no_such_fact_then_exit_1(hung: tuple[Hand, Story, int]):
    hand, _, facts = hung
    said = "fact: expected the number of a recorded fact, got 9999"
    _is_refused(hand.refuse("correct", fact=9999, instead=None, reason="slip"), 1, said, hand, facts)


def test_friendly_commands_when_refused_then_the_same_codes_and_sentences(hung: tuple[Hand, Story, int]):
    hand, story, facts = hung
    said = f"weight: {WEIGHINGS['absurd'][1].format(first=story.first)}"
    _is_refused(hand.refused("weigh", story.first, "85 kg", "--json"), 2, said, hand, facts)
    unknown = f"piece: expected the code of a lot, got {UNKNOWN}. No such lot: read the code again."
    _is_refused(hand.refused("weigh", UNKNOWN, "900 g", "--json"), 1, unknown, hand, facts)


def test_friendly_commands_when_refused_without_json_then_standard_output_is_empty(hung: tuple[Hand, Story, int]):
    hand, story, facts = hung
    answer = hand.refused("weigh", story.first, "85 kg")
    assert (answer.code, answer.out, len(answer.err.splitlines())) == (2, "", 1)
    assert hand.facts() == facts


@pytest.mark.parametrize("words", [("lot",), ("trace",)])
def test_reading_when_nobody_knows_the_code_then_exit_1(hung: tuple[Hand, Story, int], words: tuple[str, ...]):
    hand, _, _ = hung
    answer = hand.refused(*words, UNKNOWN, "--json")
    assert (answer.code, answer.error["field"], answer.error["got"]) == (1, "code", UNKNOWN)
    assert len(answer.err.splitlines()) == 1


def test_recall_when_nobody_knows_the_code_then_exit_1(hung: tuple[Hand, Story, int]):
    answer = hung[0].refused("recall", "--lot", UNKNOWN, "--json")
    assert (answer.code, answer.error["got"]) == (1, UNKNOWN)


def test_recall_when_nothing_is_affected_then_exit_0(hung: tuple[Hand, Story, int]):
    answer = hung[0]("recall", "--from", day(400), "--to", day(300), "--json").json
    assert (answer["affected"], answer["customers"], answer["balance"]["difference"]) == ([], [], "0")


USAGE = {
    "no such command": ("polish",),
    "no such option": ("weigh", "{first}", "900 g", "--colour", "red"),
    "an argument missing": ("weigh", "{first}"),
    "an option missing": ("cut", "{pig}"),
    "a choice that is none": ("string", "{first}", "900 g", "--place", "Room 1", "--weight-is", "heavy"),
    "no such export": ("export", "nothing"),
    "a part too many": ("cut", "{pig}", "--piece", "Pork neck=1 kg=M 9=x"),
    "no number of a fact": ("correct", "first", "--take-back", "--reason", "slip"),
    "neither instead nor take back": ("correct", "1", "--reason", "slip"),
    "nothing suspected": ("recall",),
    "no day": ("recall", "--from", "yesterday"),
    "an end before its beginning": ("recall", "--from", "2026-05-05", "--to", "2026-01-01"),
    "no such recipe": ("doses", "Nothing", "{first}"),
    "no such printer": ("tag", "{first}", "--output", "tag.pdf", "--dots-per-mm", "9"),
    "no such folder": ("tag", "{first}", "--output", "no/such/folder/tag.pdf"),
}


@pytest.mark.parametrize("case", USAGE)
def test_command_line_when_used_wrongly_then_exit_2_and_one_line(hung: tuple[Hand, Story, int], case: str):
    hand, story, facts = hung
    words = [str(_filled(word, story)) for word in USAGE[case]]
    answer = hand.refused(*words)
    assert (answer.code, answer.out) == (2, "")
    assert len(answer.err.splitlines()) == 1
    assert ": expected " in answer.err
    assert ", got " in answer.err
    assert "Traceback" not in answer.err
    assert hand.facts() == facts


def test_command_line_when_used_wrongly_with_json_then_the_error_object(hung: tuple[Hand, Story, int]):
    error = hung[0].refused("weigh", hung[1].first, "--json").error
    assert {name: error[name] for name in ("field", "expected", "got")} == {
        "field": "weight", "expected": "a value", "got": "nothing"}  # fmt: skip


def test_database_when_it_cannot_be_opened_then_exit_2(tmp_path):
    answer = Hand(tmp_path / "no" / "such" / "folder.db").refused("list", "--json")
    assert (answer.code, answer.error["field"]) == (2, "database")
    assert len(answer.err.splitlines()) == 1


def test_sale_when_the_piece_was_never_released_then_exit_3_with_findings(packed):
    hand, unreleased, _, facts = packed
    answer = hand.refuse("sell", packs=[unreleased[1]], customer="Bistro")
    said = f"packs: expected packs of released pieces, got {unreleased[1]}, not released. Release the lot first."
    assert (answer.code, answer.err) == (3, f"{said}\n")
    assert [(finding["severity"], finding["exceeded"]) for finding in answer.error["findings"]] == [("stop", True)]
    assert set(answer.error["findings"][0]) == FINDING
    assert answer.error["message"] == said
    assert hand.refused("sell", unreleased[1], "--customer", "Bistro", "--yes").code == 3
    assert hand.refused("give", "a friend", unreleased[1]).code == 3
    assert hand.facts() == facts


def test_sale_when_the_pack_is_held_then_exit_3_and_yes_does_not_help(packed):
    hand, _, held, facts = packed
    for yes in ((), ("--yes",)):
        answer = hand.refused("sell", held[1], "--customer", "Bistro", "--json", *yes)
        said = f"packs: expected a lot that is not held (smells odd), got {held[1]}. Lift the hold first."
        assert (answer.code, answer.err) == (3, f"{said}\n")
        assert len(answer.error["findings"]) == 1
    assert hand.facts() == facts


@pytest.mark.parametrize("place", [1, 2])
def test_sale_label_when_held_or_unreleased_then_exit_3_and_no_file(packed, tmp_path, place: int):
    hand, facts, code = packed[0], packed[3], packed[place][0]
    why = "it is not released; release the lot first" if place == 1 else "it is held (smells odd); lift the hold first"
    file = tmp_path / "label.pdf"
    answer = hand.refused("sale-label", code, "--output", str(file), "--json")
    assert (answer.code, answer.err) == (3, f"code: no sale label for {code}/1: {why}\n")
    assert [finding["severity"] for finding in answer.error["findings"]] == ["stop"]
    assert not file.exists()
    assert hand.facts() == facts


def test_weigh_when_unusual_and_the_person_says_yes_then_it_is_recorded_with_the_answer(hand: Hand):
    story = hung_by_commands(hand)
    facts = hand.facts()
    assert hand.refused("weigh", story.first, "400 g").code == 2
    assert hand.facts() == facts
    hand("weigh", story.first, "400 g", "--yes")
    assert hand.facts() == facts + 1
    assert hand.sealed()[-1]["body"]["confirmed"] == [
        f"weight: expected a weight near the 1215 g that {story.first} had before, got 385 g, 31.7 % of it"]  # fmt: skip
    assert {lot["code"]: lot["grams_here"] for lot in hand("list", "--json").json["lots"]}[story.first] == "385"


def test_weigh_when_absurd_then_yes_does_not_help(hung: tuple[Hand, Story, int]):
    hand, story, facts = hung
    assert hand.refused("weigh", story.first, "85 kg", "--yes").code == 2
    assert hand.facts() == facts


def test_record_when_unusual_and_confirmed_in_the_object_then_it_is_recorded(hand: Hand):
    story = hung_by_commands(hand)
    hand.record("weigh", piece=story.second, weight="300 g", confirmed=True)
    assert {lot["code"]: lot["grams_here"] for lot in hand("list", "--json").json["lots"]}[story.second] == "285"


def test_sale_label_when_the_dose_is_over_the_limit_then_exit_3_names_the_rule_and_nothing_is_issued(hand: Hand):
    cards_by_commands(hand)
    pig, (_, curing_salt, _) = goods_by_commands(hand)
    piece = hand.typed(f'cut {pig} --piece "Pork neck=1 kg" --at {day(99)}')[0]
    cure = hand("cure", "tub", piece, "--method", "dry", "--mix", f"{curing_salt}=10 g", "--at", day(98), "--json").json["fact"]
    hand("string", piece, "1000 g", "--place", "Room 1", "--yes", "--at", day(80))
    hand("release", piece, "--by", "Ada", "--at", day(30))
    pack = f'pack --from "{piece}=700 g" --pack "200 g" --session s --market eu --language en --form prepacked --at {day(29)}'
    code = hand.typed(pack)[0]
    # It was 100 g: with 0.6 % of sodium nitrite on 1 kg 600 mg/kg, four times what the law of the EU ever allowed (150).
    instead = {"tub": "tub", "pieces": [piece], "method": "dry", "mix": [{"lot": curing_salt, "weight": "100 g"}]}
    hand("correct", str(cure), "--reason", "a nought was missing", "--instead", json.dumps(instead), "--yes")
    facts = hand.facts()
    answer = hand.refused("sale-label", code, "--output", "label.pdf", "--json")
    assert answer.code == 3
    stop = answer.error["findings"][0]
    assert (stop["rule"], stop["severity"], stop["exceeded"]) == ("eu.nitrite.non_heat_treated", "stop", True)
    assert stop["message"] in answer.err
    assert stop["citation"].startswith("Regulation (EC) 1333/2008")
    assert not (hand.database.parent / "label.pdf").exists()
    assert hand.facts() == facts
