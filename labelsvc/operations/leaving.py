"""What is asked when packs leave, or lots are held: what only the rest of the ledger knows, and no single fact."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence

from labelsvc import choices
from labelsvc.errors import LabelsvcError
from labelsvc.facts import Give, Hold, Incident, Sell
from labelsvc.ledger import flows, read, search
from labelsvc.ledger.database import Connection
from labelsvc.ledger.derive.bench import Derived
from labelsvc.ledger.follow_up import naming, numbered
from labelsvc.ledger.read import LotRow
from labelsvc.ledger.state import Issue, LotState
from labelsvc.shape import Shape

_FEW = 5  # codes in a sentence


def cautions(connection: Connection, body: Shape, derived: Derived, *, is_at_bench: bool) -> list[Issue]:
    """Return what a person must hear before packs leave (asked once, or blocked), or when lots are held (told).

    Args:
        connection: where.
        body: of the fact.
        derived: what follows from it.
        is_at_bench: whether someone stands there with the packs, who can look at their labels.
    """
    if isinstance(body, Sell | Give):
        packs = {code: lot for code, lot in derived.lots.items() if lot.holder is not None}
        return [*_recalled(connection, list(packs)), *(_labels(connection, packs) if is_at_bench else ())]
    if isinstance(body, Hold | Incident) and body.lots:
        return _made_of_it(connection, body.lots, derived)
    return []


def _recalled(connection: Connection, codes: Sequence[str]) -> list[Issue]:
    """A hold is a decision and so is a publication: until either is taken, whoever sells must know of the case."""
    for number, named in _open_cases(connection):
        seeds = {unit.number for text in named for unit in _units(connection, text)}
        for code in codes:
            unit = read.find(connection, code).number
            if seeds & {unit, *(link.giver for link in flows.links_back(connection, [unit]))}:
                expected = "packs that belong to no open withdrawal or recall"
                return [Issue("ask", "packs", expected, f"{code}, of case {number}", f"See: labelsvc case {number}.")]
    return []


def _labels(connection: Connection, packs: Mapping[str, LotState]) -> list[Issue]:
    """A label that names too few allergens stops the pack; one that is missing is asked about, where labels are printed here."""
    labels = search.sale_labels_of(connection, packs)
    bare = [code for code, lot in packs.items() if not labels.get(code) and _is_prepacked(lot)]
    issues = []
    if bare and search.prints_sale_labels(connection):
        got = f"{_listed(bare)}, for which none was printed"
        hint = f"What its label lacks: labelsvc declaration {bare[0]}."
        issues.append(Issue("ask", "packs", "prepacked packs with their sale label", got, hint))
    first = {lot.parent: code for code, lot in packs.items() if labels.get(code)}
    inside = {parent: _allergens_of(connection, code) for parent, code in first.items()}
    for code, lot in packs.items():
        missing = inside[lot.parent] - set(labels[code][-1][1].get("allergens", ())) if labels.get(code) else ()
        if missing:
            got = f"{code}, whose label does not name {' and '.join(sorted(missing))}"
            hint = "Print its label anew, and take the old one off."
            issues.append(Issue("blocked", "packs", "packs whose label names every allergen in them", got, hint))
    return issues


def _is_prepacked(lot: LotState) -> bool:
    return choices.form_of_sale(lot.form or "") == "prepacked"


def _allergens_of(connection: Connection, code: str) -> set[str]:
    """What a label of the pack would declare today; nothing where it cannot be said, which the label itself is stopped by."""
    from labelsvc.operations.content import sale_said  # imports what draws labels, which recording mostly does without

    unit = read.find(connection, code)
    try:
        return set(sale_said(connection, unit, unit.state.packed_on or unit.state.born).allergens)
    except LabelsvcError:
        return set()


def _open_cases(connection: Connection) -> Iterator[tuple[int, list[str]]]:
    """Yield number and named lots of each withdrawal or recall that is not closed."""
    for row in numbered(connection, "open_case"):
        body = json.loads(row.body)
        steps = naming(connection, "open_case", row.fact) if body["what"] != "mock" else []
        if body["what"] == "mock" or any(step.kind == "close_case" for step in steps):
            continue
        said = [json.loads(step.body) for step in steps if step.kind == "case_step"]
        yield row.fact, [*body["lots"], *(text for step in said if step["what"] == "wider" for text in step.get("lots", ()))]


def _made_of_it(connection: Connection, refs: Sequence[str], derived: Derived) -> list[Issue]:
    """A hold holds what it names: what was made of it before is told, because nobody thinks of it in that moment."""
    seeds = {unit.number for text in refs for unit in _units(connection, text)}
    receivers = {link.receiver for link in flows.links_forward(connection, sorted(seeds))} - seeds
    lots = [row.state for row in read.lots_of(connection, sorted(receivers))]
    free = [lot.code for lot in lots if (lot.milligrams or lot.holder) and not lot.is_held and lot.code not in derived.lots]
    if not free:
        return []
    hint = f"They are not held: labelsvc recall --lot {refs[0]} names them all; hold those that it touches."
    return [Issue("note", "lots", "lots of which nothing was made before", f"{refs[0]}, of which was made {_listed(free)}", hint)]


def _units(connection: Connection, text: str) -> list[LotRow]:
    return read.units_of(connection, read.find(connection, text, "lots"))


def _listed(codes: Sequence[str]) -> str:
    return ", ".join(codes[:_FEW]) + (f" and {len(codes) - _FEW} more" if len(codes) > _FEW else "")
