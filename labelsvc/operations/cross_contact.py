"""Allergens that may have been left in a tub or on a machine: what lay there before, since its last allergen clean.

Regulation (EU) No 1169/2011, Article 36; FSIS Compliance Guideline 2013-0010. A person decides, once, at packing: the answer
stands in the fact of the packing (``may_contain``: the allergens to warn of, or none), and nothing is printed before.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass, replace

from labelsvc import facts
from labelsvc.declaration.allergens import all_allergens, law_name
from labelsvc.declaration.context import Context, context_for
from labelsvc.errors import InputError
from labelsvc.ledger import around, flows, read
from labelsvc.ledger.around import Stay
from labelsvc.ledger.asof import AsOf
from labelsvc.ledger.database import Connection
from labelsvc.ledger.derive.bench import card_key
from labelsvc.ledger.read import LotRow
from labelsvc.ledger.state import Issue
from labelsvc.operations.handed_out import codes_in
from labelsvc.operations.making import use_of_card
from labelsvc.rules.finding import Finding
from labelsvc.units import Mass


@dataclass(frozen=True)
class Left:
    """Allergens that a thing may have left on a lot.

    Args:
        thing: the tub or machine.
        allergens: our keys, those the lot declares itself left out.
        since: the day of its last allergen clean, or empty where none is recorded.
    """

    thing: str
    allergens: tuple[str, ...]
    since: str


def left_on(
    connection: Connection, own: Collection[int], stays: Iterable[Stay], declared: Callable[[], Collection[str]]
) -> list[Left]:
    """Return what tubs and machines may have left on some lots.

    Args:
        connection: where.
        own: numbers of the lots: a pack and the pieces in it.
        stays: where they were, and when.
        declared: gives the keys of the allergens that they declare; asked only where some ingredient has any.
    """
    found: dict[str, Left] = {}
    carriers = _carriers(connection)
    if not carriers:
        return []
    own_keys = set(declared())
    wanted = {name: left for name, keys in carriers.items() if (left := keys - own_keys)}
    for stay in stays if wanted else ():
        since = around.last_allergen_clean(connection, stay.thing, stay.begins)
        there = around.ingredients_at(connection, stay.thing, since, stay.ends or "9999", own, wanted)
        keys = frozenset[str]().union(*(wanted[name] for name in there))
        if keys:
            known = found.get(stay.thing)
            merged = keys.union(known.allergens if known else ())
            found[stay.thing] = Left(stay.thing, tuple(sorted(merged)), since[: len("2026-03-02")])
    return list(found.values())


def _carriers(connection: Connection) -> dict[str, frozenset[str]]:
    """Return the keys of the allergens in each ingredient that has any, by the key of its name."""
    cards = [facts.read("ingredient", card) for card in read.cards(connection, "ingredient")]
    keys = {card_key(card.name): _allergens_of([card]) for card in cards if isinstance(card, facts.Ingredient)}
    return {name: found for name, found in keys.items() if found}


def allergens_behind(connection: Connection, codes: Collection[str]) -> frozenset[str]:
    """Return the keys of the allergens that may be in some lots, in one statement; sulphites however little is left of them."""
    cards = [facts.read("ingredient", card) for card in flows.ingredient_cards_behind(connection, codes)]
    return _allergens_of(cards, with_sulphites=True)


def _allergens_of(cards: Iterable[object], *, with_sulphites: bool = False) -> frozenset[str]:
    uses = [use_of_card(card, "1 g") for card in cards if isinstance(card, facts.Ingredient)]
    return all_allergens(uses, replace(_any_market(), sulphites=with_sulphites))


def allergens_in(connection: Connection, numbers: Collection[int], lookup: AsOf) -> frozenset[str]:
    """Return the keys of the allergens of all ingredients that went into some lots, or are those lots."""
    reached = {*numbers, *(link.giver for link in flows.links_back(connection, numbers))}
    names = {row.state.ingredient for row in read.lots_of(connection, reached) if row.state.ingredient}
    cards = [lookup.card("ingredient", name) for name in sorted(names)]
    return _allergens_of(cards)


def _any_market() -> Context:
    """The longest list of allergens we know: what lies on a machine does not ask where the next pack is sold."""
    return context_for("eu", "en", dt.date.max, Mass.parse("1 g").grams)


def question(connection: Connection, body: facts.Pack, at: str, *, is_at_bench: bool) -> list[Issue]:
    """Return the question that a packing raises, as long as its ``may_contain`` does not answer it.

    Args:
        connection: where.
        body: the packing about to be recorded.
        at: its instant.
        is_at_bench: whether someone is there to answer; else it is told, and the label waits for the decision.
    """
    if body.may_contain is not None:
        return []
    try:
        pieces, before = _pieces(connection, body)
    except InputError:  # no such piece: that is said better where the packing is worked out
        return []
    now = [Stay(thing, at, at) for thing in (body.slicer, *body.things) if thing]
    stays = [*before, *now]
    left = left_on(connection, pieces, stays, lambda: allergens_in(connection, pieces, AsOf(connection, read.END_OF_TIME)))
    if not left:
        return []
    where = "tubs and machines free of other allergens"
    if not is_at_bench:
        hint = "No label is printed before someone decides: name the allergens to warn of under may_contain, or none."
        return [Issue("note", "may_contain", where, "; ".join(map(said, left)), hint)]
    hint = (
        "Decide: name the allergens to warn of under may_contain, or say yes if nothing of them can be on these packs (cleaned"
        " but not recorded, or no contact): then nothing is warned of."
    )
    return [Issue("ask", "may_contain", where, "; ".join(map(said, left)), hint)]


def _pieces(connection: Connection, body: facts.Pack) -> tuple[list[int], list[Stay]]:
    """Return the numbers of the pieces and their stays; what is no code, such as a marker, is looked up."""
    pieces, stays = around.stays_of(connection, codes_in([one.piece for one in body.from_]))
    if len(pieces) == len(body.from_):
        return pieces, stays
    pieces = [read.find(connection, one.piece, "from").number for one in body.from_]
    return pieces, around.stays(connection, pieces)


def said(left: Left) -> str:
    """Return what a thing may have left, in words."""
    context = _any_market()
    names = ", ".join(law_name(key, context) for key in left.allergens)
    since = f"since its allergen clean of {left.since}" if left.since else "and no allergen clean of it is recorded"
    return f"{left.thing} held {names} {since}"


def findings_of(connection: Connection, units: Sequence[LotRow], declared: Collection[str], context: Context) -> list[Finding]:
    """Return what tubs and machines may have left on packs, and what was decided.

    Args:
        connection: where.
        units: packs of one packing.
        declared: keys of the allergens they declare.
        context: market and rules.

    Returns:
        A finding that stops as long as nobody decided; after it, a note of the decision.
    """
    numbers = [unit.number for unit in units]
    givers = {link.giver for link in flows.links_back(connection, numbers)}
    pieces = [row.number for row in read.lots_of(connection, givers) if row.state.kind == "piece"]
    kept = [*numbers, *pieces, *_siblings(connection, units)]
    stays = around.stays(connection, [*pieces, *numbers])
    left = left_on(connection, kept, stays, lambda: declared)
    if not left:
        return []
    rule, what = context.rule("shared_equipment"), "; ".join(map(said, left))
    decided = units[0].state.may_contain
    if decided is None and units[0].state.kind == "piece":
        message = f"{what}: you will be asked at packing whether the label warns of it."
        return [rule.found(what, message, exceeded=False, severity="warn")]
    if decided is None:
        message = f"Undecided: {what}. Decide on the pack's declaration whether the label warns of it."
        return [rule.found(what, message, exceeded=True)]
    warned = ", ".join(law_name(key, context) for key in decided if key in context.words["allergens"])
    answer = f"the label warns of {warned}" if decided else "decided at packing that the label warns of nothing"
    return [rule.found(what, f"{what}: {answer}.", exceeded=False, severity="note")]


def _siblings(connection: Connection, units: Sequence[LotRow]) -> list[int]:
    """The packs of the same lot: what they hold, these declare too."""
    parent = units[0].state.parent or units[0].code
    lot = read.find(connection, parent)
    return [unit.number for unit in (lot, *read.units_of(connection, lot))]
