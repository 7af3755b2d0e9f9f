"""How the ledger behaves: each settled line about a moment of work, with the grams worked out by hand."""

import datetime as dt
import re

import pytest

from labelsvc.errors import BlockedError, CodeError, ConfirmationNeeded, ConflictError, InputError, NotFoundError


def sentence(text):
    return f"^{re.escape(text)}$"


def milligrams(shop, *codes):
    return [shop.state(code).milligrams for code in codes]


# --- in the tub ---------------------------------------------------------------------------------------------------------
def test_piece_in_cure_weighs_green_plus_what_was_put_on_and_is_no_weight_until_weighed(shop):
    piece = shop.green_piece("1200 g")
    shop.cure([piece], (shop.ingredient(), "31 g"))
    state = shop.state(piece)
    assert (state.green_milligrams, state.put_on_milligrams, state.milligrams) == (1_200_000, 31_000, 1_231_000)
    assert not state.is_weighed
    shop.weigh(piece, "1210 g")
    assert shop.state(piece).is_weighed
    assert shop.flows(shop.last.fact) == [[(piece, -21_000), ("drip and brine", 21_000)]]


def test_mix_for_several_pieces_is_a_lot_of_its_own_shared_by_green_weight(shop):
    first, second = shop.cut(shop.receive(), "1200 g", "800 g")
    salt, pepper = shop.ingredient(), shop.ingredient("pepper")
    mix = shop.cure([first, second], (salt, "50 g"), (pepper, "10 g")).codes[0]
    # 60 g over 1200 : 800 is 36 g and 24 g
    assert shop.flows(shop.last.fact) == [
        [(salt, -50_000), (pepper, -10_000), (mix, 60_000)],
        [(mix, -60_000), (first, 36_000), (second, 24_000)],
    ]
    assert shop.state(mix).kind == "ingredient"
    assert shop.state(mix).whereabouts == "used up"


def test_more_weighed_out_of_a_lot_than_there_is_asks_even_where_it_is_named_twice(shop):
    piece, salt = shop.green_piece(), shop.ingredient(weight="100 g", supplier_lot="lot 7")
    with pytest.raises(ConfirmationNeeded, match=r"^mix\[1\]\.weight: expected at most the 100 g there are of "):
        shop.cure([piece], (salt, "60 g"), ("LOT 7", "60 g"))
    shop.cure([piece], (salt, "60 g"), ("LOT 7", "60 g"), yes=True)
    assert shop.flows(shop.last.fact)[0] == [("count difference", -20_000), (salt, 20_000)]
    assert milligrams(shop, salt) == [0]


def test_shares_that_do_not_come_out_even_go_by_largest_remainder(shop):
    pieces = shop.cut(shop.receive(), "1000 g", "1000 g", "1000 g")
    shop.cure(pieces, (shop.ingredient(), "10 mg"))  # 10 mg in three: 4, 3, 3
    assert [shop.state(piece).put_on_milligrams for piece in pieces] == [4, 3, 3]


def test_excess_salt_scraped_off_goes_to_wash_never_back_to_a_lot(shop):
    piece, salt = shop.green_piece(), shop.ingredient(weight="1 kg")
    shop.cure([piece], (salt, "500 g"), method="dry_excess")
    shop.take_out((piece, "980 g"), leftover="450 g")
    # 1500 - 450 = 1050; weighed 980, so 70 g of juice
    assert shop.flows(shop.last.fact) == [
        [(piece, -450_000), ("wash and rub-off", 450_000)],
        [(piece, -70_000), ("drip and brine", 70_000)],
    ]
    assert milligrams(shop, salt) == [500_000]


def test_brine_is_credited_whole_and_the_difference_leaves_to_drip_at_take_out(shop):
    first, second = shop.cut(shop.receive(), "1000 g", "1000 g")
    shop.cure([first, second], (shop.ingredient(), "100 g"), (shop.ingredient("curing salt"), "900 g"), method="brine")
    assert milligrams(shop, first, second) == [1_500_000, 1_500_000]
    shop.take_out((first, "1050 g"), (second, None))
    assert shop.flows(shop.last.fact) == [[(first, -450_000), ("drip and brine", 450_000)]]
    assert [shop.state(piece).phase for piece in (first, second)] == ["out of cure", "out of cure"]
    assert not shop.state(second).is_weighed


# --- hanging ------------------------------------------------------------------------------------------------------------
def test_string_sets_hang_weight_net_and_the_tare_is_no_posting(shop):
    piece = shop.hanging_piece("1000 g", "30 g", hung="1000 g", tare="20 g")
    state = shop.state(piece)
    assert (state.hang_milligrams, state.tare_milligrams, state.milligrams) == (980_000, 20_000, 980_000)
    assert shop.flows(shop.last.fact) == [[(piece, -50_000), ("drip and brine", 50_000)]]  # 1030 - 980


def test_string_with_a_net_weight_takes_no_tare_off(shop):
    piece = shop.green_piece()
    shop.string(piece, "1000 g", tare="20 g", weight_is="net", yes=True)
    assert shop.state(piece).hang_milligrams == 1_000_000
    shop.weigh(piece, "920 g")  # on the scale with its string
    assert milligrams(shop, piece) == [900_000]


def test_weigh_in_posts_the_loss_to_drying(shop):
    piece = shop.hanging_piece()
    shop.weigh(piece, "820 g", at="2026-04-20")
    assert shop.flows(shop.last.fact) == [[(piece, -180_000), ("drying", 180_000)]]  # 980 - (820 - 20)


def test_gain_inside_the_tolerance_goes_to_count_difference_never_to_drying(shop):
    piece = shop.hanging_piece()
    shop.weigh(piece, "1009.8 g", at="2026-04-20")  # 989.8 net: 9.8 g is exactly 1 % of 980
    assert shop.flows(shop.last.fact) == [[("count difference", -9_800), (piece, 9_800)]]


def test_gain_above_the_tolerance_asks_and_is_recorded_with_its_answer(shop):
    piece = shop.hanging_piece()
    before = shop.facts()
    with pytest.raises(ConfirmationNeeded, match=r"^weight: expected no gain above 1 % on 980 g, got 989.801 g"):
        shop.weigh(piece, "1009.801 g", at="2026-04-20")
    assert shop.facts() == before
    shop.weigh(piece, "1009.801 g", at="2026-04-20", yes=True)
    answered = shop.fact_body(shop.last.fact)["confirmed"]
    assert len(answered) == 1
    assert answered[0].startswith("weight: expected no gain above 1 % on 980 g, got 989.801 g")


@pytest.mark.parametrize(
    ("scale", "error"),
    [
        ("166 g", InputError),  # 146 net is under 15 % of 980 = 147
        ("167 g", ConfirmationNeeded),  # 147 net is 15 %
        ("411 g", ConfirmationNeeded),  # 391 net is under 40 % = 392
        ("1490 g", ConfirmationNeeded),  # 1470 net is 150 %
        ("1491 g", InputError),
        ("20 g", InputError),  # nothing but string
    ],
)
def test_unusual_weight_asks_and_an_absurd_one_is_refused(shop, scale, error):
    piece = shop.hanging_piece()
    with pytest.raises(error, match=r"^weight: expected ") as raised:
        shop.weigh(piece, scale, at="2026-04-20")
    assert type(raised.value) is error


def test_absurd_weight_is_refused_even_with_yes(shop):
    piece = shop.hanging_piece()
    with pytest.raises(InputError, match=r"^weight: expected a weight near the 980 g"):
        shop.weigh(piece, "100 g", at="2026-04-20", yes=True)


def test_piece_strung_twice_is_a_conflict(shop):
    piece = shop.hanging_piece()
    expected = (
        f"piece: expected a piece that does not hang yet, got {piece}, strung on 2026-03-20. "
        "Weigh it instead, or correct the earlier stringing."
    )
    with pytest.raises(ConflictError, match=sentence(expected)):
        shop.string(piece, "900 g", at="2026-04-01", yes=True)


# --- packing ------------------------------------------------------------------------------------------------------------
def test_packing_makes_one_lot_of_units_and_the_difference_posts_itself_to_drying(shop):
    piece = shop.hanging_piece(hung="720 g")  # 700 net
    lot, first, second = shop.pack([piece], "350 g", "340 g", at="2026-05-21")
    assert (first, second) == (f"{lot}/1", f"{lot}/2")
    assert shop.flows(shop.last.fact) == [
        [(piece, -10_000), ("drying", 10_000)],
        [(piece, -690_000), (first, 350_000), (second, 340_000)],
    ]
    assert shop.state(piece).whereabouts == "used up"
    assert shop.state(first).best_before == dt.date(2026, 7, 20)  # 21 May and 60 days


def test_half_packed_piece_keeps_its_code_and_rest_and_trim_goes(shop):
    piece = shop.hanging_piece(hung="720 g")
    unit = shop.pack([dict(piece=piece, rest="400 g", trim="20 g")], "270 g", at="2026-05-21")[1]
    assert shop.flows(shop.last.fact) == [
        [(piece, -20_000), ("trim", 20_000)],
        [(piece, -10_000), ("drying", 10_000)],  # 700 - 20 - 400 - 270
        [(piece, -270_000), (unit, 270_000)],
    ]
    assert milligrams(shop, piece) == [400_000]
    assert shop.state(piece).phase == "hanging"


def test_small_gain_at_packing_goes_to_count_difference(shop):
    piece = shop.hanging_piece(hung="720 g")
    unit = shop.pack([piece], "707 g", at="2026-05-21")[1]  # 7 g is 1 % of 700
    assert shop.flows(shop.last.fact) == [
        [("count difference", -7_000), (piece, 7_000)],
        [(piece, -707_000), (unit, 707_000)],
    ]


def test_packs_heavier_than_their_piece_are_asked_about_and_far_heavier_ones_refused(shop):
    piece = shop.hanging_piece(hung="720 g")
    expected = "packs: expected packs, rest and trim of at most the 700 g there are, got {0} g. The packs alone weigh {0} g."
    with pytest.raises(ConfirmationNeeded, match=f"^{re.escape(expected.format(708))}"):
        shop.pack([piece], "708 g", at="2026-05-21")
    with pytest.raises(InputError, match=sentence(expected.format(771))):  # 71 g is over a tenth of 700
        shop.pack([piece], "771 g", at="2026-05-21", yes=True)
    shop.pack([piece], "770 g", at="2026-05-21", yes=True)
    assert shop.flows(shop.last.fact)[0] == [("count difference", -70_000), (piece, 70_000)]


def test_several_pieces_into_mixed_packs_are_one_flow(shop):
    first = shop.hanging_piece(hung="720 g")
    second = shop.hanging_piece(hung="520 g")
    _, one, two = shop.pack([first, second], "600 g", "600 g", at="2026-05-21")
    assert shop.flows(shop.last.fact) == [[(first, -700_000), (second, -500_000), (one, 600_000), (two, 600_000)]]


def test_much_missing_at_packing_asks_whether_a_rest_was_forgotten(shop):
    piece = shop.hanging_piece(hung="720 g")
    with pytest.raises(
        ConfirmationNeeded, match=r"^from: expected packs, rest and trim near the 700 g that were there, got 500 g"
    ):
        shop.pack([piece], "500 g", at="2026-05-21")


# --- leaving ------------------------------------------------------------------------------------------------------------
def test_sale_of_what_was_not_released_is_blocked_with_findings(shop):
    piece = shop.hanging_piece(hung="720 g")
    unit = shop.pack([piece], "690 g", at="2026-05-21")[1]
    before = shop.facts()
    expected = f"packs: expected packs of released pieces, got {unit}, not released. Release the lot first."
    with pytest.raises(BlockedError, match=sentence(expected)) as raised:
        shop.sell(unit, at="2026-05-22", yes=True)
    assert [(one["rule"], one["severity"], one["exceeded"]) for one in raised.value.findings] == [
        ("workshop.released", "stop", True)
    ]
    assert shop.facts() == before


@pytest.mark.parametrize("moment", ["sell", "give", "pack", "release"])
def test_held_lot_blocks_what_would_let_it_go(shop, moment):
    lot, unit = shop.packed("690 g")
    piece = shop.hanging_piece()
    shop.record("hold", lots=[lot, piece], reason="mould", at="2026-05-22")
    acts = {
        "sell": lambda: shop.sell(unit, at="2026-05-23"),
        "give": lambda: shop.record("give", to="a friend", packs=[unit], at="2026-05-23"),
        "pack": lambda: shop.pack([piece], "900 g", at="2026-05-23"),
        "release": lambda: shop.release(piece, at="2026-05-23"),
    }
    with pytest.raises(BlockedError, match=r"expected a lot that is not held \(mould\)") as raised:
        acts[moment]()
    assert raised.value.findings[0]["rule"] == "workshop.not_held"
    shop.record("lift", lots=[lot, piece], reason="it was flour", at="2026-05-24")
    shop.sell(unit, at="2026-05-25")
    assert shop.state(unit).whereabouts == "sold"


def test_hold_on_an_animal_holds_the_pieces_cut_from_it_afterwards(shop):
    animal = shop.receive()
    shop.record("hold", lots=[animal], reason="no papers")
    with pytest.raises(BlockedError, match="no papers"):
        shop.cut(animal, "1000 g")


def test_pack_sold_twice_is_a_conflict(shop):
    unit = shop.packed("690 g")[1]
    shop.sell(unit, at="2026-05-22")
    expected = f"packs: expected packs that are in stock, got {unit}, which is sold to Corner Shop"
    with pytest.raises(ConflictError, match=sentence(expected)):
        shop.sell(unit, at="2026-05-23")


def test_return_from_a_shop_is_held_and_keeps_its_date(shop):
    unit = shop.packed("690 g")[1]
    date = shop.state(unit).best_before
    shop.sell(unit, at="2026-05-22")
    shop.record("return", from_="corner shop", packs=[unit], at="2026-05-30")
    assert shop.flows(shop.last.fact) == [[("customer", -690_000), (unit, 690_000)]]
    state = shop.state(unit)
    assert (state.whereabouts, state.best_before, state.milligrams) == ("held", date, 690_000)


def test_return_of_a_pack_of_which_a_sample_was_taken_brings_back_what_was_sold(shop):
    unit = shop.packed("690 g")[1]
    shop.record("dispose", lot=unit, how="sample", weight="90 g", at="2026-05-22")
    shop.sell(unit, at="2026-05-23")
    shop.record("return", from_="Corner Shop", packs=[unit], at="2026-05-30")
    assert shop.flows(shop.last.fact) == [[("customer", -600_000), (unit, 600_000)]]


def test_return_from_a_consumer_is_destroyed(shop):
    unit = shop.packed("690 g")[1]
    shop.sell(unit, customer="Mrs Example", at="2026-05-22")
    shop.record("return", from_="Mrs Example", packs=[unit], at="2026-05-30")
    assert shop.flows(shop.last.fact) == [[("customer", -690_000), (unit, 690_000)], [(unit, -690_000), ("destroyed", 690_000)]]
    assert shop.state(unit).phase == "destroyed"


def test_sale_of_fourteen_to_the_public_of_twenty_taken_leaves_six(shop):
    """Took 20 to market, brought 6 back: a sale of 14 to the public."""
    units = shop.packed(*["35 g"] * 20)[1:]
    shop.record("sell", public=True, packs=list(units[:14]), at="2026-05-22")
    assert shop.flows(shop.last.fact) == [[(unit, -35_000), ("customer", 35_000)] for unit in units[:14]]
    assert [shop.state(unit).phase for unit in units].count("in stock") == 6


@pytest.mark.parametrize(("how", "end"), [("destroyed", "destroyed"), ("own_use", "own use"), ("sample", "sample")])
def test_disposal_goes_to_its_end(shop, how, end):
    unit = shop.packed("690 g")[1]
    shop.record("dispose", lot=unit, how=how, weight="90 g", at="2026-05-22")
    assert shop.flows(shop.last.fact) == [[(unit, -90_000), (end, 90_000)]]
    shop.record("dispose", lot=unit, how=how, at="2026-05-22")
    assert shop.state(unit).phase == end


def test_mix_that_was_made_and_met_no_meat_goes_to_destroyed(shop):
    salt = shop.ingredient(weight="1 kg")
    shop.record("dispose", lot=salt, how="destroyed", weight="100 g")
    assert shop.flows(shop.last.fact) == [[(salt, -100_000), ("destroyed", 100_000)]]


def test_gift_goes_to_whom_it_was_given(shop):
    unit = shop.packed("690 g")[1]
    shop.record("give", to="the fire brigade", packs=[unit], at="2026-05-22")
    assert shop.flows(shop.last.fact) == [[(unit, -690_000), ("gift", 690_000)]]
    assert shop.state(unit).holder == "the fire brigade"


# --- cutting, codes, dates ----------------------------------------------------------------------------------------------
def test_cutting_posts_pieces_trim_and_bone_and_the_rest_stays_with_the_animal(shop):
    animal = shop.receive(weight="80 kg")
    first, second = shop.cut(animal, "1200 g", "1000 g", trim="2 kg", bone="5 kg")
    assert shop.flows(shop.last.fact) == [
        [(animal, -9_200_000), (first, 1_200_000), (second, 1_000_000), ("trim", 2_000_000), ("bone", 5_000_000)]
    ]
    assert milligrams(shop, animal) == [70_800_000]


def test_cutting_more_than_there_is_asks_up_to_two_percent_and_is_refused_above(shop):
    animal = shop.receive(weight="10 kg")
    with pytest.raises(ConfirmationNeeded, match=r"^pieces: expected pieces, trim and bone of at most the 10000 g left"):
        shop.cut(animal, "10200 g")
    with pytest.raises(InputError, match=r"^pieces: expected pieces, trim and bone of at most the 10000 g left"):
        shop.cut(animal, "10201 g", yes=True)


@pytest.mark.parametrize(
    ("code", "error", "start"),
    [
        ("P26112599", CodeError, "piece: expected a lot code such as P261125A4M"),
        ("P26112501W", CodeError, "piece: expected a code whose check character fits, got P26112501W. One character is wrong"),
        ("P26112501V", NotFoundError, "piece: expected the code of a lot, got P26112501V. No such lot: read the code again."),
    ],
)
def test_code_that_leads_to_nothing_is_refused(shop, code, error, start):
    with pytest.raises(error, match=f"^{re.escape(start)}"):
        shop.weigh(code, "1 kg")


def test_code_of_another_kind_of_lot_is_refused(shop):
    animal = shop.receive()
    with pytest.raises(InputError, match=sentence(f"piece: expected the code of a piece, got {animal}, an animal")):
        shop.weigh(animal, "80 kg")


def test_date_before_the_fact_it_follows_is_refused(shop):
    piece = shop.green_piece()
    expected = f"at: expected a time after 2026-03-02, when {piece} came into being, got 2026-02-01"
    with pytest.raises(InputError, match=sentence(expected)):
        shop.weigh(piece, "1000 g", at="2026-02-01")


def test_date_after_today_is_refused(shop):
    with pytest.raises(InputError, match=sentence("at: expected no later than today, 2026-11-25, got 2026-11-26")):
        shop.receive(at="2026-11-26")


def test_marker_and_ear_tag_lead_to_the_lot_and_the_fact_keeps_what_they_led_to(shop):
    animal = shop.receive(identity="UK 12 345")
    piece = shop.record("cut", from_="uk 12 345", pieces=[dict(product="cured NECK", weight="1 kg", marker="Ring 7")]).codes[0]
    assert shop.fact_body(shop.last.fact)["read_as"] == {"uk 12 345": animal}
    shop.weigh("ring 7", "990 g")
    assert milligrams(shop, piece) == [990_000]


def test_day_is_the_workshops_and_the_code_bears_the_day_it_was_given_out(shop):
    animal = shop.receive(at="2026-03-01T23:30:00+00:00")  # half past midnight in Paris
    assert shop.state(animal).born == dt.date(2026, 3, 2)
    assert animal[1:7] == "261125"


def test_negative_weight_is_refused_by_the_name_of_its_field(shop):
    with pytest.raises(InputError, match=r"^weight: expected a weight"):
        shop.receive(weight="-1 kg")
