"""Reads what a pack's label depends on beside its own mass: who was in a tub or on a machine before, and earlier packings."""

from __future__ import annotations

import json
from collections.abc import Collection
from typing import Any, NamedTuple

from sqlalchemy import ColumnElement, Connection, Select, and_, not_, or_, select, tuple_

from labelsvc.ledger.among import among
from labelsvc.ledger.derive.bench import card_key, card_subject, lot_subject, watch_subject
from labelsvc.ledger.read import END_OF_TIME
from labelsvc.ledger.tables import contacts, effective, links, lots, postings, timeline
from labelsvc.trace.balance import Line

THINGS = ("tub", "slicer", "machine")
_AT_ONCE, _LOOKS = 500, 4  # lots that are looked at together, and how often at most


class Stay(NamedTuple):
    """A stay in a tub, or a moment on a slicer or machine; it has no end while it lasts."""

    thing: str
    begins: str
    ends: str | None


def stays(connection: Connection, numbers: Collection[int]) -> list[Stay]:
    """Return the stays of some lots in tubs and on machines, each once, in time order."""
    mine = and_(contacts.c.lot.in_(numbers), contacts.c.kind.in_(THINGS))
    rows = select(contacts.c.thing, contacts.c.begins, contacts.c.ends).where(mine).distinct()
    return [Stay(*row) for row in connection.execute(rows.order_by(contacts.c.begins, contacts.c.thing))]


def stays_of(connection: Connection, codes: Collection[str]) -> tuple[list[int], list[Stay]]:
    """Return the numbers of the lots that have one of these codes, and their stays as ``stays`` does."""
    mine = and_(contacts.c.lot == lots.c.id, contacts.c.kind.in_(THINGS))
    rows = select(lots.c.id, contacts.c.thing, contacts.c.begins, contacts.c.ends).join(contacts, mine, isouter=True)
    found = connection.execute(rows.where(lots.c.code.in_(codes)).order_by(contacts.c.begins, contacts.c.thing)).all()
    stays = dict.fromkeys(Stay(row.thing, row.begins, row.ends) for row in found if row.thing is not None)
    return list(dict.fromkeys(row.id for row in found)), list(stays)


def last_allergen_clean(connection: Connection, thing: str, before: str) -> str:
    """Return when a thing was last cleaned free of allergens before an instant, or an empty text: never."""
    looked = and_(timeline.c.subject == watch_subject(thing), timeline.c.at <= before)
    cleaned = and_(effective.c.fact == timeline.c.fact, effective.c.kind == "clean", effective.c.body.is_not(None))
    rows = select(effective.c.at, effective.c.body).join(effective, cleaned).select_from(timeline).where(looked)
    for row in connection.execute(rows.order_by(effective.c.at.desc())):
        if json.loads(row.body)["allergen_clean"]:
            return str(row.at)
    return ""


def ingredients_at(
    connection: Connection, thing: str, since: str, until: str, own: Collection[int], wanted: Collection[str]
) -> set[str]:
    """Return which of some ingredients were in or on the other lots at a tub or machine between two instants.

    What lay there last is looked at first, and no further than until all are found. Those that the last few thousand lots had
    nothing of are then looked for from their own lots on: of most of these nothing was ever there.

    Args:
        connection: where.
        thing: the tub or machine.
        since: the first instant, such as that of its last cleaning; empty for ever.
        until: the last instant.
        own: numbers of the lots that do not count.
        wanted: the ingredients, by the keys of their names.
    """
    found: set[str] = set()
    for kind in THINGS:
        there = _were_at(kind, thing, since, until, own)
        newest = select(contacts.c.lot).where(there).order_by(contacts.c.begins.desc()).limit(_AT_ONCE)
        for place in range(_LOOKS):
            if found.issuperset(wanted):
                return found
            numbers = connection.execute(newest.offset(place * _AT_ONCE)).scalars().all()
            found |= _made_with(connection, numbers, wanted)
            if len(numbers) < _AT_ONCE:
                break
        else:
            found |= {key for key in wanted if key not in found and _got_to(connection, key, until, there)}
    return found


def _were_at(kind: str, thing: str, since: str, until: str, own: Collection[int]) -> ColumnElement[bool]:
    lasted = contacts.c.begins >= since  # a moment at a machine
    if kind == "tub":
        lasted = or_(contacts.c.ends.is_(None), contacts.c.ends >= since)
    here = and_(contacts.c.kind == kind, contacts.c.thing == card_key(thing), contacts.c.begins <= until)
    return and_(here, lasted, not_(among(contacts.c.lot, own)))


def _made_with(connection: Connection, numbers: Collection[int], wanted: Collection[str]) -> set[str]:
    start = select(lots.c.id).where(among(lots.c.id, numbers)).cte("behind", recursive=True)
    behind = start.union(select(links.c.giver).join(start, links.c.receiver == start.c.id))
    rows = select(lots.c.ingredient_key).join(behind, behind.c.id == lots.c.id).where(among(lots.c.ingredient_key, wanted))
    return set(connection.execute(rows.distinct()).scalars())


def _got_to(connection: Connection, ingredient: str, until: str, there: ColumnElement[bool]) -> bool:
    begun = and_(lots.c.ingredient_key == ingredient, lots.c.began_at <= until)
    start = select(lots.c.id).where(begun).cte("ahead", recursive=True)
    ahead = start.union(select(links.c.receiver).join(start, links.c.giver == start.c.id))
    rows = select(contacts.c.id).join(ahead, ahead.c.id == contacts.c.lot).where(there).limit(1)
    return connection.execute(rows).first() is not None


def pieces_packed_before(connection: Connection, product: str, position: tuple[str, int], most: int) -> list[int]:
    """Return the numbers of the pieces that the last packings of a product took from, up to one of them.

    Args:
        connection: where.
        product: its name.
        position: instant and number of the packing up to which they count, that one included.
        most: how many packings at most.
    """
    before = tuple_(timeline.c.at, timeline.c.fact) <= position
    packings = list(connection.execute(_packings(product, effective.c.fact).where(before).limit(most)).scalars())
    gave = and_(postings.c.fact.in_(packings), postings.c.kind == "piece", postings.c.milligrams < 0)
    return list(connection.execute(select(postings.c.lot).where(gave).distinct().order_by(postings.c.lot)).scalars())


def _packings(product: str, what: ColumnElement[Any]) -> Select[Any]:
    """The packings of a product, the last one first: read from there on, not all of them sorted."""
    is_pack = and_(effective.c.kind + "" == "pack", effective.c.body.is_not(None))  # of all packings few may be of this product
    rows = select(what).select_from(timeline).join(effective, and_(effective.c.fact == timeline.c.fact, is_pack))
    named = timeline.c.subject == card_subject("product", product)
    return rows.where(named).order_by(timeline.c.at.desc(), timeline.c.fact.desc())


def lines_until(connection: Connection, numbers: Collection[int], position: tuple[str, int]) -> list[Line]:
    """Return every posting of every flow that touches one of the lots, up to a fact and with it."""
    touched = select(postings.c.fact, postings.c.flow).where(postings.c.lot.in_(numbers)).distinct().subquery()
    rows = (
        select(postings.c.fact, postings.c.flow, postings.c.kind, postings.c.lot, postings.c.milligrams)
        .join(touched, and_(postings.c.fact == touched.c.fact, postings.c.flow == touched.c.flow))
        .join(effective, effective.c.fact == postings.c.fact)
        .where(tuple_(effective.c.at, effective.c.fact) <= position)
    )
    return [Line(*row) for row in connection.execute(rows)]


def last_pack_lot(connection: Connection, product: str) -> str | None:
    """Return the code of the pack lot that a product was last packed into, or None where there is none."""
    codes = connection.execute(_packings(product, effective.c.codes).limit(1)).scalar()
    return None if codes is None else str(json.loads(codes)[0])


def gave_to(connection: Connection, number: int) -> list[int]:
    """Return the numbers of the lots that went into a lot directly."""
    return list(connection.execute(select(links.c.giver).where(links.c.receiver == number).distinct()).scalars())


def packing_of(connection: Connection, code: str) -> tuple[str, int]:
    """Return the position in time of the packing that made a pack."""
    rows = (
        select(effective.c.at, effective.c.fact)
        .join(timeline, timeline.c.fact == effective.c.fact)
        .where(timeline.c.subject == lot_subject(code), effective.c.kind == "pack", effective.c.body.is_not(None))
    )
    row = connection.execute(rows.order_by(effective.c.at, effective.c.fact)).first()
    return (row.at, row.fact) if row else END_OF_TIME


def numbers_of(connection: Connection, codes: Collection[str]) -> dict[str, int]:
    """Return the numbers of lots by their codes; none for a code that was never given out."""
    rows = select(lots.c.code, lots.c.id).where(among(lots.c.code, codes))
    return {code: number for code, number in connection.execute(rows).all()}
