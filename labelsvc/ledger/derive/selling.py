"""Packs leave: sold, given away, brought back, eaten at home, destroyed."""

from __future__ import annotations

import datetime as dt
from typing import cast

from labelsvc import choices
from labelsvc.errors import InputError
from labelsvc.facts import Customer, Dispose, Give, Product, Return, Sell, Workshop
from labelsvc.ledger.derive.bench import THE_WORKSHOP, Bench, card_key, percent_of
from labelsvc.ledger.derive.lawful import holds_of_packs
from labelsvc.ledger.state import DESTROYED, OWN_USE, PUBLIC, SAMPLE, End, HeldFor, LotState
from labelsvc.rules.load import MARKETS, rules_of
from labelsvc.units import grams_text

_HOW = {"destroyed": DESTROYED, "own_use": OWN_USE, "sample": SAMPLE}


def sell(bench: Bench) -> None:
    """Units to a customer, or to the public."""
    body = cast(Sell, bench.fact.body)
    business = False
    if body.customer is not None:
        customer = bench.card(Customer, body.customer, "customer")
        end, business = End("customer", customer.name), customer.business
    else:
        end = PUBLIC
    _hand_over(bench, body.packs, end, "sold", business)


def give(bench: Bench) -> None:
    """Units to someone who pays nothing and must be told in a recall all the same."""
    body = cast(Give, bench.fact.body)
    _hand_over(bench, body.packs, End("gift", body.to), "given away", business=False)


def _hand_over(bench: Bench, refs: tuple[str, ...], end: End, phase: str, business: bool) -> None:
    units = _each_once(bench, refs)
    if phase == "sold" and business and units:
        _may_go_to_business(bench, units[0], end.name)
    for unit in units:
        _may_leave(bench, unit, phase)
        bench.flow((unit, -unit.milligrams), (end, unit.milligrams))
        leaves = dict(phase=phase, holder=end.name, is_business=business, handed_over_milligrams=unit.milligrams)
        bench.change(unit, **leaves, place=None)


def _each_once(bench: Bench, refs: tuple[str, ...]) -> list[LotState]:
    """The units named, each once: a pack lot stands for those of its packs that are still in stock."""
    units: dict[str, LotState] = {}
    for place, ref in enumerate(refs):
        named = bench.units_of(ref, f"packs[{place}]")
        here = [unit for unit in named if unit.phase == "in stock"]
        if len(named) > 1 and here:
            named = here
        units.update({unit.code: unit for unit in named})
    return list(units.values())


def _may_leave(bench: Bench, unit: LotState, phase: str) -> None:
    if unit.phase != "in stock":
        holder = f" to {unit.holder}" if unit.holder else ""
        bench.issue("conflict", "packs", "packs that are in stock", f"{unit.code}, which is {unit.phase}{holder}")
    bench.not_held(unit, "packs")
    workshop = bench.find_card(Workshop, THE_WORKSHOP)
    if phase == "sold" and workshop is not None and choices.standing(workshop.standing) == "not_for_sale":
        bench.issue("blocked", "packs", "a workshop that sells", "one whose standing is not for sale", "Give it away, or eat it.")
    if unit.released_by is None:
        bench.issue("blocked", "packs", "packs of released pieces", f"{unit.code}, not released", "Release the lot first.")
    if unit.published:
        cases = " and ".join(str(case) for case in dict.fromkeys(one.case for one in unit.published))
        got = f"{unit.code}, whose buyers are warned in case {cases}"
        bench.issue("blocked", "packs", "packs that nobody is warned of", got, "Take it off the shelf and hold it.")
    if unit.best_before is not None and bench.fact.day > unit.best_before:
        _leaves_late(bench, unit, unit.best_before)


def _leaves_late(bench: Bench, unit: LotState, date: dt.date) -> None:
    """After best before it is asked once; after use by, where the law says that such food is unsafe, nothing leaves."""
    expected, got = f"packs before their date {date}", f"{unit.code} on {bench.fact.day}"
    product = bench.find_card(Product, unit.product or "")
    market = (unit.market or "").lower()
    rule = rules_of(market, bench.fact.day).get(f"{market}.labelling.date_kind") if market in MARKETS else None
    if product is None or product.date_kind != "use_by" or rule is None or rule.severity != "stop":
        bench.issue("ask", "packs", expected, got)
        return
    message = f"{unit.code} was to be used by {date}: after that day food is deemed unsafe"
    bench.issue("blocked", "packs", expected, got, rule.citation, rule.found(str(date), message, exceeded=True))


def _may_go_to_business(bench: Bench, unit: LotState, customer: str) -> None:
    """A US shop exempt from inspection sells cured meat to household consumers only; one registered for retail, a little."""
    workshop = bench.find_card(Workshop, THE_WORKSHOP)
    standing = choices.standing(workshop.standing) if workshop else ""
    if standing == "us_retail_exempt":
        rule = rules_of("us", bench.fact.day)["us.labelling.retail_exempt"]
        message = f"{unit.code} is cured, and {customer} is a business: a shop exempt from inspection sells it to consumers only."
        found = rule.found(customer, message, exceeded=True)
        bench.issue("blocked", "customer", "a household consumer", f"{customer}, a business", rule.citation, found)
    elif standing == "registered" and unit.market in ("eu", "gb"):
        rule = rules_of(unit.market, bench.fact.day)[f"{unit.market}.labelling.registered_supply"]
        expected = "mostly consumers: a workshop that is registered and not approved supplies businesses marginally and locally"
        bench.issue("note", "customer", expected, f"{customer}, a business", f"{rule.citation}; {rule.known}.")


def take_back(bench: Bench) -> None:
    """Units come back held; from a consumer they are destroyed, nobody knows how warm they were."""
    body = cast(Return, bench.fact.body)
    for place, ref in enumerate(body.packs):
        units = [unit for unit in bench.units_of(ref, f"packs[{place}]") if unit.phase in ("sold", "given away")]
        if not units:
            bench.issue("conflict", f"packs[{place}]", "a pack that was sold or given away", ref)
        for unit in units:
            _bring_back(bench, unit, body.from_, f"packs[{place}]")


def _bring_back(bench: Bench, unit: LotState, giver: str, field: str) -> None:
    if card_key(giver) != card_key(unit.holder or ""):
        bench.issue("conflict", field, f"packs that {giver} had", f"{unit.code}, which {unit.holder} had")
    end = End("gift" if unit.phase == "given away" else "customer", unit.holder or giver)
    whole = unit.handed_over_milligrams  # less than the pack once was where a sample had been taken
    bench.flow((end, -whole), (unit, whole))
    if unit.is_business:
        returned = HeldFor(bench.fact.seq, f"returned by {unit.holder}")
        bench.change(unit, phase="in stock", holder=None, held_for=(*unit.held_for, returned))
    else:
        bench.flow((bench.now(unit), -whole), (DESTROYED, whole))
        bench.change(unit, phase="destroyed", holder=None)


def dispose(bench: Bench) -> None:
    """All or some of a lot leaves for good."""
    body = cast(Dispose, bench.fact.body)
    lot = bench.lot(body.lot, "lot")
    if not lot.units:
        _take_away(bench, lot, body.weight.milligrams if body.weight else lot.milligrams)
    elif body.weight is not None:
        raise InputError("weight", "no weight for a whole pack lot", str(body.weight), "Name the packs one by one.")
    else:
        for unit in bench.units_of(body.lot, "lot"):
            if unit.milligrams:
                _take_away(bench, unit, unit.milligrams)


def _take_away(bench: Bench, lot: LotState, weight: int) -> None:
    how = cast(Dispose, bench.fact.body).how
    if how != "destroyed":
        _may_be_eaten(bench, lot, how)
    if lot.milligrams == 0:
        bench.issue("conflict", "lot", "a lot of which something is left", f"{lot.code}, which is {lot.phase}")
    if weight > lot.milligrams:
        level = "ask" if weight * 100 <= lot.milligrams * 105 else "refuse"
        bench.issue(
            level, "weight", f"at most the {grams_text(lot.milligrams)} g there are of {lot.code}",
            f"{grams_text(weight)} g, {percent_of(weight, lot.milligrams)} % of it",
        )  # fmt: skip
        weight = lot.milligrams
    bench.flow((lot, -weight), (_HOW[how], weight))
    if bench.now(lot).milligrams == 0:
        bench.change(lot, phase=_HOW[how].kind, place=None, tub=None)


def _may_be_eaten(bench: Bench, lot: LotState, how: str) -> None:
    """What the law stops is not eaten here either; any other hold asks once, and so does a sample: a laboratory may need one."""
    if how == "own_use" and any(held.is_stop for held in lot.held_for):
        bench.not_held(lot, "lot")
    if how == "sample":
        meant, hint = "a sample of a lot that is not held", "A sample for the laboratory is right, a taste is not."
    else:
        meant, hint = "meat to eat of a lot that is not held", "What holds it would hold it back from buyers."
    reasons = dict.fromkeys([*(held.reason for held in lot.held_for), *_unexamined(bench, lot)])
    if reasons:
        bench.issue("ask", "how", meant, f"{lot.code}: {'; '.join(reasons)}", hint)


def _unexamined(bench: Bench, lot: LotState) -> list[str]:
    """Why packs of a cured piece that is eaten as it is would be held for Trichinella: no piece is, until it is packed."""
    product = bench.find_card(Product, lot.product or "") if lot.kind == "piece" and lot.cured_on else None
    if product is None:
        return []
    found = [holds_of_packs(bench, [lot], product, market, bench.fact.day) for market in product.markets]
    mildest = min(found, key=lambda holds: sum(held.is_stop for held in holds), default=())
    return [held.reason for held in mildest]
