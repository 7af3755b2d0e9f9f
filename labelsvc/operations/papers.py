"""Papers that are not labels: the trace of a lot with its picture, and the document that goes with goods to a business."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

from labelsvc.errors import InputError
from labelsvc.exchange.paper import Box, Chain, Faces, Heading, Lines, Pairs, Paper, Rows, Said, draw_paper
from labelsvc.labels.draw import font_name
from labelsvc.ledger import flows, read
from labelsvc.ledger.database import Connection, Ledger
from labelsvc.ledger.read import LotRow
from labelsvc.operations.content import product_of, workshop_of
from labelsvc.operations.holders import reached_by
from labelsvc.operations.recording import zone_of
from labelsvc.operations.tracing import trace
from labelsvc.rules.load import rules_of
from labelsvc.trace.record_keeping import kept_until
from labelsvc.units import grams_text, plain, round_half_up


def drawn(paper: Paper) -> bytes:
    """Return a paper as a PDF, in the typefaces of the labels."""
    return draw_paper(paper, Faces(font_name("regular"), font_name("bold")))


def heading_of(connection: Connection, now: dt.datetime) -> dict[str, Any]:
    """Return what stands on every paper of the workshop: sender, day and size of the sheet."""
    workshop = workshop_of(connection)
    day = now.astimezone(zone_of(connection)).strftime("%Y-%m-%d %H:%M")
    return {"sender": f"{workshop.name}, {workshop.address}", "day": day, "is_letter": workshop.country == "US"}


def trace_paper(ledger: Ledger, text: str, now: dt.datetime) -> Paper:
    """Return the trace report of a lot: the chain as a picture, then every lot, who has it, and where the grams are.

    Args:
        ledger: where.
        text: a code, marker or number.
        now: the present.

    Raises:
        CodeError, NotFoundError: no such lot.
    """
    answer = trace(ledger, text)
    with ledger.reading() as connection:
        said = heading_of(connection, now)
        chain = _chain(connection, answer)
    lot = answer["lot"]
    return Paper(
        f"Trace of {lot['code']}",
        blocks=(
            Said(f"{lot['name']} ({lot['kind']}), {lot['state']}{', ' + lot['place'] if lot['place'] else ''}.", is_strong=True),
            chain,
            Heading("What it was made of"),
            _ways(answer["back"], "Nothing was recorded before it."),
            Heading("What it went into"),
            _ways(answer["forward"], "It went into nothing."),
            Heading("Who has it"),
            sales_rows(answer["sales"]),
            Heading("Where the grams went"),
            balance_rows(answer["balance"]),
        ),
        **said,
    )


def _ways(lots: Sequence[Mapping[str, Any]], empty: str) -> Rows:
    rows = [
        (one["code"], one["name"], one["supplier"] or "", one["born"], str(one["steps"]), grams(one["grams"]), one["state"])
        for one in lots
    ]
    return Rows(("Lot", "What", "Supplier", "Began", "Steps", "Shared, g", "Now"), rows, (4, 5), empty)


def sales_rows(sales: Sequence[Mapping[str, Any]]) -> Rows:
    """Return who got what, as a table."""
    rows = [
        (one["date"], one["code"], one["how"], one["name"], one["document"] or "", one["because"], grams(one["grams"]))
        for one in sales
    ]
    return Rows(("Day", "Pack", "How", "Who", "Document", "Because", "g"), rows, (6,), "Nobody: nothing of it left the workshop.")


def balance_rows(balance: Mapping[str, Any]) -> Rows:
    """Return where the grams went, with what is not explained."""
    out = [(where, grams(amount)) for where, amount in balance["out"].items()]
    return Rows(("", "g"), [("In", grams(balance["in"])), *out, ("Not explained", grams(balance["difference"]))], (1,))


def grams(text: str) -> str:
    """Return grams as a paper shows them: to a tenth."""
    return plain(round_half_up(Decimal(text), 1))


def _chain(connection: Connection, answer: Mapping[str, Any]) -> Chain:
    """The chain as boxes: packs of one printed lot together, and those who have them at the end."""
    asked = read.units_of(connection, read.find(connection, answer["lot"]["code"]))
    numbers = [row.number for row in asked]
    links = {*flows.links_back(connection, numbers), *flows.links_forward(connection, numbers)}
    rows = {row.number: row for row in read.lots_of(connection, {n for link in links for n in link[:2]} | set(numbers))}
    columns = {one["code"]: -one["steps"] for one in answer["back"]} | {one["code"]: one["steps"] for one in answer["forward"]}
    groups: dict[str, list[LotRow]] = {}
    for row in rows.values():
        if row.code in columns or row.number in numbers:
            groups.setdefault(_key(row), []).append(row)
    boxes = [_box(key, members, columns) for key, members in groups.items()]
    last = max((box.column for box in boxes), default=0) + 1
    holders = dict.fromkeys(one["name"] for one in answer["sales"] if one["because"] == "this lot")
    boxes += [Box(f"who {name}", name, (), last) for name in holders]
    lines = [(_key(rows[link.giver]), _key(rows[link.receiver])) for link in sorted(links)]
    lines += [(one["code"].partition("/")[0], f"who {one['name']}") for one in answer["sales"] if one["name"] in holders]
    return Chain(boxes, lines)


def _key(row: LotRow) -> str:
    return row.code.partition("/")[0]


def _box(key: str, members: Sequence[LotRow], columns: Mapping[str, int]) -> Box:
    first = members[0].state
    count = f"{len(members)} packs, " if len(members) > 1 else ""
    weight = grams(grams_text(sum(row.state.made_milligrams for row in members)))
    origin = (f"from {first.supplier}",) if first.supplier and first.kind != "piece" else ()
    return Box(key, key, (first.name, *origin, f"{count}{weight} g, {first.born.isoformat()}"), columns.get(members[0].code, 0))


# --- goods to a business ---------------------------------------------------------------------------------------------
def dispatch_paper(
    ledger: Ledger, customer: str, now: dt.datetime, *, document: str | None = None, day: dt.date | None = None
) -> Paper:
    """Return the document that goes with goods of animal origin to a business: the eight items of Regulation (EU) 931/2011.

    The US items of 9 CFR 320.1 stand on it too; what nobody has told us (carrier, method) is a line to be filled in.

    Args:
        ledger: where.
        customer: who gets it.
        now: the present.
        document: the delivery note it was sold under; else all that was sold to them on a day.
        day: the day; today where neither is given.

    Raises:
        InputError: nothing was sold to them like that.
    """
    with ledger.reading() as connection:
        on = day or (None if document else now.astimezone(zone_of(connection)).date())
        went = flows.every_handing_over(connection, name=customer, days=(on, on) if on else None)
        rows = [row for row in went if row.kind == "customer" and row.milligrams > 0 and document in (None, row.document)]
        if not rows:
            asked = f"document {document}" if document else str(on)
            raise InputError("customer", "someone to whom something was sold", f"{customer}, {asked}: nothing")
        lots = {row.number: row for row in read.lots_of(connection, {row.lot for row in rows})}
        said, workshop = heading_of(connection, now), workshop_of(connection)
        receiver = reached_by(connection, rows[0].name)
        lines = _by_lot(connection, rows, lots)
    total = grams(grams_text(sum(row.milligrams for row in rows)))
    us = (Heading("For the United States"), Lines(("Method of shipment", "Carrier")), _kept(str(rows[-1].day)))
    return Paper(
        f"Dispatch {document or rows[0].day}",
        blocks=(
            Pairs((
                ("Dispatched by", _party(workshop.name, workshop.address, workshop.approval_number)),
                ("Owner, if another", "the same"),
                ("Received by", _party(str(receiver["name"]), receiver["address"], None)),
                ("Consignee, if another", "the same"),
                ("Day of dispatch", ", ".join(dict.fromkeys(row.day for row in rows))),
                ("Document", document or ", ".join(_documents(rows)) or "none"),
            )),
            Heading("What"),
            Rows(("Description", "Lot", "Best before", "Packs", "Net weight, g"), lines, (3, 4)),
            Said(f"{len(rows)} packs (outside containers: as packed), {total} g net.", is_strong=True),
            *(us if said["is_letter"] else ()),
        ),
        **said,
    )  # fmt: skip


def _kept(day: str) -> Said:
    """How long the workshop keeps the record of this dispatch, by the law of its day."""
    transaction = dt.date.fromisoformat(day)
    rule = rules_of("us", transaction).get("us.records.kept")
    if rule is None:
        return Said("How long this record is kept is unchecked: we have no rule for its day.")
    return Said(f"Keep this record until {kept_until(transaction, rule)} ({rule.citation}).")


def _by_lot(connection: Connection, rows: Sequence[Any], lots: Mapping[int, LotRow]) -> list[tuple[str, ...]]:
    grouped: dict[str, list[Any]] = {}
    for row in rows:
        grouped.setdefault(row.account.partition("/")[0], []).append(row)
    return [_line(connection, code, members, lots[members[0].lot]) for code, members in grouped.items()]


def _line(connection: Connection, code: str, members: Sequence[Any], lot: LotRow) -> tuple[str, ...]:
    product = product_of(connection, lot.state)
    name = product.food_name or product.name
    description = f"{name}; {product.species}, {product.cut}; {'ready to eat' if product.eaten == 'as_is' else 'to be cooked'}"
    best = lot.state.best_before.isoformat() if lot.state.best_before else ""
    return description, code, best, str(len(members)), grams(grams_text(sum(row.milligrams for row in members)))


def _documents(rows: Sequence[Any]) -> list[str]:
    return list(dict.fromkeys(row.document for row in rows if row.document))


def _party(name: str, address: str | None, approval: str | None) -> str:
    return ", ".join(part for part in (name, address, f"approval number {approval}" if approval else None) if part)
