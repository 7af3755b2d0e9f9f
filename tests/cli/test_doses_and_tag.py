"""Grams to weigh out, and the target on the hanging tag: both by hand arithmetic."""

import pytest
from by_hand import Hand
from curing_story import cards_by_commands, day, goods_by_commands, hung_by_commands
from printed import closed_up, symbols, words

CAUTION = "poisonous in small amounts"


@pytest.fixture
def cut(hand: Hand):
    """The pig cut into pieces of 1025 and 737 g: neither is round."""
    cards_by_commands(hand)
    pig, received = goods_by_commands(hand)
    return hand, hand.codes("cut", pig, "--piece", "Pork neck=1025 g", "--piece", "Pork neck=737 g", "--at", day(99)), received


def test_doses_when_asked_for_two_pieces_then_grams_each_and_together(cut):
    hand, pieces, _ = cut
    answer = hand("doses", "Neck cure", *pieces, "--json").json
    # 1.5, 1.5 and 0.5 %: of 1025 g 15.375, 15.375, 5.125; of 737 g 11.055, 11.055, 3.685; of 1762 g 26.43, 26.43, 8.81;
    # to a hundredth, half up.
    assert [[line["weight"] for line in piece["weigh"]] for piece in answer["pieces"]] == [
        ["15.38 g", "15.38 g", "5.13 g"], ["11.06 g", "11.06 g", "3.69 g"]]  # fmt: skip
    assert [line["weight"] for line in answer["together"]] == ["26.43 g", "26.43 g", "8.81 g"]
    assert [line["ingredient"] for line in answer["together"]] == ["sea salt", "curing salt", "mustard seed"]


def test_doses_when_the_recipe_holds_nitrite_then_the_caution_stands_by_the_grams(cut):
    hand, pieces, _ = cut
    said = hand("doses", "Neck cure", *pieces).out
    assert "       26.43 g  curing salt" in said
    assert CAUTION in said
    assert [CAUTION in caution for caution in hand("doses", "Neck cure", *pieces, "--json").json["cautions"]] == [True]


def test_doses_when_the_recipe_is_salt_alone_then_no_caution(cut):
    hand, pieces, _ = cut
    hand("recipe", "plain cure", "--line", "sea salt=3")
    # Published: 1025 g with 3 % salt are 30.75 g (curing_trade.md section 9, C4).
    answer = hand("doses", "plain cure", pieces[0], "--json").json
    assert answer["pieces"][0]["weigh"] == [{"ingredient": "sea salt", "weight": "30.75 g", "percent_of_green": "3"}]
    assert answer["cautions"] == []


def test_doses_when_weighed_out_and_put_on_then_the_record_says_the_ppm_by_hand(cut):
    hand, pieces, (salt, curing_salt, mustard) = cut
    # 15.38 g of curing salt with 0.6 % of sodium nitrite on 1025 g: 92.28 mg / 1.025 kg = 90.03 ppm.
    hand("cure", "red tub", pieces[0], "--method", "dry", "--mix", f"{salt}=15.38 g", "--mix", f"{curing_salt}=15.38 g",
         "--mix", f"{mustard}=5.13 g", "--at", day(99))  # fmt: skip
    dose = hand("lot", pieces[0], "--json").json["doses"][0]
    assert dose["nitrite"]["ppm_as_sodium_nitrite"][:5] == "90.02"  # 90.0293
    assert "in cure: green 1025 g + 35.89 g" in hand("lot", pieces[0]).out


def _tag(hand: Hand, base: str, target: str, green: str, hang: str, **more: str) -> dict[str, str]:
    """Cut, cure and string one piece of a product, print its tag, and return what it says."""
    hand.typed(
        "product Neck --species pig --cut neck --class non_heat_treated --market eu --language en --shelf-life-days 90"
        f' --storage "Keep cold." --target-loss-percent {target} --loss-base {base} --at {day(110)}'
    )
    pig, received = goods_by_commands(hand)
    piece = hand.codes("cut", pig, "--piece", f"Neck={green}", "--at", day(99))[0]
    hand("cure", "tub", piece, "--method", "dry", "--mix", f"{received[0]}=20 g", "--at", day(98))
    tare = ("--tare", more["tare"]) if "tare" in more else ()
    hand("string", piece, hang, "--place", "Room 1", *tare, "--yes", "--at", day(80))
    hand("tag", piece, "--output", "tag.pdf")
    assert symbols(hand.database.parent / "tag.pdf", 8)[0]["Code 128"] == piece
    said = hand("lot", piece, "--json").json["labels"][0]["content"]["elements"]
    for element in ("stop_at", "stop_at_basis"):
        assert closed_up(said[element]) in words(hand.database.parent / "tag.pdf")[0]
    return {name: text.replace("\u00a0", " ") for name, text in said.items() if isinstance(text, str)}


def test_tag_when_638_g_hang_and_30_percent_are_wanted_then_stop_at_447_g(hand: Hand):
    cards_by_commands(hand)
    # Published: 638 g, target 30 % -> 446.6 g (curing_trade.md section 9, W6); a scale for pieces shows whole grams.
    said = _tag(hand, "hang", "30", "640 g", "638 g")
    assert said["stop_at"] == "447 g"
    assert said["stop_at_basis"] == "on the scale, string included: 30 % off the hang weight of 638 g"


def test_tag_when_string_and_net_weigh_15_g_then_they_are_on_the_scale_too(hand: Hand):
    cards_by_commands(hand)
    # 653 g on the scale are 638 g of meat: 446.6 + 15 = 461.6.
    said = _tag(hand, "hang", "30", "640 g", "653 g", tare="15 g")
    assert (said["stop_at"], said["tare"]) == ("462 g", "15 g")


@pytest.mark.parametrize(("base", "stop_at", "weight"), [("green", "650 g", "1000 g"), ("hang", "780 g", "1200 g")])
def test_tag_when_the_base_is_green_or_hang_weight_then_the_targets_are_130_g_apart(hand: Hand, base, stop_at, weight):
    cards_by_commands(hand)
    # Published: green 1000 g, trussed 1200 g, target 35 %: 650 g or 780 g by choice of base (curing_trade.md section 9, W7).
    said = _tag(hand, base, "35", "1000 g", "1200 g")
    assert said["stop_at"] == stop_at
    assert said["stop_at_basis"] == f"on the scale, string included: 35 % off the {base} weight of {weight}"


def test_tag_when_the_product_has_a_default_tare_and_minimum_days_then_both_are_on_the_tag(hand: Hand):
    story = hung_by_commands(hand)
    hand("tag", "M 7", "--output", "tag.pdf", "--who", "Ada")
    elements = hand("lot", story.second, "--json").json["labels"][0]["content"]["elements"]
    # 815 - 15 = 800 g; 30 % off: 560 g, with its string 575 g.
    assert elements["stop_at"].replace("\u00a0", " ") == "575 g"
    assert elements["allergens"] == "mustard"
    assert (elements["code128"], elements["qr"]) == (
        story.second, f"https://labels.example.com/01/09521234544012/10/{story.second}")  # fmt: skip
    assert hand.sealed()[-1]["recorded_by"] == "Ada"


def test_doses_when_a_bag_and_a_scale_are_named_then_its_strength_and_the_worst_are_said(cut):
    hand, pieces, _ = cut
    weak = hand.typed('receive ingredient "curing salt" --supplier "Dry Goods" --weight "1 kg" --sodium-nitrite-percent 0.5')[0]
    said = hand("doses", "Neck cure", pieces[0], "--container", weak, "--scale-step", "0.1 g", "--working").out
    # 15.375 g of 0.6 % bring 92.25 mg; of 0.5 % that is 18.45 g; in steps of 0.1 g 18.5 g, half up
    assert f"18.50 g  curing salt from {weak} (this bag is 0.5 % nitrite, the recipe is for 0.6 %)" in said
    assert "18.5 g curing salt × 0.5 % = 0.0925 g" in said
    assert "on this scale 90" in said


def test_dose_when_ppm_and_salt_are_wanted_then_grams_from_one_bag(cut):
    hand, pieces, (_, curing_salt, _) = cut
    said = hand("dose", pieces[0], "--container", curing_salt, "--nitrite-ppm", "90", "--salt-percent", "2.5", "--working").out
    # 90 ppm of 1025 g are 92.25 mg: 15.375 g of 0.6 %
    assert "15.375 g  curing salt" in said
    assert "90 ppm × 1025 g ÷ 1 000 000 ÷ 0.6 % = 15.375 g" in said
    answer = hand.refused("dose", pieces[0], "--container", curing_salt, "--nitrite-ppm", "200")
    assert answer.code == 3
    assert "is over 80" in answer.err


def test_classes_when_asked_then_the_class_and_who_decides(hand: Hand):
    assert hand("classes", "--market", "us", "--belly", "--way", "pumped").out.startswith("pumped_bacon  (us)")
    assert hand("classes", "--market", "eu", "--json").json["class"] == "non_heat_treated"


def test_rules_when_asked_for_a_day_then_the_figure_of_that_day(hand: Hand):
    old = hand("rules", "eu nitrite non heat treated", "--on", "2025-10-08").out
    assert "150 mg/kg as sodium nitrite" in old
    new = hand("rules", "eu nitrite non heat treated", "--on", "2025-10-09", "--json").json
    assert {rule["id"]: rule["value"] for rule in new["rules"]}["eu.nitrite.non_heat_treated"] == "80"


def test_tag_when_the_law_stops_the_piece_then_it_says_held_and_the_record_names_rule_limit_and_basis(cut):
    hand, pieces, (_, curing_salt, _) = cut
    hand("cure", "red tub", pieces[0], "--method", "dry", "--mix", f"{curing_salt}=25 g", "--at", day(98))
    hand("string", pieces[0], "1000 g", "--place", "Room 1", "--at", day(80))
    hand("tag", pieces[0], "--output", "tag.pdf")
    assert "HELD" in words(hand.database.parent / "tag.pdf")[0]
    stop = next(one for one in hand("lot", pieces[0], "--json").json["doses"][0]["findings"] if one["severity"] == "stop")
    # 25 g of 0.6 % on 1025 g: 146.34 mg/kg as sodium nitrite, 97.58 as the ion; the EU allows 80 as the ion
    assert (stop["rule"], stop["limit"], stop["found"][:5]) == ("eu.nitrite.non_heat_treated", "80", "97.57")
    assert stop["basis"] == "product when the additive goes in"
    assert "use less" in stop["message"]
    assert "soak" not in stop["message"]
    assert "blend" not in stop["message"]
