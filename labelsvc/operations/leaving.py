"""What is looked at when packs are sold or given away and no single fact knows: labels that left, and open cases.

By whichever door, a label that is silent on an allergen the ledger knows of stops its pack. Asked once: packs of an open
withdrawal or recall, and packs that no label was printed for here, which may bear one written by hand. What left on an earlier
day has left: then it is a question, for who has it must be known. What a pack's own state says is in ``ledger/derive/selling``.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Sequence
from dataclasses import dataclass

from labelsvc import choices, facts
from labelsvc.errors import InputError, LabelsvcError
from labelsvc.ledger import around, flows, read, search
from labelsvc.ledger.asof import AsOf
from labelsvc.ledger.database import Connection
from labelsvc.ledger.derive.bench import THE_WORKSHOP
from labelsvc.ledger.derive.happening import Derived, Happening
from labelsvc.ledger.read import LotRow
from labelsvc.ledger.state import Issue, LotState
from labelsvc.operations.content import product_of, sale_said, workshop_of
from labelsvc.operations.cross_contact import allergens_behind
from labelsvc.operations.open_cases import open_cases, seeds_of
from labelsvc.operations.particulars import labels_of
from labelsvc.operations.undeclared import declared_on
from labelsvc.rules.load import rules_of

_MOST = 3  # codes that a message names


@dataclass(frozen=True)
class _Door:
    connection: Connection
    happening: Happening
    today: dt.date
    is_at_bench: bool

    @property
    def stop(self) -> str:
        """The level of what must not leave: what left before today has left, and is asked about."""
        return "blocked" if self.happening.day >= self.today else "ask"


def at_the_door(
    connection: Connection,
    happening: Happening,
    derived: Derived,
    today: dt.date,
    *,
    is_at_bench: bool,
    before: Collection[str] = (),
) -> list[Issue]:
    """Return what stands against packs that leave, blocked, asked or told.

    Args:
        connection: where.
        happening: what was said; anything but selling and giving is passed by.
        derived: what follows from it.
        today: the workshop's day.
        is_at_bench: whether someone is there to be asked about a label written by hand.
        before: of a correction, the codes that had left by it already.
    """
    leaving = [lot for code, lot in derived.lots.items() if lot.phase in ("sold", "given away") and code not in before]
    if happening.kind not in ("sell", "give") or not leaving:
        return []
    door = _Door(connection, happening, today, is_at_bench)
    return [*_in_open_case(door, leaving), *_of_labels(door, leaving)]


def _in_open_case(door: _Door, units: Sequence[LotState]) -> list[Issue]:
    cases = open_cases(door.connection)
    if not cases:
        return []
    numbers = around.numbers_of(door.connection, [unit.code for unit in units])
    behind = _behind(door.connection, numbers.values())
    issues = []
    for case in cases:
        seeds = seeds_of(door.connection, case.lots)
        mine = [unit for unit in units if seeds & behind[numbers[unit.code]]]
        if mine:
            got = f"{_codes(mine)}, which belongs to {case.said}"
            hint = "Whoever gets it must be told too: hold it, unless the case is over."
            issues.append(Issue("ask", "packs", "packs that are in no open withdrawal or recall", got, hint))
    return issues


def _behind(connection: Connection, numbers: Collection[int]) -> dict[int, set[int]]:
    """Return for each of some lots itself and everything that went into it."""
    givers: dict[int, set[int]] = {}
    for link in flows.links_back(connection, numbers):
        givers.setdefault(link.receiver, set()).add(link.giver)
    found = {}
    for number in numbers:
        reached, waiting = {number}, [number]
        while waiting:
            more = givers.get(waiting.pop(), set()) - reached
            reached |= more
            waiting += more
        found[number] = reached
    return found


def _of_labels(door: _Door, units: Sequence[LotState]) -> list[Issue]:
    """What the labels that packs leave with say; loose food and such packed at the counter leave with what its card says."""
    codes = {one for unit in units for one in (unit.code, unit.parent or unit.code)}
    labels = search.sale_labels_of(door.connection, codes)
    said = {unit.code: labels.get(unit.code) or labels.get(unit.parent or unit.code) for unit in units}
    named = {code: declared_on(issued[-1][1]) for code, issued in said.items() if issued}
    labelled = [unit for unit in units if unit.code in named]
    bare = [unit for unit in units if unit.code not in named and unit.form == "prepacked"]
    return [*_undeclared(door, labelled, named), *_bare(door, bare)]


def _undeclared(door: _Door, units: Sequence[LotState], named: dict[str, set[str]]) -> list[Issue]:
    """Labels that are silent on an allergen; the whole declaration is worked out only where one may be."""
    if not units:
        return []
    known = allergens_behind(door.connection, [unit.code for unit in units])
    doubtful = {unit.parent: unit for unit in units if known - named[unit.code]}
    issues = []
    for first in doubtful.values():
        try:
            declares = _declares(door.connection, _row(door.connection, first))
        except LabelsvcError as error:
            expected = "packs whose label can be checked against what is in them"
            issues.append(Issue("ask", "packs", expected, first.code, f"Unchecked: {error}"))
            continue
        silent = [one for one in units if one.parent == first.parent and declares.keys() - named[one.code]]
        if silent:
            missing = ", ".join(name for key, name in declares.items() if key not in named[silent[0].code])
            got = f"{_codes(silent)}, whose label does not name {missing}"
            issues.append(_silent(door, silent[0], got))
    return issues


def _silent(door: _Door, unit: LotState, got: str) -> Issue:
    expected, hint = "packs whose label names every allergen in them", "Take that label off, and print it anew."
    market = (unit.market or "").lower()  # one we have rules for: the label was printed by them
    rule = rules_of(market, door.happening.day)[f"{market}.labelling.allergens"]
    found = rule.found(unit.code, InputError("packs", expected, got, hint).message, exceeded=True, severity="stop")
    return Issue(door.stop, "packs", expected, got, hint, found.as_json())


def _declares(connection: Connection, unit: LotRow) -> dict[str, str]:
    """Return the allergens that the label of a pack must name today: keys, and their names in its language."""
    product, workshop = product_of(connection, unit.state), workshop_of(connection)
    names = labels_of(connection, [unit], product, workshop)[0].declaration.allergens
    language = (unit.state.language or "en").lower()
    return {key: name for name in names for key in declared_on({"allergens": [name], "language": language})}


def _bare(door: _Door, units: Sequence[LotState]) -> list[Issue]:
    """Ask once for each packing whether its packs bear a label that was not printed here."""
    lots: dict[str, list[LotState]] = {}
    for unit in units:
        lots.setdefault(unit.parent or unit.code, []).append(unit)
    if not lots or not _prints_labels(door.connection):
        return []
    issues = []
    for lot, packs in lots.items():
        expected = f"packs of {lot} with a label that was printed here"
        got = f"{_codes(packs)}, of which none is recorded"
        if not door.is_at_bench:
            issues.append(Issue("note", "packs", expected, got, "One written by hand must name every allergen too."))
        elif not search.was_confirmed(door.connection, lot, ("sell", "give"), expected):
            issues.append(Issue("ask", "packs", expected, got, _by_hand(door, packs[0])))
    return issues


def _prints_labels(connection: Connection) -> bool:
    workshop = AsOf(connection, read.END_OF_TIME).card("workshop", THE_WORKSHOP)
    return isinstance(workshop, facts.Workshop) and choices.standing(workshop.standing) != "not_for_sale"


def _by_hand(door: _Door, unit: LotState) -> str:
    """Say what a label written by hand must name, or why none may leave the printer."""
    try:
        said = sale_said(door.connection, _row(door.connection, unit), door.today)
    except LabelsvcError as error:
        return f"No label can be printed as it stands: {error}"
    if said.stops:
        return f"No label may be printed as it stands: {said.stops[0].message}"
    names = ", ".join(said.allergens)
    return (
        f"Print it, or say yes where one written by hand names {names}." if names else "Print it, or say yes where one is there."
    )


def _row(connection: Connection, unit: LotState) -> LotRow:
    return LotRow(around.numbers_of(connection, [unit.code])[unit.code], unit)


def _codes(units: Sequence[LotState]) -> str:
    named = ", ".join(unit.code for unit in units[:_MOST])
    return f"{named} and {len(units) - _MOST} more" if len(units) > _MOST else named
