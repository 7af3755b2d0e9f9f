"""Lots by what was once said of them: whom they went to, by which recipe they were cured, which rule their label relied on."""

from __future__ import annotations

import json
from collections.abc import Callable, Collection, Iterator
from typing import Any

from sqlalchemy import ColumnElement, Connection, and_, func, select, union

from labelsvc.ledger.among import among
from labelsvc.ledger.append import canonical
from labelsvc.ledger.asof import lot_from
from labelsvc.ledger.derive.bench import alias_key, card_key, card_subject, lot_subject
from labelsvc.ledger.read import LotRow
from labelsvc.ledger.state import PUBLIC
from labelsvc.ledger.tables import aliases, effective, lots, postings, timeline


def marked(connection: Connection, mark: str) -> list[int]:
    """Return the numbers of all lots that an ear tag, herd mark or other number leads to, as many as there are."""
    rows = select(aliases.c.lot).where(aliases.c.alias == alias_key(mark)).order_by(aliases.c.lot)
    return list(connection.execute(rows).scalars())


def went_to(connection: Connection, name: str) -> list[int]:
    """Return the numbers of the lots that a customer, or someone who was given them, ever had."""
    key, ends = card_key(name), postings.alias()
    sold = select(timeline.c.fact).where(timeline.c.subject == card_subject("customer", name))
    unnamed = ("give", "sell") if key == card_key(PUBLIC.name) else ("give",)  # no card says whom these went to
    other = select(effective.c.fact).where(effective.c.kind.in_(unnamed))
    facts = union(sold, other).subquery("handed_over")
    rows = (
        select(postings.c.lot, ends.c.account)
        .join(facts, facts.c.fact == postings.c.fact)
        .join(ends, (ends.c.fact == postings.c.fact) & (ends.c.flow == postings.c.flow))
        .where(postings.c.lot.is_not(None), ends.c.kind.in_(("customer", "gift")))
    )
    return sorted({number for number, account in connection.execute(rows).all() if card_key(account) == key})


def cured_by(connection: Connection, recipe: str) -> list[int]:
    """Return the numbers of the pieces whose cure named a recipe, whatever the recipe said at that time."""
    looked = select(timeline.c.fact).where(timeline.c.subject == card_subject("recipe", recipe))
    return _touched_by(connection, and_(effective.c.kind == "cure", effective.c.fact.in_(looked)))


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
    """Return the sale labels issued for lots that count, by code: number of the fact and its body, oldest first."""
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
        elif body.get("market"):
            labels[fact] = body
    return {code: list(labels.items()) for code, labels in found.items()}


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
