"""What leaves, comes back, is held, coated, or was typed wrong, through the pages: on a phone by touch, and at a desk."""

import re

from labelsvc.ledger import journal


def last(bench):
    """The kind and fields of the last fact."""
    with bench.shop.ledger.reading() as connection:
        fact = list(journal.facts_in_order(connection))[-1]
    return fact.kind, bench.shop.fact_body(fact.seq)["given"]


def lift(bench, reason):
    """Decide on what is held, from its record."""
    bench.press("Decide: lift the hold")
    bench.page.wait_for_url("**/lift?**")
    bench.fill("reason", reason)
    bench.press("Lift the hold")
    bench.page.wait_for_url("**/lot/**")


def test_a_pack_when_given_away_then_its_record_says_to_whom(bench):
    _, one, _ = bench.shop.packed("330 g", "340 g")
    bench.clock.set("2026-05-23")
    bench.open(f"/give?packs={one}")
    bench.fill("to", "Ada Example")
    bench.press("Record the gift")
    bench.sees("with a label that was printed here")
    bench.press("Yes, record it")
    bench.page.wait_for_url("**/lot/**")
    bench.sees("Ada Example")
    assert bench.shop.state(one).phase == "given away"


def test_a_pack_when_it_comes_back_from_a_shop_then_it_is_held_until_someone_decides(bench):
    _, one, _ = bench.shop.packed("330 g", "340 g")
    bench.shop.sell(one, at="2026-05-22")
    bench.open(f"/return?packs={one}")
    bench.fill("from", "Corner Shop")
    bench.press("Record the return")
    bench.sees("It came back")
    assert bench.shop.state(one).is_held
    lift(bench, "unopened, was never out of the fridge")
    assert not bench.shop.state(one).is_held


def test_a_pack_when_eaten_here_then_it_is_gone(bench):
    _, one, _ = bench.shop.packed("330 g", "340 g")
    bench.open(f"/dispose?lot={one}")
    bench.choose("how", "Eaten here or at home")
    bench.press("Record it")
    bench.sees("Used here or thrown away")
    assert last(bench) == ("dispose", {"lot": one, "how": "own_use"})


def test_a_piece_when_held_then_nothing_is_done_with_it_before_someone_decides(bench):
    piece = bench.shop.hanging_piece()
    bench.open(f"/hold?lots={piece}")
    bench.fill("reason", "mould on the string")
    bench.press("Hold")
    bench.page.wait_for_url(re.compile("^(?!.*/hold)"))  # the answer has come; only then is the next page asked for
    bench.open(f"/lot/{piece}")
    bench.sees("mould on the string")
    assert bench.shop.state(piece).is_held
    lift(bench, "washed off; dry and firm below")
    assert not bench.shop.state(piece).is_held


def test_a_piece_when_coated_then_what_went_on_is_in_its_record(bench):
    piece = bench.shop.hanging_piece()
    pepper = bench.shop.ingredient("pepper")
    bench.open(f"/coat?pieces={piece}")
    bench.choose("what", "A coating")
    bench.fill("mix-0-lot", pepper)
    bench.fill("mix-0-weight", "5")
    bench.press("Record it")
    bench.sees("Coating on")
    kind, fields = last(bench)
    assert (kind, fields["what"], fields["mix"]) == ("coat", "coating", [{"lot": pepper, "weight": "5 g"}])


def test_a_weighing_when_typed_wrong_then_it_is_put_right_and_then_taken_back(bench):
    piece = bench.shop.hanging_piece()
    fact = bench.shop.record("weigh", piece=piece, weight="950 g", at="2026-11-24").fact
    bench.open(f"/fact/{fact}")
    bench.fill("weight", "905")
    bench.fill("reason", "misread the scale")
    bench.press("Put it right")
    bench.sees(f"Fact {fact} is put right")
    assert bench.shop.state(piece).milligrams == 885_000  # 905 g less 20 g of string
    bench.open(f"/fact/{fact}")
    bench.press("It never happened")
    bench.page.wait_for_url("**/take-back*")
    bench.fill("reason", "that was another piece")
    bench.press("It never happened")
    bench.sees(f"Fact {fact} is taken back")
    assert bench.shop.state(piece).milligrams == 980_000
