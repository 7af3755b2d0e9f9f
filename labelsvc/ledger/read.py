"""Reads the projections: lots, walks along the links, contacts, postings. Rows out; what they mean is for ``trace``."""

from __future__ import annotations

import json
from collections.abc import Collection, Iterable, Sequence
from typing import Any, NamedTuple, cast

import msgspec
from sqlalchemy import (
    ColumnElement,
    Connection,
    Row,
    Select,
    and_,
    bindparam,
    func,
    or_,
    select,
)

from labelsvc.codes.lot_code import LotCode
from labelsvc.codes.near import near_codes
from labelsvc.errors import CodeError, InputError, NotFoundError
from labelsvc.ledger.among import among, among_given
from labelsvc.ledger.asof import lot_from
from labelsvc.ledger.derive.bench import alias_key, card_key, card_subject, reserved_subject
from labelsvc.ledger.derive.lookup import FREE
from labelsvc.ledger.state import LotState
from labelsvc.ledger.tables import aliases, contacts, effective, facts, links, lots, timeline

_NEAREST = 3  # codes that a hint names
_BY_NUMBER = select(lots.c.id, lots.c.known).where(among_given(lots.c.id, "numbers")).order_by(lots.c.id)
_SHOWN = (
    select(lots.c.id, lots.c.milligrams, lots.c.made_milligrams, lots.c.came_in, lots.c.shown)
    .where(among_given(lots.c.id, "numbers"))
    .order_by(lots.c.id)
)
_IS_UNIT = or_(lots.c.kind != "pack", lots.c.code.contains("/"))  # of a pack lot its packs stand for it
_MINE = and_(among_given(lots.c.id, "numbers"), _IS_UNIT)
_STANDINGS = (
    select(lots.c.kind, lots.c.state, func.count().label("lots"), func.sum(lots.c.milligrams).label("milligrams"))
    .where(_MINE)
    .group_by(lots.c.kind, lots.c.state)
    .order_by(lots.c.kind, lots.c.state)
)
_IN_HAND = select(lots.c.code).where(_MINE, lots.c.milligrams > 0, lots.c.state != "held").order_by(lots.c.id)
_decode = msgspec.json.Decoder().decode
_BY_CODE = select(lots.c.id, lots.c.known).where(lots.c.code == bindparam("code"))
_CARDS = (
    select(timeline.c.subject, timeline.c.state)
    .where(among_given(timeline.c.subject, "subjects"), timeline.c.state.is_not(None))
    .order_by(timeline.c.at, timeline.c.fact)
)
END_OF_TIME = ("9999", 2**62)  # a position after every fact


class ShownRow(NamedTuple):
    """What an answer shows of a lot, by its number: the quick way where there may be thousands."""

    number: int
    milligrams: int
    made_milligrams: int
    came_in: int
    shown: dict[str, Any]

    @property
    def code(self) -> str:
        """Its code."""
        return str(self.shown["code"])

    @property
    def kind(self) -> str:
        """Animal, part, ingredient, piece or pack."""
        return str(self.shown["kind"])

    @property
    def whereabouts(self) -> str:
        """Its state."""
        return str(self.shown["state"])


class LotRow(NamedTuple):
    """A lot as it stands now, by its number."""

    number: int
    state: LotState

    @property
    def code(self) -> str:
        """Its code."""
        return self.state.code

    @property
    def kind(self) -> str:
        """Animal, part, ingredient, piece or pack."""
        return self.state.kind

    @property
    def whereabouts(self) -> str:
        """Its state."""
        return self.state.whereabouts

    @property
    def milligrams(self) -> int:
        """What is left of it."""
        return self.state.milligrams


def find(connection: Connection, text: str, field: str = "code") -> LotRow:
    """Return the lot that a code, marker, ear tag or supplier's number leads to.

    Raises:
        CodeError: no well-formed code and no such number.
        NotFoundError: a well-formed code that was never given out.
        InputError: the number leads to several lots.
    """
    try:
        code = str(LotCode.parse(text, field))
    except CodeError as error:
        code = _alias(connection, text, field, error)
    row = connection.execute(_BY_CODE, {"code": code}).first()
    if row is None:  # a tag printed ahead that was hung on it
        named = select(aliases.c.lot).where(aliases.c.alias == alias_key(code))
        row = connection.execute(select(lots.c.id, lots.c.known).where(lots.c.id.in_(named))).first()
    if row is None:
        hint = near_hint(connection, text)
        raise NotFoundError(field, "the code of a lot", text, f"No such lot: read the code again.{hint and f' {hint}'}")
    return LotRow(row.id, lot_from(row.known))


def _alias(connection: Connection, text: str, field: str, error: CodeError) -> str:
    named = select(aliases.c.lot).where(aliases.c.alias == alias_key(text))
    codes = list(connection.execute(select(lots.c.code).where(lots.c.id.in_(named)).order_by(lots.c.id)).scalars())
    if not codes:
        hint = " ".join(part for part in (error.hint, near_hint(connection, text)) if part)
        raise CodeError(error.field, error.expected, error.got, hint)
    if len(codes) > 1:
        raise InputError(field, "a code or number that leads to one lot", f"{text}, which leads to {', '.join(codes)}")
    return cast(str, codes[0])


def near_hint(connection: Connection, text: str) -> str:
    """Return the codes that are there and one slip of the hand from what was typed, as a hint; nothing where there are none."""
    near = near_codes(text)
    there = set(connection.execute(select(lots.c.code).where(lots.c.code.in_(near))).scalars()) if near else set()
    return f"Near it: {', '.join([code for code in near if code in there][:_NEAREST])}." if there else ""


def units_of(connection: Connection, lot: LotRow) -> list[LotRow]:
    """Return the packs of a pack lot in order; of any other lot just itself."""
    if not lot.state.units:
        return [lot]
    codes = [f"{lot.code}/{number}" for number in range(1, lot.state.units + 1)]
    found = {
        row.code: LotRow(row.id, lot_from(row.known)) for row in connection.execute(lot_rows().where(among(lots.c.code, codes)))
    }
    return [found[code] for code in codes]


def lots_of(connection: Connection, numbers: Collection[int]) -> list[LotRow]:
    """Return lots by number, oldest first."""
    return [LotRow(number, lot_from(known)) for number, known in connection.execute(_BY_NUMBER, {"numbers": numbers}).all()]


def shown(connection: Connection, numbers: Collection[int]) -> dict[int, ShownRow]:
    """Return what an answer shows of lots, by number, oldest first; of a pack lot its packs stand for it, so it is left out."""
    rows = connection.execute(_SHOWN, {"numbers": numbers}).all() if numbers else ()
    found = {}
    for number, milligrams, made_milligrams, came_in, text in rows:
        known = _decode(text)
        if known["kind"] != "pack" or "/" in known["code"]:
            found[number] = ShownRow(number, milligrams, made_milligrams, came_in, known)
    return found


def standings_of(connection: Connection, numbers: Collection[int]) -> Sequence[Row[Any]]:
    """Return how many of some lots are of which kind in which state, and the milligrams left of them; pack lots left out."""
    return connection.execute(_STANDINGS, {"numbers": numbers}).all() if numbers else ()


def codes_in_hand(connection: Connection, numbers: Collection[int]) -> list[str]:
    """Return the codes of those of some lots that are here and not held, oldest first."""
    return list(connection.execute(_IN_HAND, {"numbers": numbers}).scalars()) if numbers else []


def lot_rows() -> Select[Any]:
    """Return the question for lots as they stand: number, code and what is known of each."""
    return select(lots.c.id, lots.c.code, lots.c.known)


def matching(
    connection: Connection,
    *,
    supplier: str | None = None,
    ingredient: str | None = None,
    begins: str | None = None,
    ends: str | None = None,
    place: str | None = None,
) -> list[int]:
    """Return the numbers of the lots that a suspicion names.

    Args:
        connection: where to look.
        supplier: lots received from that supplier.
        ingredient: lots of that ingredient.
        begins: together with a supplier or ingredient, lots received at or after that instant; else lots that came into being.
        ends: before that instant.
        place: lots that were in that room, tub or session (within begins and ends).
    """
    wanted: list[ColumnElement[bool]] = []
    if supplier is not None:
        wanted.append(lots.c.supplier_key == card_key(supplier))
    if ingredient is not None:
        wanted.append(lots.c.ingredient_key == card_key(ingredient))
    if place is not None:
        wanted.append(lots.c.id.in_(_was_at(place, begins, ends)))
    else:
        wanted += [lots.c.began_at >= begins] if begins else []
        wanted += [lots.c.began_at < ends] if ends else []
    return list(connection.execute(select(lots.c.id).where(*wanted).order_by(lots.c.id)).scalars())


def _was_at(place: str, begins: str | None, ends: str | None) -> Select[Any]:
    there: list[ColumnElement[bool]] = [contacts.c.thing == card_key(place)]
    if begins:
        there.append(or_(contacts.c.ends.is_(None), contacts.c.ends >= begins))
    if ends:
        there.append(contacts.c.begins < ends)
    return select(contacts.c.lot).where(*there)


def history(connection: Connection, code: str) -> list[Row[Any]]:
    """Return the facts that touched a lot, in time order: fact, kind, at, day, body, corrected_by, issues, state after."""
    rows = (
        select(
            effective.c.fact, effective.c.kind, effective.c.at, effective.c.day, effective.c.body, effective.c.corrected_by,
            effective.c.issues, timeline.c.state, facts.c.recorded_by,
        )
        .join(timeline, timeline.c.fact == effective.c.fact)
        .join(facts, facts.c.seq == effective.c.fact)
        .where(timeline.c.subject == f"lot/{code}")
        .order_by(effective.c.at, effective.c.fact)
    )  # fmt: skip
    return list(connection.execute(rows))


def changed_by(connection: Connection, fact: int) -> list[LotRow]:
    """Return the lots that a fact changed, as they stand now, oldest first."""
    subjects = select(timeline.c.subject).where(timeline.c.fact == fact, timeline.c.state.is_not(None))
    codes = [one.removeprefix("lot/") for one in connection.execute(subjects).scalars() if one.startswith("lot/")]
    rows = connection.execute(lot_rows().where(among(lots.c.code, codes)).order_by(lots.c.id))
    return [LotRow(row.id, lot_from(row.known)) for row in rows]


def incidents_among(connection: Connection, numbers: Collection[int]) -> list[tuple[int, str]]:
    """Return those of some facts that are incidents, each with what happened, newest first."""
    mine = and_(among(effective.c.fact, numbers), effective.c.kind == "incident", effective.c.body.is_not(None))
    rows = connection.execute(select(effective.c.fact, effective.c.body).where(mine).order_by(effective.c.fact.desc()))
    return [(row.fact, str(json.loads(row.body)["what"])) for row in rows]


def cared_for(connection: Connection, number: int) -> list[Row[Any]]:
    """Return the turnings, cleanings and incidents at the places where a lot was while it was there, in time order.

    Returns:
        Rows of fact, kind, at, day, body, corrected_by, issues and recorded_by, as ``history`` has them.
    """
    where = timeline.c.subject == "watch/" + contacts.c.thing
    meanwhile = and_(timeline.c.at >= contacts.c.begins, or_(contacts.c.ends.is_(None), timeline.c.at <= contacts.c.ends))
    rows = (
        select(
            effective.c.fact, effective.c.kind, effective.c.at, effective.c.day, effective.c.body, effective.c.corrected_by,
            effective.c.issues, facts.c.recorded_by,
        )
        .join(timeline, timeline.c.fact == effective.c.fact)
        .join(facts, facts.c.seq == effective.c.fact)
        .join(contacts, and_(where, meanwhile))
        .where(contacts.c.lot == number, effective.c.kind.in_(("turn", "clean")))
        .distinct()
        .order_by(effective.c.at, effective.c.fact)
    )  # fmt: skip
    return list(connection.execute(rows))


def went_into(connection: Connection, numbers: Collection[int]) -> list[tuple[LotRow, int]]:
    """Return the lots that some lots went into directly, with the milligrams, oldest first."""
    rows = (
        select(lots.c.id, lots.c.known, func.sum(links.c.milligrams))
        .join(links, links.c.receiver == lots.c.id)
        .where(among(links.c.giver, numbers))
        .group_by(lots.c.id, lots.c.known)
        .order_by(lots.c.id)
    )
    return [(LotRow(number, lot_from(known)), int(milligrams)) for number, known, milligrams in connection.execute(rows)]


def here(connection: Connection) -> list[LotRow]:
    """Return the lots that are in the workshop now: something is left of them; pack lots left out, their packs are there."""
    rows = connection.execute(lot_rows().where(lots.c.milligrams > 0).order_by(lots.c.state, lots.c.id))
    return [LotRow(row.id, lot_from(row.known)) for row in rows]


def first_fact(connection: Connection, kind: str, name: str) -> int:
    """Return the number of the fact that first described a card: it never changes, so it serves as the card's own number."""
    described = select(func.min(timeline.c.fact)).where(
        timeline.c.subject == card_subject(kind, name), timeline.c.state.is_not(None)
    )
    return int(connection.execute(described).scalar_one())


def last_before(connection: Connection, begins: str, ends: str) -> str | None:
    """Return the instant of the last fact from one instant on and before another, or None."""
    there = select(func.max(effective.c.at)).where(effective.c.at >= begins, effective.c.at < ends)
    return connection.execute(there).scalar()


def ingredient_names(connection: Connection) -> list[str]:
    """Return the names of the ingredients of which there are or were lots."""
    rows = select(lots.c.ingredient_key).where(lots.c.ingredient_key.is_not(None)).distinct().order_by(lots.c.ingredient_key)
    return list(connection.execute(rows).scalars())


def free_markers(connection: Connection, most: int) -> list[str]:
    """Return codes printed ahead that no lot has yet: those printed last, in their order."""
    subject = reserved_subject("")
    reserved = func.substr(timeline.c.subject, len(subject) + 1)
    mine = and_(timeline.c.subject >= subject, timeline.c.subject < reserved_subject(chr(0x7E)), timeline.c.state.is_not(None))
    again = timeline.alias()
    is_hung = select(again.c.fact).where(again.c.subject == timeline.c.subject, again.c.state != FREE).exists()
    is_free = ~select(lots.c.id).where(lots.c.code == reserved).exists() & ~is_hung
    rows = select(reserved).where(mine, is_free).order_by(timeline.c.subject.desc()).limit(most)
    return sorted(connection.execute(rows).scalars())


def lots_before(connection: Connection, kind: str, name: str) -> list[LotState]:
    """Return the last pieces, or packs, of a product, newest first, at most 50, looked for among the last 20,000 lots."""
    newest = select(func.max(lots.c.id)).scalar_subquery()
    mine = and_(lots.c.id > newest - 20_000, lots.c.kind == kind, lots.c.name == name)
    rows = connection.execute(select(lots.c.known).where(mine).order_by(lots.c.id.desc()).limit(50)).scalars()
    return [lot_from(known) for known in rows]


def cards(connection: Connection, kind: str) -> list[dict[str, Any]]:
    """Return the cards of a kind (supplier, product ...) as they stand, by name."""
    after_slash = chr(ord("/") + 1)  # a range finds them by the index; LIKE would read the whole timeline
    mine = and_(timeline.c.subject >= f"{kind}/", timeline.c.subject < f"{kind}{after_slash}", timeline.c.state.is_not(None))
    rows = select(timeline.c.subject, timeline.c.state).where(mine).order_by(timeline.c.at, timeline.c.fact)
    last = {row.subject: json.loads(row.state) for row in connection.execute(rows)}
    return [last[subject] for subject in sorted(last)]


def cards_named(connection: Connection, kind: str, names: Iterable[str]) -> dict[str, dict[str, Any]]:
    """Return the cards of some names as they stand, by the key of the name; none for a name without a card."""
    by_subject = {card_subject(kind, name): card_key(name) for name in names}
    rows = connection.execute(_CARDS, {"subjects": list(by_subject)}).all() if by_subject else ()
    return {by_subject[subject]: _decode(state) for subject, state in rows}


def people(connection: Connection) -> list[str]:
    """Return the names of those who recorded facts."""
    rows = select(facts.c.recorded_by).where(facts.c.recorded_by != "").distinct().order_by(facts.c.recorded_by)
    return list(connection.execute(rows).scalars())
