"""What a lot was made of, by hand: the recipe travels with the mass."""

from decimal import Decimal

from labelsvc.declaration.composition import Line, contents_of

PIG, SALT, PEPPER, FIRST, SECOND, PACK, OTHER = range(1, 8)
SOURCES = {PIG, SALT, PEPPER}
KIND = {PIG: "animal", SALT: "ingredient", PEPPER: "ingredient", FIRST: "piece", SECOND: "piece", PACK: "pack", OTHER: "pack"}


def flow(*lines):
    """Lines of a lot's number or an end's name with milligrams."""
    return [Line(None, lot, mg) if isinstance(lot, str) else Line(lot, KIND[lot], mg) for lot, mg in lines]


CUT = flow((PIG, -1000), (FIRST, 1000))
SALTED = flow((SALT, -30), (FIRST, 30))
PACKED = flow((FIRST, -700), (PACK, 700))


def contents(target, *flows):
    return contents_of([target], flows, SOURCES)[target]


def test_one_piece_packed_holds_all_that_went_in_although_it_dried():
    # 1000 meat + 30 salt put in; 330 dried away takes nothing of the recipe
    dried = flow((FIRST, -330), ("drying", 330))
    assert contents(PACK, CUT, SALTED, dried, PACKED) == {PIG: 1000, SALT: 30}


def test_drip_and_count_difference_take_nothing_either():
    dripped = flow((FIRST, -330), ("drip and brine", 330))
    found = flow(("count difference", -10), (FIRST, 10))
    lost = flow((FIRST, -10), ("count difference", 10))
    assert contents(PACK, CUT, SALTED, dripped, found, lost, PACKED) == {PIG: 1000, SALT: 30}


def test_half_packed_piece_gives_its_share_and_keeps_the_rest():
    # 1030 dried to 800; 200 of 800 packed is a quarter: 250 meat, 7.5 salt; the rest as one pack: 750 and 22.5
    dried = flow((FIRST, -230), ("drying", 230))
    quarter, rest = flow((FIRST, -200), (PACK, 200)), flow((FIRST, -600), (OTHER, 600))
    found = contents_of([PACK, OTHER], [CUT, SALTED, dried, quarter, rest], SOURCES)
    assert found == {
        PACK: {PIG: Decimal(250), SALT: Decimal("7.5")},
        OTHER: {PIG: Decimal(750), SALT: Decimal("22.5")},
    }


def test_trim_takes_its_share_of_everything():
    # 103 of 1030 trimmed away is a tenth: 900 meat and 27 salt are left to be packed
    trimmed = flow((FIRST, -103), ("trim", 103))
    assert contents(PACK, CUT, SALTED, trimmed, flow((FIRST, -927), (PACK, 927))) == {PIG: Decimal(900), SALT: Decimal(27)}


def test_mixed_pieces_into_packs_share_both_recipes_by_weight():
    # first 1000 + 30 salt, second 500 + 20 pepper; 775 of the 1550 in each of two packs is half of everything
    both = [CUT, SALTED, flow((PIG, -500), (SECOND, 500)), flow((PEPPER, -20), (SECOND, 20))]
    mixed = flow((FIRST, -1030), (SECOND, -520), (PACK, 775), (OTHER, 775))
    assert contents(PACK, *both, mixed) == {PIG: Decimal(750), SALT: Decimal(15), PEPPER: Decimal(10)}


def test_excess_cure_washed_off_never_went_in():
    # 400 salt and 100 pepper offered, 450 scraped off in the same proportion: 40 salt and 10 pepper stay
    offered = flow((SALT, -400), (PEPPER, -100), (FIRST, 500))
    washed = flow((FIRST, -450), ("wash and rub-off", 450))
    assert contents(FIRST, CUT, offered, washed) == {PIG: 1000, SALT: Decimal(40), PEPPER: Decimal(10)}


def test_more_washed_off_than_was_put_on_is_juice_and_leaves_no_less_than_nothing():
    washed = flow((FIRST, -50), ("wash and rub-off", 50))
    assert contents(FIRST, CUT, SALTED, washed) == {PIG: 1000}


def test_source_is_made_of_nothing_else_and_a_lot_without_flows_is_empty():
    assert contents(OTHER, CUT) == {}
