"""The holds that follow from the law: derived with everything else, never overridden.

A dose is checked at the tub for that day and for the planned packing day, and again at packing for the market of the packs.
Over a limit it stops: a correction that puts a piece over it holds the packs made of it, sold ones included; one that brings
it under lets them go. Where only a measured value or a confirmed figure is lacking it is held until that is recorded, or until
the responsible person decides. Meat that may carry Trichinella holds the packs of a product that is eaten as it is.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Sequence
from typing import Any, cast

from labelsvc.curing.advice import advice
from labelsvc.curing.amounts import Ingoing
from labelsvc.curing.limits import FigureOf, check_highest, check_limits, classes_of, must_be_held, no_figure
from labelsvc.curing.trichinella import UNCHECKED_FREEZING, UNLISTED_ANIMAL, check_trichinella
from labelsvc.errors import InputError
from labelsvc.facts import RANGES, Check, Figure, Ingredient, Measured, Product, Receive, Workshop
from labelsvc.ledger.derive.bench import THE_WORKSHOP, Bench
from labelsvc.ledger.derive.cards import keep_card
from labelsvc.ledger.derive.dosing import METHODS, ingoing_into, mix_line, unchecked_on
from labelsvc.ledger.state import HeldFor, LotState, PutOn
from labelsvc.rules.finding import Finding
from labelsvc.rules.load import MARKETS, is_lacking, rule_of, rules_of

# What a product is taken for where its class is none of the market's: rows of no named product (EU and GB category 08.3.1),
# and bacon in the US, where nitrate is not allowed at all.
_CAUTIOUS = {"eu": "non_heat_treated", "gb": "non_heat_treated", "us": "dry_cured_bacon"}


def class_checked(product: Product, market: str) -> str:
    """Return the class that a product is checked as in a market: its own, or the most cautious where the market has no such.

    Raises:
        InputError: a market that is none of ours.
    """
    own = product.class_in(market)
    return own if own in classes_of(market) else _CAUTIOUS[market]


def no_rules_for(market: str) -> Finding:
    """Return the remark that a market is none of ours, so that nothing but the highest figure of any rule was checked."""
    said = f"No legal check was made for {market or 'a product without a market'}: we have no rules for it"
    return advice("curing.unchecked", said, severity="warn")


def law_on(
    ingoing: Ingoing,
    market: str,
    product: Product,
    days: Sequence[dt.date],
    *,
    method: str | None = None,
    measured: Sequence[Measured] = (),
    figure_of: FigureOf = no_figure,
) -> list[Finding]:
    """Return what a market's rules say to an amount in a product on some days.

    A class that the market does not know is checked as its most cautious one. A market that we do not know is called
    unchecked; over the highest figure in any of our rules it stops all the same.
    """
    place, product_class = market.lower(), product.class_in(market)
    how: dict[str, Any] = dict(skin_on=product.skin_on, method=METHODS.get(method or "", method), measured=measured)
    try:
        checked_as = class_checked(product, place)
        found = [
            one
            for day in dict.fromkeys(days)
            for one in check_limits(ingoing, place, checked_as, day, figure_of=figure_of, **how)
        ]
    except (InputError, KeyError):
        return [no_rules_for(market), *check_highest(ingoing)]
    if checked_as != product_class:
        said = f"{product_class} is no class of {market}: checked as {checked_as}, the most cautious one"
        found.append(advice("curing.class_unknown", said, severity="warn"))
    return list(dict.fromkeys(found))


def hold_by_law(bench: Bench, piece: LotState) -> LotState:
    """Put the piece's legal holds in line with its dose: held where no market of its product would allow it today."""
    product = bench.card(Product, piece.product or "", "piece")
    now = bench.now(piece)
    own = tuple(held for held in now.held_for if held.finding is None)
    days = [day for day in (bench.fact.day, now.planned_packing) if day]
    said = _of_dose(bench, now, product, product.markets, days, now.measured, now.decided)
    found = _mildest(bench, said.values())
    field = "lot" if isinstance(bench.fact.body, Check) else "mix"
    for held in found:
        hint = (
            f"It is held. {held.way_out}"
            if held.is_lack
            else "It is held: destroy it, or correct the fact if it was typed wrong."
        )
        allowed = f"a dose for {now.code} that is allowed in {' or '.join(product.markets)}"
        bench.issue("note", field, allowed, held.reason, hint)
    for market, holds in said.items():
        stop = next((one for one in holds if _stops(one)), None)
        if stop and not found:  # another market allows it, so it is not held: but here it can never be sold
            bench.issue("note", field, f"a dose that is allowed in {market} as well", stop.message, f"It is lost for {market}.")
        if now.put_on and market.lower() not in MARKETS:
            bench.issue("note", field, f"a market of {', '.join(MARKETS)}", market or "none", no_rules_for(market).message)
    return bench.change(now, held_for=(*own, *found))


def holds_of_packs(
    bench: Bench, pieces: Sequence[LotState], product: Product, market: str, day: dt.date, packs: LotState | None = None
) -> tuple[HeldFor, ...]:
    """Return the legal holds of packs made of some pieces, for their market and packing day.

    Args:
        bench: the fact at work.
        pieces: the pieces.
        product: of the packs.
        market: the packs are for.
        day: of packing.
        packs: the pack lot, with what was measured of it and decided on it; None while it is being made.
    """
    measured, decided = (packs.measured, packs.decided) if packs else ((), ())
    found: list[HeldFor] = []
    for piece in pieces:
        own_values, own_words = (*piece.measured, *measured), (*piece.decided, *decided)
        found += _mildest(bench, _of_dose(bench, piece, product, [market], [day], own_values, own_words).values())
        for one in check_trichinella(piece.species or product.species, piece.trichinella, product.eaten, market, day):
            if _stops(one) or (one.rule in (UNLISTED_ANIMAL, UNCHECKED_FREEZING) and one.rule not in own_words):
                found.append(HeldFor(bench.fact.seq, one.message, one.as_json()))
    return tuple({held.reason: held for held in found}.values())


def _of_dose(
    bench: Bench,
    piece: LotState,
    product: Product,
    markets: Sequence[str],
    days: Sequence[dt.date],
    measured: Sequence[Measured],
    decided: Sequence[str],
) -> dict[str, list[Finding]]:
    """What would hold a piece in each of some markets.

    A curing salt whose contents nobody entered holds it in every market, sold or eaten at home: its nitrite cannot be known.
    """
    if not piece.put_on:
        return {}
    ingoing = ingoing_into(piece, lambda name: bench.find_card(Ingredient, name))
    unchecked = unchecked_on(piece, lambda name: bench.find_card(Ingredient, name))
    unknown = [one for one in unchecked if one.rule not in decided]
    found: dict[str, list[Finding]] = {}
    for market in markets or ("",):  # a product without a market is checked as one of a market that we do not know
        said = law_on(
            ingoing, market, product, days, method=piece.method, measured=measured,
            figure_of=lambda rule: bench.find_card(Figure, rule),
        )  # fmt: skip
        holds = [one for one in said if _stops(one) or (must_be_held(one) and one.rule not in decided)]
        found[market] = list(dict.fromkeys([*holds, *unknown]))
    return found


def _mildest(bench: Bench, by_market: Collection[list[Finding]]) -> tuple[HeldFor, ...]:
    """The holds of a sale in any of some markets: none where one allows it, else those of the mildest."""
    mildest = min(by_market, key=lambda holds: (any(map(_stops, holds)), bool(holds)), default=[])
    return tuple(HeldFor(bench.fact.seq, one.message, one.as_json()) for one in mildest)


def _stops(finding: Finding) -> bool:
    return finding.severity == "stop" and finding.exceeded


def holds_of_stock(bench: Bench, card: Ingredient, body: Receive) -> tuple[HeldFor, ...]:
    """Return the hold of goods that the law does not let a workshop of its country use: nitrite not mixed with salt."""
    line = mix_line(PutOn(card.name, body.weight.milligrams, body.strength), card)
    workshop = bench.find_card(Workshop, THE_WORKSHOP) if line.is_pure_nitrite else None
    rules = [rule for market in MARKETS for rule in rules_of(market, bench.fact.day).values()]
    for rule in rules if workshop else ():
        if workshop and rule.subject == "stock pure nitrite" and workshop.country in rule.table[0]["countries"]:
            message = f"{rule.title}. Give {card.name} back, or destroy it, and take a curing salt whose strength is stated"
            bench.issue("note", "name", "a curing salt mixed with salt", message, "It is held.")
            return (HeldFor(bench.fact.seq, message, rule.found(None, message, exceeded=True).as_json()),)
    return ()


_NOT_A_NUMBER = "How it was taken, and anything else about it, stands in the method."


def check(bench: Bench) -> None:
    """Let the measurement stand in the lot's record; where the law asks for such a value, decide its holds anew."""
    body = cast(Check, bench.fact.body)
    lot = bench.lot(body.lot, "lot")
    bench.touch(lot)
    if body.measured is None:
        if body.kind in RANGES:  # "about 0.9", or a number out of range, would settle nothing and look as if it did
            least, most = RANGES[body.kind]
            bench.issue("refuse", "value", f"the number that was measured, from {least} to {most}", body.value, _NOT_A_NUMBER)
        return
    if lot.kind == "piece":
        _measured_in_piece(bench, lot, body.measured)
    elif lot.kind == "pack":
        _measured_in_packs(bench, bench.lot(lot.parent, "lot") if lot.parent else lot, body.measured)


def _measured_in_piece(bench: Bench, piece: LotState, value: Measured) -> None:
    if piece.phase in ("green", "in cure"):
        bench.issue(
            "note", "lot", "the finished product, which the limits are on", f"{piece.code}, which is {piece.phase}",
            "The value stands in the record and settles no limit: measure again once it is out of the cure.",
        )  # fmt: skip
        return
    hold_by_law(bench, bench.change(piece, measured=(*piece.measured, value)))
    for code in piece.packed_into:
        _decide_anew(bench, bench.lot(code, "lot"))


def _measured_in_packs(bench: Bench, lot: LotState, value: Measured) -> None:
    """One pack stands for all of its lot: it is the same session and the same pieces."""
    for each in (lot, *bench.units_of(lot.code, "lot")):
        bench.change(each, measured=(*each.measured, value))
    _decide_anew(bench, bench.now(lot))


def _decide_anew(bench: Bench, lot: LotState) -> None:
    product = bench.card(Product, lot.product or "", "lot")
    pieces = [bench.lot(code, "lot") for code in lot.made_from]
    legal = holds_of_packs(bench, pieces, product, lot.market or "", lot.packed_on or bench.fact.day, lot)
    for each in (lot, *bench.units_of(lot.code, "lot")):
        own = tuple(held for held in bench.now(each).held_for if held.finding is None)
        bench.change(each, held_for=(*own, *legal))


def figure(bench: Bench) -> None:
    """Keep the workshop's figure of a rule: for one whose figure we lack or could not confirm, in the unit of the rule."""
    body = cast(Figure, bench.fact.body)
    keep_card(bench)
    rule = rule_of(body.rule)
    if rule is None:
        bench.issue("refuse", "rule", "the id of one of our rules", body.rule, "The list of rules names them.")
    elif not is_lacking(rule):
        bench.issue("refuse", "rule", "a rule whose figure is missing or unconfirmed", f"{body.rule}, which is {rule.known}")
    elif body.unit != rule.unit:
        bench.issue("refuse", "unit", f"{rule.unit}, as {rule.expressed_as}, in {rule.basis}", body.unit)
