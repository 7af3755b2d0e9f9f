"""Reads the rule files: TOML entries of one market become a frozen set of the rules in force on a day.

An entry without title, known, begins or citation is refused, and so are two entries of one id whose times overlap.
A repealed rule gets an ``until`` date; it is never deleted, so that an old label can still be explained.
"""

from __future__ import annotations

import datetime as dt
import tomllib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from decimal import Decimal
from functools import cache
from importlib import resources
from types import MappingProxyType
from typing import Any, get_args

from labelsvc.errors import InputError
from labelsvc.rules.finding import Finding, Known, Severity

MARKETS = ("eu", "gb", "us")
PRACTICE = "practice"  # beside the markets: what warns or asks wherever the goods are sold, and never stops
_REQUIRED = ("id", "title", "known", "begins", "citation")
_OPTIONAL = ("until", "value", "unit", "expressed_as", "basis", "subject", "severity", "condition", "source", "table")


@dataclass(frozen=True)
class Rule:
    """One figure or wording of the law in force between two days.

    Args:
        id: for example ``eu.nitrite.non_heat_treated``; one id may have several entries with times that do not overlap.
        title: what it says, in a few plain words.
        known: read, quoted or unconfirmed.
        begins: first day in force.
        citation: instrument, article, edition.
        until: first day no longer in force, or None.
        value: the figure, exact, or None.
        unit: of the value.
        expressed_as: the substance of the figure.
        basis: what the figure is per.
        subject: what the figure limits (``nitrite`` ...), for look-up.
        severity: what exceeding it does when it is read or quoted; an unconfirmed rule never stops.
        condition: when it applies, in words.
        source: where we read it.
        table: rows where the rule is more than one figure.
    """

    id: str
    title: str
    known: Known
    begins: dt.date
    citation: str
    until: dt.date | None = None
    value: Decimal | None = None
    unit: str | None = None
    expressed_as: str | None = None
    basis: str | None = None
    subject: str | None = None
    severity: Severity = "stop"
    condition: str = ""
    source: str = ""
    table: tuple[Mapping[str, Any], ...] = field(default=())

    def is_in_force(self, on: dt.date) -> bool:
        """Tell whether the rule applies on a day: from ``begins``, before ``until``."""
        return self.begins <= on and (self.until is None or on < self.until)

    def entered(self, value: Decimal, source: str) -> Rule:
        """Return the rule with a figure that the workshop entered from a source: quoted, as any figure at second hand."""
        return replace(self, value=value, known="quoted", citation=f"{self.citation}; figure entered here from: {source}")

    def found(self, found: str | None, message: str, *, exceeded: bool, severity: Severity | None = None) -> Finding:
        """Return the finding of this rule for one value; an unconfirmed rule is at most a warning."""
        level = severity or self.severity
        if self.known == "unconfirmed" and level == "stop":
            level = "warn"
        limit = None if self.value is None else f"{self.value:f}"
        return Finding(
            self.id, level, exceeded, limit, found, self.unit, self.expressed_as, self.basis, self.known, self.citation, message
        )


class RuleSet(Mapping[str, Rule]):
    """The rules of one market in force on one day, by id."""

    def __init__(self, market: str, on: dt.date, rules: Iterable[Rule]) -> None:
        self.market = market
        self.on = on
        self._rules = MappingProxyType({rule.id: rule for rule in rules})

    def __getitem__(self, rule_id: str) -> Rule:
        return self._rules[rule_id]

    def __iter__(self) -> Iterator[str]:
        return iter(self._rules)

    def __len__(self) -> int:
        return len(self._rules)


def rules_of(market: str, on: dt.date) -> RuleSet:
    """Return the rules of a market in force on a day.

    Args:
        market: ``eu``, ``gb`` or ``us``, or ``PRACTICE``.
        on: the day.

    Raises:
        InputError: a market we have no rules for.
    """
    return RuleSet(market, on, (rule for rule in all_rules(market) if rule.is_in_force(on)))


@cache
def all_rules(market: str) -> tuple[Rule, ...]:
    """Return every rule of a market, past and future ones too, in file order.

    Raises:
        InputError: a market we have no rules for.
    """
    if market not in (*MARKETS, PRACTICE):
        raise InputError("market", f"one of {', '.join(MARKETS)}", market, "For any other market no legal check is made.")
    folder = resources.files("labelsvc.rules") / market
    entries: list[Rule] = []
    for file in sorted(folder.iterdir(), key=lambda item: item.name):
        if file.name.endswith(".toml"):
            text = file.read_text(encoding="utf-8")
            entries += parse_rules(text, f"{market}/{file.name}")
    _refuse_overlaps(entries, market)
    return tuple(entries)


def parse_rules(text: str, file: str) -> list[Rule]:
    """Return the rules of one TOML text with its ``[[rule]]`` entries.

    Raises:
        InputError: a key is missing or unknown; the message names file, entry and key.
    """
    return [_rule(entry, file) for entry in tomllib.loads(text, parse_float=Decimal).get("rule", [])]


def _rule(entry: Mapping[str, Any], file: str) -> Rule:
    name = f"{file} {entry.get('id', 'rule without id')}"
    for key in _REQUIRED:
        if not entry.get(key):
            raise InputError(name, f"the key {key}", "none")
    unknown = sorted(set(entry) - set(_REQUIRED) - set(_OPTIONAL))
    if unknown:
        raise InputError(name, f"only the keys {', '.join(_REQUIRED + _OPTIONAL)}", ", ".join(unknown))
    if entry["known"] not in get_args(Known):
        raise InputError(f"{name} known", " or ".join(get_args(Known)), entry["known"])
    values = dict(entry)
    if "value" in values:
        values["value"] = Decimal(str(values["value"]))
    if "table" in values:
        values["table"] = tuple(MappingProxyType(row) for row in values["table"])
    return Rule(**values)


def _refuse_overlaps(entries: list[Rule], market: str) -> None:
    for position, rule in enumerate(entries):
        for other in entries[position + 1 :]:
            if rule.id == other.id and rule.begins < (other.until or dt.date.max) and other.begins < (rule.until or dt.date.max):
                raise InputError(f"{market} {rule.id}", "entries whose times do not overlap", f"{rule.begins} and {other.begins}")


def rule_of(rule_id: str) -> Rule | None:
    """Return the newest entry of a rule, whatever the day, or None where no market has a rule of that id."""
    market = rule_id.partition(".")[0]
    entries = [rule for rule in all_rules(market) if rule.id == rule_id] if market in MARKETS else []
    return max(entries, key=lambda rule: rule.begins, default=None)


def is_lacking(rule: Rule) -> bool:
    """Tell whether a limit has no figure, or none that anybody confirmed, so that the workshop may enter its own."""
    return rule.known == "unconfirmed" and (rule.subject or "").endswith(("added", "residual"))
