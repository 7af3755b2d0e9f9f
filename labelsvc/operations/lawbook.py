"""The rules in force in a market on a day, each with how it is known, and the figures the workshop entered itself."""

from __future__ import annotations

import datetime as dt
from typing import Any

from labelsvc.ledger import read
from labelsvc.ledger.database import Ledger
from labelsvc.ledger.derive.bench import card_key
from labelsvc.rules.load import Rule, is_lacking, rule_of, rules_of
from labelsvc.units import plain


def rules_in_force(ledger: Ledger, market: str, on: dt.date, about: str = "") -> dict[str, Any]:
    """Return the rules of a market on a day.

    Args:
        ledger: where the workshop's own figures stand.
        market: eu, gb or us.
        on: the day.
        about: only rules in whose id or title these words occur; all if empty.

    Returns:
        ``{market, on, known: {read, quoted, unconfirmed}, rules: [...]}``; of each rule id, title, value, unit, expressed_as,
        basis, known, citation, source, condition, begins, until, may_be_entered, and own: ``{value, source, by}`` or None.

    Raises:
        InputError: a market we have no rules for.
    """
    rules = rules_of(market.lower(), on)
    with ledger.reading() as connection:
        own = {card_key(str(card["rule"])): card for card in read.cards(connection, "figure")}
    words = about.casefold().replace("_", " ").split()
    found = [_as_json(rule, own.get(card_key(rule.id))) for rule in rules.values() if _is_about(rule, words)]
    counts = {known: sum(one["known"] == known for one in found) for known in ("read", "quoted", "unconfirmed")}
    return {"market": rules.market, "on": on.isoformat(), "known": counts, "rules": found}


def _is_about(rule: Rule, words: list[str]) -> bool:
    said = f"{rule.id} {rule.title}".casefold().replace("_", " ")
    return all(word in said for word in words)


def _as_json(rule: Rule, own: dict[str, Any] | None) -> dict[str, Any]:
    is_own = own is not None and is_lacking(rule) and rule_of(rule.id) == rule
    return {
        "id": rule.id,
        "title": rule.title,
        "value": None if rule.value is None else plain(rule.value),
        "unit": rule.unit,
        "expressed_as": rule.expressed_as,
        "basis": rule.basis,
        "known": rule.known,
        "citation": rule.citation,
        "source": rule.source,
        "condition": rule.condition,
        "begins": rule.begins.isoformat(),
        "until": rule.until.isoformat() if rule.until else None,
        "may_be_entered": is_lacking(rule) and rule_of(rule.id) == rule,
        "own": {name: str(own[name]) for name in ("value", "source", "by")} if own and is_own else None,
    }
