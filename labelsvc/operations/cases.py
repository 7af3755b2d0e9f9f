"""Withdrawals, recalls and exercises as cases: what is affected, who was told, where the grams are, how far it has come."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any, cast

import msgspec

from labelsvc import facts
from labelsvc.errors import NotFoundError
from labelsvc.ledger import flows, read
from labelsvc.ledger.database import Connection, Ledger
from labelsvc.ledger.derive.bench import INSTANT, card_key
from labelsvc.ledger.follow_up import naming, numbered
from labelsvc.ledger.read import LotRow
from labelsvc.ledger.state import PUBLIC
from labelsvc.operations.holders import customers_of, others_of, reached_by, still_out
from labelsvc.operations.open_cases import open_cases, seeds_of
from labelsvc.operations.recalling import in_few_codes
from labelsvc.operations.recording import ENVELOPE, zone_of
from labelsvc.operations.tracing import balance_json
from labelsvc.operations.when import happened
from labelsvc.rules.load import MARKETS, Rule, rules_of
from labelsvc.units import Mass, grams_text, plain, round_half_up

_OUT = ("customer", "gift")  # ends that something may come back from


@dataclass(frozen=True)
class Step:
    """One fact of a case, as it stands."""

    fact: int
    kind: str
    at: dt.datetime
    by: str
    body: Mapping[str, Any]


@dataclass
class Holder:
    """Someone who got something of it: milligrams, and what is known of them since.

    Args:
        how: customer, gift, own use or sample.
        got: milligrams that were there when the case was opened, and since.
        back: of these, what came back since.
        destroyed: of these, what was destroyed there.
        secured_after: by the number of a fact: what came back or was destroyed by it, for an answer may be older.
        calls: when they were told, or not reached.
    """

    name: str
    how: str
    got: int = 0
    back: int = 0
    destroyed: int = 0
    secured_after: dict[int, int] = field(default_factory=dict)
    calls: list[Step] = field(default_factory=list)

    @property
    def state(self) -> str:
        """To call, not reached, or told."""
        if any(call.body.get("reached", True) for call in self.calls):
            return "told"
        return "not reached" if self.calls else "to call"

    @property
    def still_there(self) -> int | None:
        """Milligrams they said they still had, less what was secured since; None where they did not say."""
        said = [call for call in self.calls if call.body.get("still_had") is not None]
        if not said:
            return None
        since = sum(amount for fact, amount in self.secured_after.items() if fact > said[-1].fact)
        rest = self.got - self.back - self.destroyed
        return max(0, min(Mass.parse(said[-1].body["still_had"]).milligrams - since, rest))


def cases(ledger: Ledger, now: dt.datetime) -> list[dict[str, Any]]:
    """Return all cases, the open ones first, the newest first: case, what, reason, opened, closed, minutes.

    Args:
        ledger: where.
        now: the present.
    """
    with ledger.reading() as connection:
        found = [_head(connection, row, now) for row in reversed(numbered(connection, "open_case"))]
    return sorted(found, key=lambda case: case["closed"] is not None)


def case_of(ledger: Ledger, number: int, now: dt.datetime) -> dict[str, Any]:
    """Return everything known of a case.

    Args:
        ledger: where.
        number: of the fact that opened it.
        now: the present; the clock runs to it, or to the closing.

    Returns:
        The head as of ``cases``, and affected, to_hold, to_tell, published, authority_told, steps, balance, effectiveness.

    Raises:
        NotFoundError: no such case.
    """
    with ledger.reading() as connection:
        opened = next((row for row in numbered(connection, "open_case") if row.fact == number), None)
        if opened is None:
            raise NotFoundError("case", "the number of an opened case", str(number), "See: labelsvc case")
        steps = steps_of(connection, number)
        rows = affected_by(connection, opened, steps)
        holders = _holders(connection, rows, number, steps)
        return {
            **_head(connection, opened, now, steps),
            "affected": [row.state.shown() for row in rows.values()],
            "to_hold": [row.code for row in rows.values() if _is_here(row) and not row.state.is_held],
            "held": [row.code for row in rows.values() if _is_here(row) and row.state.is_held],
            "to_tell": _to_tell(connection, rows, holders),
            "told_besides": _told_besides(steps, holders),
            "packs": in_few_codes(connection, [row for row in rows.values() if row.state.kind == "pack"]),
            "published": in_few_codes(connection, [row for row in rows.values() if _is_published(row, number)]),
            "authority": _authority(connection, rows.values(), opened, now),
            "authority_told": [_step_json(step) for step in steps if step.body.get("what") == "authority_told"],
            "steps": [_step_json(step) for step in steps],
            "balance": balance_json(connection, rows),
            "effectiveness": _effectiveness(holders),
        }


def waiting_to_tell(connection: Connection, name: str) -> str | None:
    """Return the open withdrawal or recall, in words, in which someone is not told yet; None where there is none.

    Args:
        connection: where.
        name: of whoever bought it or was given it.
    """
    is_open = {case.number: case for case in open_cases(connection)}
    for opened in numbered(connection, "open_case") if is_open else ():
        if opened.fact in is_open:
            steps = steps_of(connection, opened.fact)
            holder = _holders(connection, affected_by(connection, opened, steps), opened.fact, steps).get(card_key(name))
            if holder is not None and holder.state != "told":
                return is_open[opened.fact].said
    return None


def steps_of(connection: Connection, number: int) -> list[Step]:
    """Return the facts that name a case, in time order, at times of the workshop."""
    zone = zone_of(connection)
    return [
        Step(row.fact, row.kind, _instant(row.at).astimezone(zone), row.recorded_by, _body(row))
        for row in naming(connection, "open_case", number)
    ]


def _body(row: Any) -> dict[str, Any]:
    """The checked fields of a fact: a no that was typed as a word is a no."""
    given = {name: value for name, value in json.loads(row.body).items() if name not in ENVELOPE}
    return dict(msgspec.to_builtins(facts.read(row.kind, given), enc_hook=str))


def affected_by(connection: Connection, opened: Any, steps: Sequence[Step]) -> dict[int, LotRow]:
    """Return the lots of a case as they stand now: those it names and all that was made of them, packs one by one."""
    named = list(json.loads(opened.body)["lots"])
    for step in steps:
        named += step.body["lots"] if step.body.get("what") == "wider" else []
    seeds = seeds_of(connection, named)
    numbers = seeds.union(link.receiver for link in flows.links_forward(connection, sorted(seeds)))
    return {row.number: row for row in read.lots_of(connection, sorted(numbers)) if not row.state.units}


def _head(connection: Connection, opened: Any, now: dt.datetime, steps: Sequence[Step] | None = None) -> dict[str, Any]:
    body = json.loads(opened.body)
    known = _known_since(connection, body.get("known_since"), _instant(opened.at))
    closing = [step for step in steps or steps_of(connection, opened.fact) if step.kind == "close_case"]
    end = closing[-1].at if closing else now
    zone = zone_of(connection)
    return {
        "case": opened.fact,
        "what": body["what"],
        "reason": body["reason"],
        "asked": body.get("asked"),
        "lots": list(body["lots"]),
        "known_since": known.astimezone(zone).isoformat(timespec="minutes"),
        "opened": {"at": _instant(opened.at).astimezone(zone).isoformat(timespec="minutes"), "by": opened.recorded_by},
        "closed": _closed_json(closing[-1]) if closing else None,
        "minutes": max(0, int((end - known).total_seconds() // 60)),
    }


def _authority(connection: Connection, rows: Iterable[LotRow], opened: Any, now: dt.datetime) -> list[dict[str, Any]]:
    """Return what the law of each market where packs of it were sold asks to tell, and until when where it sets a time."""
    known = _known_since(connection, json.loads(opened.body).get("known_since"), _instant(opened.at))
    zone = zone_of(connection)
    markets = sorted({row.state.market.lower() for row in rows if row.state.market})
    return [
        {
            "rule": rule.id,
            "title": rule.title,
            "citation": rule.citation,
            "known": rule.known,
            "until": _until(known, rule).astimezone(zone).isoformat(timespec="minutes") if rule.value is not None else None,
        }
        for market in markets
        if market in MARKETS
        for rule in rules_of(market, now.astimezone(zone).date()).values()
        if rule.subject == "recall"
    ]


def _until(known: dt.datetime, rule: Rule) -> dt.datetime:
    return known + dt.timedelta(hours=int(rule.value or 0))


def _closed_json(step: Step) -> dict[str, Any]:
    return {"at": step.at.isoformat(timespec="minutes"), "by": step.body.get("by") or step.by, "outcome": step.body["outcome"]}


def _known_since(connection: Connection, text: str | None, opened: dt.datetime) -> dt.datetime:
    return _instant(happened(text, opened, zone_of(connection))[0]) if text else opened


def _instant(text: str) -> dt.datetime:
    return dt.datetime.strptime(text, INSTANT).replace(tzinfo=dt.UTC)


def _is_published(row: LotRow, number: int) -> bool:
    return any(one.case == number for one in row.state.published)


def _is_here(row: LotRow) -> bool:
    return row.state.milligrams > 0 and row.state.holder is None


def _holders(connection: Connection, rows: Mapping[int, LotRow], number: int, steps: Sequence[Step]) -> dict[str, Holder]:
    """Return who got something of it, by the key of their name; what had come back before the case counts for nothing."""
    found: dict[str, Holder] = {}
    for row in flows.handed_over_of(connection, list(rows)):
        holder = found.setdefault(card_key(row.name), Holder(row.name, row.kind))
        if row.milligrams < 0 and row.fact > number:
            holder.back -= row.milligrams
            holder.secured_after[row.fact] = holder.secured_after.get(row.fact, 0) - row.milligrams
        else:
            holder.got += row.milligrams
    for step in steps:
        if step.kind == "tell" and card_key(step.body["customer"]) in found:
            found[card_key(step.body["customer"])].calls.append(step)
        elif step.body.get("what") == "destroyed_there":
            _destroyed_there(connection, found, step)
    return {key: holder for key, holder in found.items() if holder.got}


def _destroyed_there(connection: Connection, holders: Mapping[str, Holder], step: Step) -> None:
    for text in step.body["lots"]:
        for unit in read.units_of(connection, read.find(connection, text, "lots")):
            holder = holders.get(card_key(unit.state.holder or ""))
            if holder is not None:
                amount = unit.state.handed_over_milligrams
                holder.destroyed += amount
                holder.secured_after[step.fact] = holder.secured_after.get(step.fact, 0) + amount


def _to_tell(connection: Connection, rows: Mapping[int, LotRow], holders: Mapping[str, Holder]) -> list[dict[str, Any]]:
    """Return whom to call: those not told yet first, by name before the public and our own table, the most grams first."""
    out = still_out(connection, rows)
    what = {card_key(one["name"]): one for one in (*customers_of(connection, out), *others_of(out))}
    entries = [_entry(connection, holder, what.get(key, {})) for key, holder in holders.items()]
    order = ("to call", "not reached", "told")
    return sorted(entries, key=lambda one: (order.index(one["state"]), _rank(one), -Decimal(one["grams"]), one["name"]))


def _rank(entry: Mapping[str, Any]) -> int:
    """Those who can be called first, then whom only a notice reaches, then our own."""
    return 2 if entry["how"] not in _OUT else 1 if entry["name"] == PUBLIC.name else 0


def _entry(connection: Connection, holder: Holder, known: Mapping[str, Any]) -> dict[str, Any]:
    still = holder.still_there
    return {
        **reached_by(connection, holder.name),
        "how": holder.how,
        "state": holder.state,
        "grams": grams_text(holder.got),
        "back": grams_text(holder.back),
        "destroyed_there": grams_text(holder.destroyed),
        "still_there": None if still is None else grams_text(still),
        "packs": known.get("packs", []),
        "dates": known.get("dates", []),
        "documents": known.get("documents", []),
        "calls": [_step_json(call) for call in holder.calls],
    }


def _told_besides(steps: Sequence[Step], holders: Mapping[str, Holder]) -> list[str]:
    """Return names that were told although nothing of it went to them: perhaps a slip of the pen."""
    named = [str(step.body["customer"]) for step in steps if step.kind == "tell"]
    return list(dict.fromkeys(name for name in named if card_key(name) not in holders))


def _effectiveness(holders: Mapping[str, Holder]) -> dict[str, Any]:
    """Return how far it has come: people told of those to be told, and where the grams are that had left.

    What someone got and no longer has, by their own words, is used or sold on; what nobody has said is not known.
    """
    returnable = [holder for holder in holders.values() if holder.how in _OUT]
    sums = dict.fromkeys(("out", "back", "destroyed_there", "still_there", "used_or_sold_on", "not_known"), 0)
    for holder in returnable:
        rest = holder.got - holder.back - holder.destroyed
        still = holder.still_there
        sums["out"] += holder.got
        sums["back"] += holder.back
        sums["destroyed_there"] += holder.destroyed
        sums["still_there"] += still or 0
        sums["used_or_sold_on" if still is not None else "not_known"] += rest - (still or 0)
    told = sum(holder.state == "told" for holder in holders.values())
    return {
        "to_tell": len(holders),
        "told": told,
        "told_percent": _percent(told, len(holders)),
        **{name: grams_text(milligrams) for name, milligrams in sums.items()},
        "accounted_percent": _percent(sums["out"] - sums["not_known"], sums["out"]),
        "secured_percent": _percent(sums["back"] + sums["destroyed_there"], sums["out"]),
    }


def _percent(part: int, whole: int) -> str | None:
    return plain(round_half_up(Decimal(part) * 100 / Decimal(whole), 1)) if whole else None


def _step_json(step: Step) -> dict[str, Any]:
    said = {name: value for name, value in step.body.items() if name != "case"}
    by = cast(str, step.body.get("by") or step.by)
    return {"fact": step.fact, "kind": step.kind, "at": step.at.isoformat(timespec="minutes"), **said, "by": by}
