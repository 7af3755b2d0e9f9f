"""Lots by what was once said of them: whom they went to, by which recipe they were cured, which rule their label relied on."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from typing import Any

from sqlalchemy import Connection, func, select

from labelsvc.ledger.asof import lot_from
from labelsvc.ledger.derive.bench import alias_key, card_key
from labelsvc.ledger.read import LotRow
from labelsvc.ledger.tables import aliases, effective, lots, postings, timeline


def marked(connection: Connection, mark: str) -> list[int]:
    """Return the numbers of all lots that an ear tag, herd mark or other number leads to, as many as there are."""
    rows = select(aliases.c.lot).where(aliases.c.alias == alias_key(mark)).order_by(aliases.c.lot)
    return list(connection.execute(rows).scalars())


def went_to(connection: Connection, name: str) -> list[int]:
    """Return the numbers of the lots that a customer, or someone who was given them, ever had."""
    ends = postings.alias()
    rows = (
        select(postings.c.lot)
        .join(ends, (ends.c.fact == postings.c.fact) & (ends.c.flow == postings.c.flow))
        .where(postings.c.lot.is_not(None), ends.c.kind.in_(("customer", "gift")), func.lower(ends.c.account) == card_key(name))
        .distinct()
        .order_by(postings.c.lot)
    )
    return list(connection.execute(rows).scalars())


def cured_by(connection: Connection, recipe: str) -> list[int]:
    """Return the numbers of the pieces whose cure named a recipe, whatever the recipe said at that time."""
    return _touched_by(connection, "cure", "recipe", lambda body: card_key(body.get("recipe") or "") == card_key(recipe))


def relied_on(connection: Connection, rule: str) -> list[int]:
    """Return the numbers of the packs for which a label was issued that relied on a rule."""
    return _touched_by(connection, "issue_label", rule, lambda body: rule in body.get("rules", ()))


def cured_pieces(connection: Connection) -> Iterator[LotRow]:
    """Yield every piece that something was put on."""
    rows = select(lots.c.id, lots.c.known).where(lots.c.kind == "piece", lots.c.known.contains('"put_on":')).order_by(lots.c.id)
    for row in connection.execute(rows):
        yield LotRow(row.id, lot_from(row.known))


def last_cleaned(connection: Connection, thing: str, before: str | None) -> str | None:
    """Return the instant at which a thing was last cleaned, before an instant or at all; None where nobody wrote one down."""
    cleanings = (
        select(func.max(timeline.c.at))
        .join(effective, effective.c.fact == timeline.c.fact)
        .where(timeline.c.subject == f"watch/{card_key(thing)}", effective.c.kind == "clean")
    )
    return connection.execute(cleanings.where(timeline.c.at < before) if before else cleanings).scalar()


def _touched_by(connection: Connection, kind: str, word: str, fits: Callable[[Any], bool]) -> list[int]:
    """The lots in whose record a fact of a kind stands whose body fits; the word narrows what has to be read."""
    rows = connection.execute(
        select(effective.c.fact, effective.c.body).where(
            effective.c.kind == kind, effective.c.body.contains(word, autoescape=True)
        )
    )
    numbers = [row.fact for row in rows if fits(json.loads(row.body))]
    subjects = select(timeline.c.subject).where(timeline.c.fact.in_(numbers), timeline.c.state.is_not(None)).distinct()
    codes = {str(subject).removeprefix("lot/") for subject in connection.execute(subjects).scalars()}
    mine = select(lots.c.id).where(lots.c.code.in_(codes), lots.c.kind.in_(("piece", "pack"))).order_by(lots.c.id)
    return list(connection.execute(mine).scalars())
