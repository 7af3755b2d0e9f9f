"""Into the tub and out of it: what is put on is credited to the piece, what is scraped or drips off leaves it."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import cast

import msgspec

from labelsvc.curing.by_recipe import Part, grams_asked
from labelsvc.curing.volumes import by_volume
from labelsvc.errors import InputError
from labelsvc.facts import Coat, Cure, Ingredient, MixLine, Recipe, SaltAgain, TakeOut
from labelsvc.ledger.derive.bench import Bench, card_key
from labelsvc.ledger.derive.dosing import is_brined, mix_line, put_on, scraped
from labelsvc.ledger.derive.lawful import hold_by_law
from labelsvc.ledger.derive.new_lots import is_mixed_first
from labelsvc.ledger.derive.weighing import post_weight
from labelsvc.ledger.state import DESTROYED, DRIP, WASH, LotState, PutOn
from labelsvc.recipe import RecipeLine
from labelsvc.rules.load import PRACTICE, rules_of
from labelsvc.units import Mass, grams_text, plain, round_half_up, share_out


def cure(bench: Bench) -> None:
    """Ingredient lots to pieces; for several pieces the mix is a lot of its own, shared by green weight."""
    body = cast(Cure, bench.fact.body)
    pieces = [_into_tub(bench, body, ref, f"pieces[{i}]") for i, ref in enumerate(body.pieces)]
    if body.recipe is not None:
        _compare_with(bench, body, bench.card(Recipe, body.recipe, "recipe"), pieces)
    _put_on(bench, pieces, body, body.tub)


def _compare_with(bench: Bench, body: Cure, recipe: Recipe, pieces: Sequence[LotState]) -> None:
    """Ask once where the grams on the scale are not near those that the recipe asks for, each bag by its own strength."""
    lots = [bench.lot_of(line.lot, f"mix[{i}].lot", "ingredient") for i, line in enumerate(body.mix)]
    green = Mass.from_milligrams(sum(piece.green_milligrams for piece in pieces))
    parts = [_part(bench, line, lots) for line in recipe.lines]
    tolerance = rules_of(PRACTICE, bench.fact.day)["practice.weighed_against_asked"].value or Decimal(0)
    for part, asked in zip(parts, grams_asked(green, parts), strict=True):
        mine = [i for i, lot in enumerate(lots) if _is_of(lot, part.card.name)]
        weighed = sum((_grams(bench, body.mix[i], lots[i], f"mix[{i}]").grams for i in mine), Decimal(0))
        wanted = asked.line.weight.grams
        if abs(weighed - wanted) * 100 > wanted * tolerance:
            why = f" ({asked.why})" if asked.why else ""
            bench.issue(
                "ask", "mix", f"{plain(round_half_up(wanted, 2))} g of {part.card.name} by the recipe {recipe.name}{why}",
                f"{plain(weighed)} g",
            )  # fmt: skip


def _part(bench: Bench, line: RecipeLine, lots: Sequence[LotState]) -> Part:
    card = bench.find_card(Ingredient, line.ingredient)
    strengths = [lot.strength for lot in lots if _is_of(lot, line.ingredient) and lot.strength]
    bag = mix_line(PutOn(line.ingredient, 0, strengths[0]), card) if strengths else None
    return Part(line.percent_of_green, mix_line(PutOn(line.ingredient, 0), card), bag)


def _is_of(lot: LotState, ingredient: str) -> bool:
    return card_key(lot.ingredient or lot.name) == card_key(ingredient)


def salt_again(bench: Bench) -> None:
    """More of a mix onto pieces in cure: the running total counts."""
    body = cast(SaltAgain, bench.fact.body)
    pieces = [bench.change(piece, is_weighed=False) for piece in _each_once(bench, body.pieces, ("in cure",), "that is in cure")]
    _put_on(bench, pieces, body, pieces[0].tub or "the tub")


def coat(bench: Bench) -> None:
    """A wash, coating, casing or netting onto pieces: it counts as ingredient, and for allergens, like what the cure brought."""
    body = cast(Coat, bench.fact.body)
    pieces = _each_once(bench, body.pieces, ("green", "in cure", "out of cure", "hanging"), "that is not used up")
    _put_on(bench, pieces, body, f"the {body.what}")
    for piece in pieces:
        bench.change(piece, things=(*piece.things, *body.things))


def _each_once(bench: Bench, refs: Sequence[str], phases: Sequence[str], wanted: str) -> list[LotState]:
    pieces: list[LotState] = []
    for place, ref in enumerate(refs):
        piece = bench.lot_of(ref, f"pieces[{place}]", "piece")
        if piece.code in [other.code for other in pieces]:
            raise InputError(f"pieces[{place}]", "each piece once", ref)
        if piece.phase not in phases:
            bench.issue("conflict", f"pieces[{place}]", f"a piece {wanted}", f"{piece.code}, which is {piece.phase}")
        bench.not_held(piece, f"pieces[{place}]", while_lacking=True)
        pieces.append(piece)
    return pieces


def _put_on(bench: Bench, pieces: list[LotState], body: Cure | SaltAgain | Coat, tub: str) -> None:
    offered = [_weighed_out(bench, body.mix, i) for i in range(len(body.mix))]
    lines = [PutOn(lot.ingredient or lot.name, weight, lot.strength) for lot, weight in offered]
    total = sum(weight for _, weight in offered)
    if is_mixed_first(body):
        mix, total = _mixed(bench, offered, total, body, tub)
        shares = share_out(total, _greens(pieces))
        bench.flow((mix, -total), *zip(pieces, shares, strict=True))
    else:
        shares = [total]
        bench.flow(*((lot, -weight) for lot, weight in offered), (pieces[0], total))
    for piece, share in zip(pieces, shares, strict=True):
        now = bench.now(piece)
        # What was decided while a value or a figure was lacking was decided on a smaller dose.
        decided = now.decided if isinstance(body, Coat) else ()
        if isinstance(body, Coat) or (isinstance(body, SaltAgain) and is_brined(now)):
            lines = [msgspec.structs.replace(line, is_beside=True) for line in lines]
        bench.change(piece, put_on_milligrams=now.put_on_milligrams + share, put_on=put_on(now, lines, share), decided=decided)
        hold_by_law(bench, piece)


def _mixed(
    bench: Bench, offered: list[tuple[LotState, int]], total: int, body: Cure | SaltAgain | Coat, tub: str
) -> tuple[LotState, int]:
    """The mix as a lot of its own, and what of it goes onto meat: the rest is destroyed, it must not go back into a bag."""
    code, here = bench.fact.codes[0], None if isinstance(body, Coat) else tub
    mix = bench.begin(code, kind="ingredient", name=f"mix for {tub}", phase="mixed", made_milligrams=total, tub=here)
    bench.flow(*((lot, -weight) for lot, weight in offered), (mix, total))
    unused = body.unused.milligrams if body.unused else 0
    if unused >= total:
        bench.issue("refuse", "unused", f"less than the {grams_text(total)} g of the mix", f"{grams_text(unused)} g")
        unused = 0
    bench.flow((mix, -unused), (DESTROYED, unused))
    return bench.now(mix), total - unused


def _into_tub(bench: Bench, body: Cure, ref: str, field: str) -> LotState:
    piece = bench.lot_of(ref, field, "piece")
    if piece.cured_on == bench.fact.day and piece.tub == body.tub and piece.phase == "in cure":
        raise InputError(field, "each piece once", ref)
    if piece.phase != "green":
        bench.issue(
            "conflict", field, "a piece that was not in the cure yet", f"{piece.code}, which is {piece.phase}",
            "To put more on a piece in cure, salt it again.",
        )  # fmt: skip
    bench.not_held(piece, field)
    return bench.change(
        piece,
        phase="in cure",
        tub=body.tub,
        method=body.method,
        cured_on=bench.fact.day,
        planned_out=body.planned_out,
        planned_packing=body.planned_packing,
        temperature_c=None if body.temperature_c is None else Decimal(body.temperature_c),
        bag=body.bag,
        things=(*piece.things, *body.things),
        is_weighed=False,
    )


def _weighed_out(bench: Bench, lines: Sequence[MixLine], place: int) -> tuple[LotState, int]:
    line = lines[place]
    lot = bench.lot_of(line.lot, f"mix[{place}].lot", "ingredient")
    bench.not_held(lot, f"mix[{place}].lot")
    needed = _grams(bench, line, lot, f"mix[{place}]").milligrams
    if line.volume is not None:
        _, said = by_volume(mix_line(_of_lot(lot), _card(bench, lot)), line.volume)
        bench.issue("note", f"mix[{place}].volume", "grams from a scale", f"{line.volume} of {lot.name}, {grams_text(needed)} g",
                    f"An estimate. {'. '.join(said)}.")  # fmt: skip
    same = [(i, other) for i, other in enumerate(lines[:place]) if bench.lot(other.lot, "mix").code == lot.code]
    earlier = sum(_grams(bench, other, lot, f"mix[{i}]").milligrams for i, other in same)
    bench.cover(lot, needed + earlier, f"mix[{place}].weight", "ask")
    return lot, needed


def _grams(bench: Bench, line: MixLine, lot: LotState, field: str) -> Mass:
    """The grams of a line: those on the scale, or by the spoon; a source of nitrite or nitrate never by the spoon."""
    if line.volume is None:
        return line.weight or Mass(Decimal(0))
    try:
        estimate, _ = by_volume(mix_line(_of_lot(lot), _card(bench, lot)), line.volume)
    except InputError as error:
        raise InputError(f"{field}.volume", error.expected, error.got, error.hint) from None
    return line.weight or estimate


def _of_lot(lot: LotState) -> PutOn:
    return PutOn(lot.ingredient or lot.name, 0, lot.strength)


def _card(bench: Bench, lot: LotState) -> Ingredient | None:
    return bench.find_card(Ingredient, lot.ingredient or lot.name)


def take_out(bench: Bench) -> None:
    """Leftover of an excess cure to wash and rub-off; the rest of the difference to drip and brine."""
    body = cast(TakeOut, bench.fact.body)
    pieces = [bench.lot_of(taken.code, f"pieces[{i}].code", "piece") for i, taken in enumerate(body.pieces)]
    for place, piece in enumerate(pieces):
        if piece.code in [other.code for other in pieces[:place]]:
            raise InputError(f"pieces[{place}].code", "each piece once", body.pieces[place].code)
        if piece.phase != "in cure":
            bench.issue("conflict", f"pieces[{place}].code", "a piece that is in cure", f"{piece.code}, which is {piece.phase}")
    _scrape_off(bench, pieces)
    for place, (piece, taken) in enumerate(zip(pieces, body.pieces, strict=True)):
        if taken.weight is not None:
            post_weight(bench, piece, taken.weight.milligrams, f"pieces[{place}].weight", loss_to=DRIP)
        bench.change(piece, phase="out of cure", tub=None, is_weighed=taken.weight is not None)


def _scrape_off(bench: Bench, pieces: list[LotState]) -> None:
    leftover = cast(TakeOut, bench.fact.body).leftover
    if leftover is None or leftover.milligrams == 0:
        return
    offered = [piece.put_on_milligrams for piece in pieces]
    if leftover.milligrams > sum(offered):
        bench.issue("ask", "leftover", "no more than was put on", str(leftover), "It carries juice: was it drained?")
    shares = share_out(leftover.milligrams, offered if any(offered) else _greens(pieces))
    for piece, share in zip(pieces, shares, strict=True):
        bench.flow((piece, -share), (WASH, share))
        if piece.method == "dry_excess":  # only there is what was offered an upper bound; elsewhere it cannot be taken back
            was_stopped = any(held.is_stop for held in bench.now(piece).held_for)
            bench.change(piece, put_on=scraped(bench.now(piece), share))
            hold_by_law(bench, piece)
            if was_stopped and not any(held.is_stop for held in bench.now(piece).held_for):
                bench.issue(
                    "note", "leftover", "the weight of dry cure that was taken off again", str(leftover),
                    f"Only this weighing takes {piece.code} under the limit. Wet with juice it weighs too much, and more nitrite"
                    " went in than it seems: then leave it out, and have the residue measured.",
                )  # fmt: skip


def _greens(lots: Sequence[LotState]) -> list[int]:
    """Return green weights in whole milligrams, at least 1 each, to share by."""
    return [max(lot.green_milligrams, 1) for lot in lots]
