"""Salting again, turning, moving, splitting, counting, incidents and markers printed ahead, each with its line of the design."""

import pytest
from build import body

from labelsvc.errors import BlockedError, ConfirmationNeeded, ConflictError, InputError, NotFoundError
from labelsvc.ledger import read
from labelsvc.operations import keeping
from labelsvc.operations.batch import batch_record
from labelsvc.operations.tracing import trace


@pytest.fixture
def tub(shop):
    """Two pieces of 1000 g and 3000 g green in the blue tub with 80 g of salt: 20 g and 60 g by green weight."""
    shop.pieces = [shop.green_piece(weight="1000 g"), shop.green_piece(weight="3000 g")]
    shop.salt = shop.ingredient()
    shop.cure(shop.pieces, (shop.salt, "80 g"), at="2026-03-03")
    return shop


def test_salted_again_pieces_hold_the_running_total(tub):
    one, _ = tub.pieces
    tub.record("salt_again", at="2026-03-05", pieces=[one], mix=[{"lot": tub.salt, "weight": "5 g"}])
    assert tub.state(one).put_on_milligrams == 25_000  # 20 g of the first mix and 5 g
    assert tub.state(one).milligrams == 1_025_000


def test_salting_again_a_piece_that_is_out_of_the_cure_conflicts(tub):
    one, _ = tub.pieces
    tub.record("take_out", at="2026-03-09", pieces=[{"code": one}])
    with pytest.raises(ConflictError, match="a piece that is in cure"):
        tub.record("salt_again", at="2026-03-10", pieces=[one], mix=[{"lot": tub.salt, "weight": "5 g"}])


def test_mix_that_touched_no_meat_is_destroyed_and_is_not_in_the_pieces(tub):
    three = tub.green_piece(weight="500 g")
    done = tub.cure([three], (tub.salt, "30 g"), tub="red", unused="10 g", at="2026-03-04")
    assert tub.state(three).put_on_milligrams == 20_000
    assert [(done.codes[0], -10_000), ("destroyed", 10_000)] in tub.flows(done.fact)


def test_one_piece_out_early_leaves_the_others_in_the_tub(tub):
    one, other = tub.pieces
    tub.record("take_out", at="2026-03-08", pieces=[{"code": one}])
    assert (tub.state(one).phase, tub.state(other).phase) == ("out of cure", "in cure")


def test_merged_tubs_are_a_contact_of_the_pieces_that_met_there(tub):
    one, other = tub.pieces
    three = tub.green_piece(weight="500 g")
    tub.cure([three], (tub.salt, "10 g"), tub="red", at="2026-03-04")
    tub.record("move", at="2026-03-06", lot=three, place="blue")
    met = {(row["code"], row["thing"]) for row in trace(tub.ledger, three)["contact"] if row["where"] == "tub"}
    assert met == {(one, "blue"), (other, "blue")}
    assert tub.state(three).tub == "blue"


def test_turning_a_tub_stands_in_the_record_of_what_was_in_it_then(tub):
    one, other = tub.pieces
    tub.record("take_out", at="2026-03-08", pieces=[{"code": one}])
    tub.record("turn", at="2026-03-10", tub="blue")
    turned = [[step["what"] for step in batch_record(tub.ledger, code)["timeline"]] for code in (one, other)]
    assert ("turned in blue" in turned[0], "turned in blue" in turned[1]) == (False, True)


def test_split_hanging_piece_gives_its_children_their_shares_of_everything(shop):
    piece = shop.hanging_piece("1000 g", hung="980 g", at="2026-03-10")
    shop.record("weigh", at="2026-03-20", piece=piece, weight="820 g")
    codes = shop.record("split", at="2026-03-21", **{"from": piece}, pieces=[{"weight": "200 g"}, {"weight": "600 g"}]).codes
    children = [shop.state(code) for code in codes]
    assert [child.milligrams for child in children] == [200_000, 600_000]
    assert [child.green_milligrams for child in children] == [250_000, 750_000]  # 1000 g as 1 : 3
    assert [child.hang_milligrams for child in children] == [240_000, 720_000]  # 960 g as 1 : 3
    assert shop.state(piece).phase == "used up"


def test_split_of_some_pieces_of_a_counted_lot_leaves_the_rest_under_its_code(shop):
    lot = shop.green_piece(weight="4000 g", count=4)
    (one,) = shop.record("split", at="2026-03-10", **{"from": lot}, pieces=[{"weight": "1000 g"}]).codes
    rest = shop.state(lot)
    assert (rest.count, rest.milligrams, rest.green_milligrams) == (3, 3_000_000, 3_000_000)
    assert shop.state(one).green_milligrams == 1_000_000


def test_counted_stock_goes_to_the_count_difference(shop):
    salt = shop.ingredient(weight="5 kg")
    done = shop.record("count", at="2026-03-10", lot=salt, weight="4900 g")
    assert shop.flows(done.fact) == [[(salt, -100_000), ("count difference", 100_000)]]


def test_count_far_from_the_ledger_asks_once(shop):
    salt = shop.ingredient(weight="5 kg")
    with pytest.raises(ConfirmationNeeded, match=r"weight: expected near the 5000 g that the ledger has"):
        shop.record("count", at="2026-03-10", lot=salt, weight="3 kg")
    shop.record("count", at="2026-03-10", lot=salt, weight="3 kg", yes=True)
    assert shop.state(salt).milligrams == 3_000_000


def test_incident_at_a_place_holds_what_was_there_then_and_nothing_else(shop):
    early = shop.hanging_piece(place="Room 1", at="2026-03-10")
    late = shop.hanging_piece(place="Room 1", at="2026-03-20")
    elsewhere = shop.hanging_piece(place="Room 2", at="2026-03-10")
    shop.record("incident", at="2026-03-25", what="warm", place="room 1", **{"from": "2026-03-12", "to": "2026-03-14"})
    assert [shop.state(code).is_held for code in (early, late, elsewhere)] == [True, False, False]


def test_incident_when_a_late_entry_moves_a_piece_away_before_it_then_it_is_not_held(shop):
    piece = shop.hanging_piece(place="Room 1", at="2026-03-10")
    shop.record("incident", at="2026-03-25", what="warm", place="Room 1", **{"from": "2026-03-12"})
    assert shop.state(piece).is_held
    shop.record("move", at="2026-03-11", lot=piece, place="Room 2")
    assert not shop.state(piece).is_held


WARM = {"what": "fridge at 25 °C", "place": "room 1", "from": "2026-04-08", "to": "2026-04-09"}


def released(shop, **more):
    piece = shop.hanging_piece(hung="720 g", **more)
    shop.release(piece, at="2026-05-01")
    return piece


def test_incident_when_what_was_there_is_packed_since_then_its_packs_are_held_until_someone_decides(shop):
    whole, half = released(shop), released(shop)
    packs = shop.pack([whole], "350 g", "340 g", at="2026-05-20", session="a")
    rest = shop.pack([{"piece": half, "rest": "350 g"}], "340 g", at="2026-05-20", session="b")
    told = shop.record("incident", at="2026-05-22", **WARM)
    assert [shop.state(code).is_held for code in (*packs, half, *rest)] == [True] * 6
    assert told.notes == ()
    with pytest.raises(BlockedError, match="fridge at 25"):
        shop.sell(packs[1], at="2026-05-23")
    shop.record("lift", at="2026-05-23", lots=[packs[0]], reason="opened and measured")
    shop.sell(packs[1], at="2026-05-23")
    keeping.verify(shop.ledger, deep=True)


def test_lift_when_several_hold_a_piece_then_each_is_a_decision_of_its_own(shop):
    piece = shop.hanging_piece()
    mould = shop.record("incident", what="mould", lots=[piece], at="2026-04-01").fact
    glass = shop.record("incident", what="glass", lots=[piece], at="2026-04-02").fact
    with pytest.raises(ConfirmationNeeded, match=rf"got mould \(fact {mould}\); glass \(fact {glass}\)"):
        shop.record("lift", lots=[piece], reason="mould brushed off", at="2026-04-03")
    shop.record("lift", lots=[piece], reason="mould brushed off", holds=[str(mould)], at="2026-04-03")
    assert [held.reason for held in shop.state(piece).held_for] == ["glass"]
    told = shop.record("lift", lots=[piece], reason="again", holds=[mould], at="2026-04-04")
    assert [issue.expected for issue in told.notes] == [f"lots that fact {mould} holds"]
    shop.record("lift", lots=[piece], reason="sieved", at="2026-04-05")  # one is left: no question
    assert not shop.state(piece).is_held
    keeping.verify(shop.ledger, deep=True)


def test_lift_when_all_holds_are_meant_then_one_yes_ends_them(shop):
    lot, *packs = shop.packed("350 g", "340 g")
    for reason in ("mould", "glass"):
        shop.record("hold", lots=[lot], reason=reason, at="2026-05-22")
    shop.record("lift", lots=[lot], reason="all looked at", at="2026-05-23", yes=True)
    assert not any(shop.state(code).is_held for code in (lot, *packs))


def test_incident_when_packs_left_or_nothing_is_left_then_it_says_so(shop):
    piece = released(shop)
    pack = shop.pack([piece], "690 g", at="2026-05-20")[1]
    shop.sell(pack, at="2026-05-21")
    told = shop.record("incident", at="2026-05-22", **WARM)
    assert [issue.got for issue in told.notes] == [f"{pack}, which left"]
    assert shop.state(pack).is_held  # comes back held, and waits for a decision
    gone = shop.hanging_piece(place="room 2")
    shop.record("dispose", lot=gone, how="destroyed", at="2026-05-21")
    told = shop.record("incident", at="2026-05-22", **{**WARM, "place": "room 2"})
    assert [(issue.got, issue.hint) for issue in told.notes] == [(f"{gone}, of which nothing is left", "Nothing is held.")]
    told = shop.record("incident", at="2026-05-22", **{**WARM, "place": "romo 1"})
    assert [issue.hint for issue in told.notes] == ["Nothing is held: check the spelling."]


def test_incident_when_it_was_split_or_packed_before_it_began_then_what_went_elsewhere_is_free(shop):
    piece = released(shop, at="2026-03-20")
    shop.record("move", lot=piece, place="room 2", at="2026-04-05")
    elsewhere, there = shop.record("split", from_=piece, at="2026-04-06", pieces=[{"weight": "350 g"}, {"weight": "350 g"}]).codes
    shop.record("move", lot=there, place="room 1", at="2026-04-07")
    late = shop.record("incident", at="2026-05-22", **WARM)
    assert [shop.state(code).is_held for code in (elsewhere, there)] == [False, True]
    halves = shop.record("split", from_=there, at="2026-04-10", pieces=[{"weight": "170 g"}, {"weight": "170 g"}], yes=True)
    assert [shop.state(code).is_held for code in halves.codes] == [True, True]  # a late entry is held as well
    assert late.fact == shop.state(halves.codes[0]).held_for[0].fact


def test_marker_printed_ahead_becomes_the_code_of_the_piece_it_hangs_on(shop):
    code, spare = shop.record("reserve", at="2026-03-01", count=2).codes
    assert shop.green_piece(marker=code.lower()) == code
    with pytest.raises(ConflictError, match="a number printed ahead that is free"):
        shop.green_piece(marker=code)
    assert shop.green_piece(marker=spare) == spare


def cured(shop):
    piece = shop.green_piece()
    shop.cure([piece], (shop.ingredient(), "30 g"))
    return piece


def test_tag_printed_ahead_when_hung_at_stringing_then_it_leads_to_the_piece(shop):
    tag, other = shop.record("reserve", at="2026-03-01", count=2).codes
    piece = cured(shop)
    shop.string(piece, "1000 g", at="2026-03-20", tag=tag.lower())
    assert (shop.state(tag).code, shop.state(piece).aliases) == (piece, (tag,))
    fact = shop.weigh(tag, "900 g", at="2026-03-25").fact
    assert shop.state(piece).milligrams == 900_000
    assert shop.fact_body(fact)["read_as"] == {tag: piece}
    incremental = shop.dump()
    shop.rebuild()
    assert shop.dump() == incremental
    with shop.ledger.reading() as connection:
        assert read.free_markers(connection, 5) == [other]


def test_tag_printed_ahead_when_it_hangs_already_then_it_is_refused_by_the_piece_it_is_on(shop):
    tag, marker = shop.record("reserve", at="2026-03-01", count=2).codes
    first, second = cured(shop), cured(shop)
    shop.string(first, "1000 g", at="2026-03-20", tag=tag)
    shop.green_piece(marker=marker)
    said = rf"^tag: expected a number printed ahead that is free, got {tag}, which is on another piece, {first}$"
    with pytest.raises(ConflictError, match=said):
        shop.string(second, "1000 g", at="2026-03-21", tag=tag)
    with pytest.raises(ConflictError, match=f"got {marker}, which is on another piece"):
        shop.string(second, "1000 g", at="2026-03-21", tag=marker)
    animal = shop.receive()
    with pytest.raises(ConflictError, match=rf"marker: expected .* got {tag}, which is on another piece, {first}"):
        shop.record("cut", at="2026-03-22", from_=animal, pieces=[dict(product="Cured neck", weight="1 kg", marker=tag)])
    with pytest.raises(ConflictError, match=r"something that fact [0-9]+ \(string\) can still follow"):
        shop.green_piece(marker=tag)  # cut before the stringing


def test_tag_printed_ahead_when_the_stringing_is_put_right_then_it_leads_to_the_other_piece(shop):
    (tag,) = shop.record("reserve", at="2026-03-01", count=1).codes
    first, second = cured(shop), cured(shop)
    fact = shop.string(first, "1000 g", at="2026-03-20", tag=tag).fact
    shop.correct(fact, dict(piece=second, weight="1000 g", place="room 1", tag=tag))
    assert (shop.state(tag).code, shop.state(first).aliases) == (second, ())
    shop.correct(fact, None)
    with pytest.raises(NotFoundError):
        shop.state(tag)
    incremental = shop.dump()
    shop.rebuild()
    assert shop.dump() == incremental


def test_marker_that_hangs_on_another_piece_here_is_refused_naming_both(shop):
    two = [dict(product="Cured neck", weight=weight, marker=marker) for weight, marker in (("900 g", "M1"), ("800 g", "m 1"))]
    with pytest.raises(InputError, match=r"^pieces\[1\]\.marker: expected a number that no other piece .* m 1, .* piece 1 of"):
        shop.record("cut", from_=shop.receive(), pieces=two)
    first = shop.green_piece("900 g", marker="M1")
    with pytest.raises(InputError, match=rf"^pieces\[0\]\.marker: .* got M1, which is on {first}"):
        shop.green_piece(marker="M1")
    with pytest.raises(InputError, match=f"^tag: .* got M1, which is on {first}"):
        shop.record("string", piece=shop.green_piece(), weight="1000 g", place="room 1", tag="M1", at="2026-03-21")
    half, _ = shop.record("split", from_=first, pieces=[dict(weight="500 g", marker="M1"), dict(weight="400 g")]).codes
    shop.record("dispose", lot=half, how="destroyed")
    assert shop.state(shop.green_piece(marker="M1")).aliases == ("M1",)  # nothing is left of what bore it


def test_marker_that_looks_like_a_code_but_was_never_printed_is_refused(shop):
    animal_code = shop.green_piece()
    with pytest.raises(InputError, match=r"one printed ahead, or another number"):
        shop.green_piece(marker=animal_code)


def test_check_and_clean_move_no_mass_and_stand_in_the_record(tub):
    one, _ = tub.pieces
    checked = tub.record("check", at="2026-03-06", lot=one, what="ph", value="5.6", method="probe")
    cleaned = tub.record("clean", at="2026-03-07", thing="blue", allergen_clean=True)
    assert tub.flows(checked.fact) == tub.flows(cleaned.fact) == []
    said = [step["what"] for step in batch_record(tub.ledger, one)["timeline"]]
    assert "blue cleaned, free of allergens" in said
    assert any(what.startswith("ph 5.6 (probe)") for what in said)


@pytest.mark.parametrize(
    ("field", "given", "expected"),
    [
        ("case_gtin", "nonsense", "a GTIN of 8, 12, 13 or 14 digits"),
        ("case_gtin", "9521234543213", "that of a case, not of a pack"),
        ("gtin", "9521234543210", "a GTIN whose last digit is 3"),
        ("in_store", "xx", "one of gb_price, "),
    ],
)
def test_number_on_a_product_card_when_it_cannot_be_then_it_is_refused_before_the_printer(shop, field, given, expected):
    with pytest.raises(InputError, match=rf"{field}: expected .*{expected}"):
        shop.record("product", **{**body("product"), field: given})
