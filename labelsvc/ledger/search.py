"""Lots by what was once said of them: whom they went to, by which recipe they were cured, which rule their label relied on."""

from __future__ import annotations

import json
from collections.abc import Callable, Collection, Iterator, Sequence
from typing import Any, NamedTuple

from sqlalchemy import ColumnElement, Connection, and_, func, select, tuple_

from labelsvc.ledger.among import among
from labelsvc.ledger.append import canonical
from labelsvc.ledger.asof import lot_from
from labelsvc.ledger.derive.bench import alias_key, card_key, card_subject, lot_subject
from labelsvc.ledger.read import LotRow
from labelsvc.ledger.tables import aliases, effective, facts, handed_over, lots, timeline


def marked(connection: Connection, mark: str) -> list[int]:
    """Return the numbers of all lots that an ear tag, herd mark or other number leads to, as many as there are."""
    rows = select(aliases.c.lot).where(aliases.c.alias == alias_key(mark)).order_by(aliases.c.lot)
    return list(connection.execute(rows).scalars())


def went_to(connection: Connection, name: str) -> list[int]:
    """Return the numbers of the lots that a customer, or someone who was given them, ever had."""
    theirs = and_(handed_over.c.name_key == card_key(name), handed_over.c.kind.in_(("customer", "gift")))
    return sorted(connection.execute(select(handed_over.c.lot).where(theirs).distinct()).scalars())


class Version(NamedTuple):
    """What a recipe said from a fact on: the instant and number of that fact, and its day."""

    at: str
    fact: int
    day: str


def versions_of(connection: Connection, recipe: str) -> list[Version]:
    """Return the versions of a recipe, the first one first; a cure was by the last one before it, or else by the first."""
    said = and_(timeline.c.subject == card_subject("recipe", recipe), timeline.c.state.is_not(None))
    rows = select(timeline.c.at, timeline.c.fact, effective.c.day).join(effective, effective.c.fact == timeline.c.fact)
    return [Version(*row) for row in connection.execute(rows.where(said).order_by(timeline.c.at, timeline.c.fact))]


def cured_by(connection: Connection, recipe: str, version: int | None = None) -> list[int]:
    """Return the numbers of the pieces whose cure named a recipe.

    Args:
        connection: where.
        recipe: its name.
        version: only those cured by what the recipe said then, 1 for the first version; None: whatever it said.
    """
    looked = [timeline.c.subject == card_subject("recipe", recipe)]
    if version is not None:
        known = versions_of(connection, recipe)
        if not 1 <= version <= len(known):
            return []
        position = tuple_(timeline.c.at, timeline.c.fact)
        looked += [position > known[version - 1][:2]] if version > 1 else []
        looked += [position < known[version][:2]] if version < len(known) else []
    cures = select(timeline.c.fact).where(*looked)
    return _touched_by(connection, and_(effective.c.kind == "cure", effective.c.fact.in_(cures)))


def relied_on(connection: Connection, rule: str) -> list[int]:
    """Return the numbers of the packs for which a label was issued that relied on a rule."""
    named = and_(effective.c.kind == "issue_label", effective.c.body.contains(canonical(rule), autoescape=True))
    return _touched_by(connection, named, lambda body: rule in body.get("rules", ()))


def cured_pieces(connection: Connection) -> Iterator[LotRow]:
    """Yield every piece that something was put on."""
    rows = select(lots.c.id, lots.c.known).where(lots.c.kind == "piece", lots.c.known.contains('"put_on":')).order_by(lots.c.id)
    for row in connection.execute(rows):
        yield LotRow(row.id, lot_from(row.known))


def sale_labels_of(connection: Connection, codes: Collection[str]) -> dict[str, list[tuple[int, dict[str, Any]]]]:
    """Return the sale labels issued for lots that count, by code: number of the fact and its body, oldest first.

    The label of a shipping case is on the case, and names no allergen: it is none of them.
    """
    by_subject = {lot_subject(code): code for code in codes}
    mine = and_(among(timeline.c.subject, by_subject), effective.c.kind.in_(("issue_label", "void_label")))
    rows = (
        select(timeline.c.subject, effective.c.fact, effective.c.kind, effective.c.body)
        .join(effective, effective.c.fact == timeline.c.fact)
        .where(mine, effective.c.body.is_not(None))
        .order_by(effective.c.at, effective.c.fact)
    )
    found: dict[str, dict[int, dict[str, Any]]] = {}
    for subject, fact, kind, text in connection.execute(rows).all():
        labels, body = found.setdefault(by_subject[subject], {}), json.loads(text)
        if kind == "void_label":
            labels.pop(body["label"], None)
        elif body.get("market") and not _is_of_case(body):
            labels[fact] = body
    return {code: list(labels.items()) for code, labels in found.items()}


def _is_of_case(label: dict[str, Any]) -> bool:
    said = label["content"].values()
    return any(isinstance(one, dict) and "packs" in one.get("elements", ()) for one in said)


def was_confirmed(connection: Connection, lot: str, kinds: Sequence[str], question: str) -> bool:
    """Tell whether someone said yes to a question about packs of a lot before.

    Args:
        connection: where.
        lot: the code of the pack lot.
        kinds: of the facts in which the answer may stand.
        question: words of it that name the lot.
    """
    first, after = lot_subject(f"{lot}/"), lot_subject(f"{lot}{chr(ord('/') + 1)}")
    mine = and_(
        timeline.c.subject >= first, timeline.c.subject < after, effective.c.kind.in_(kinds), effective.c.body.is_not(None)
    )
    said = select(timeline.c.fact).join(effective, effective.c.fact == timeline.c.fact).where(mine)
    bodies = connection.execute(select(facts.c.body).where(facts.c.seq.in_(said))).scalars()
    return any(question in answer for body in bodies for answer in json.loads(body)["confirmed"])


def last_cleaned(connection: Connection, thing: str, before: str | None) -> str | None:
    """Return the instant at which a thing was last cleaned, before an instant or at all; None where nobody wrote one down."""
    cleanings = (
        select(func.max(timeline.c.at))
        .join(effective, effective.c.fact == timeline.c.fact)
        .where(timeline.c.subject == f"watch/{card_key(thing)}", effective.c.kind == "clean")
    )
    return connection.execute(cleanings.where(timeline.c.at < before) if before else cleanings).scalar()


def _touched_by(connection: Connection, which: ColumnElement[bool], fits: Callable[[Any], bool] = bool) -> list[int]:
    """The pieces and packs that facts changed, those facts that stand and whose body fits."""
    rows = connection.execute(select(effective.c.fact, effective.c.body).where(which, effective.c.body.is_not(None))).all()
    numbers = [fact for fact, body in rows if fits(json.loads(body))]
    subjects = select(timeline.c.subject).where(among(timeline.c.fact, numbers), timeline.c.state.is_not(None)).distinct()
    codes = {str(subject).removeprefix("lot/") for subject in connection.execute(subjects).scalars()}
    mine = select(lots.c.id).where(among(lots.c.code, codes), lots.c.kind.in_(("piece", "pack"))).order_by(lots.c.id)
    return list(connection.execute(mine).scalars())
