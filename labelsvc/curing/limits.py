"""Checks what goes in against the law of a market on a day: every rule of the class gives one finding.

At the limit is not over it. A figure we could not confirm neither approves nor stops: over it the piece is held until the
responsible person enters a figure. A limit on what is left in the finished product cannot be shown to hold by a dose: where the
law has no other, the piece is held until a value is measured. The highest figure in any of our rules always stops.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from decimal import Decimal
from functools import cache, partial
from typing import cast

from labelsvc.curing.amounts import Ingoing, shown
from labelsvc.curing.measured import is_dry_enough, residue
from labelsvc.curing.salts import NITRATE_ION, NITRITE_ION, SODIUM_NITRATE, SODIUM_NITRITE, Agent, Substance
from labelsvc.errors import InputError
from labelsvc.facts import Figure, Measured
from labelsvc.rules.finding import Finding, Severity
from labelsvc.rules.load import MARKETS, Rule, all_rules, rule_of, rules_of
from labelsvc.units import plain, ratio

_EVERY_CLASS = "every"
_MEASURES: Mapping[str, Callable[[Ingoing], Decimal]] = {
    "sodium nitrite": lambda ingoing: ingoing.as_salt(SODIUM_NITRITE),
    "nitrite ion": lambda ingoing: ingoing.as_salt(NITRITE_ION),
    "sodium nitrate": lambda ingoing: ingoing.as_salt(SODIUM_NITRATE),
    "nitrate ion": lambda ingoing: ingoing.as_salt(NITRATE_ION),
    "sodium nitrite or potassium nitrite": lambda ingoing: ingoing.by_weight("nitrite"),
    "sodium nitrate or potassium nitrate": lambda ingoing: ingoing.by_weight("nitrate"),
    "sodium ascorbate or erythorbate": lambda ingoing: ingoing.by_weight("ascorbate"),
    "ascorbic or erythorbic acid": lambda ingoing: ingoing.by_weight("ascorbic acid"),
}
FigureOf = Callable[[str], Figure | None]  # the figure that the workshop entered for a rule, by its id
_SODIUM_SALT: Mapping[str, Substance] = {"nitrite": SODIUM_NITRITE, "nitrate": SODIUM_NITRATE}


def no_figure(_rule: str) -> None:
    """Return no figure: where no workshop is asked."""


@cache
def classes_of(market: str) -> tuple[str, ...]:
    """Return the classes of product that a market's curing rules know, in the order of its files."""
    named = (_class_of(rule) for rule in all_rules(market) if _agent_and_kind(rule)[1] in ("added", "residual"))
    return tuple(dict.fromkeys(named))


def check_limits(
    ingoing: Ingoing,
    market: str,
    product_class: str,
    on: dt.date,
    *,
    skin_on: bool = False,
    method: str | None = None,
    measured: Sequence[Measured] = (),
    figure_of: FigureOf = no_figure,
) -> list[Finding]:
    """Return the findings for an amount.

    Args:
        ingoing: what goes in.
        market: eu, gb or us, by country of sale.
        product_class: one of ``classes_of(market)``.
        on: the day whose law counts; ask for today and for the day of packing.
        skin_on: the piece carries its skin, which lowers the limit where the market says so.
        method: the way of curing, for the check that the class is meant for it.
        measured: what was measured in the finished product; of several values the worst counts.
        figure_of: the workshop's own figures; asked for only where ours is missing or unconfirmed and the substance is there.

    Raises:
        InputError: an unknown market or class, or a day before our rules begin.
    """
    rules = rules_of(market, on)
    if product_class not in classes_of(market):
        raise InputError("class", f"one of {', '.join(classes_of(market))}", product_class)
    mine = [rule for rule in rules.values() if _class_of(rule) in (product_class, _EVERY_CLASS)]
    mine = [_with_figure(rule, figure_of) if _matters(rule, ingoing, measured) else rule for rule in mine]
    if not any(_agent_and_kind(rule)[0] == "nitrite" and _class_of(rule) == product_class for rule in mine):
        raise InputError("on", f"a day that our rules of {market} cover", on.isoformat())
    skin = next((rule for rule in mine if rule.subject == "skin share"), None)
    if skin_on and skin is not None:
        mine = [_lowered(rule, skin) for rule in mine]
    found = [finding for rule in mine if (finding := _check(rule, ingoing, mine, measured)) is not None]
    found += _check_form(mine, product_class, method, ingoing)
    return found + check_highest(ingoing, found)


def must_be_held(finding: Finding) -> bool:
    """Tell whether a finding holds the piece although it does not stop: no confirmed figure, or a value must be measured."""
    if finding.severity != "warn":
        return False
    is_unknown = finding.known == "unconfirmed" and (finding.exceeded or finding.limit is None)
    return is_unknown or (finding.found is None and (finding.basis or "").startswith("residual"))


def _matters(rule: Rule, ingoing: Ingoing, measured: Sequence[Measured]) -> bool:
    """Tell whether a rule without a confirmed figure has something to say here."""
    if rule.known != "unconfirmed":
        return False
    agent, kind = _agent_and_kind(rule)
    sources = _SOURCES.get(agent, ()) if kind == "residual" else (agent,)
    return any(ingoing.by_weight(cast("Agent", source)) for source in sources) or residue(measured, agent) is not None


# Nitrate turns to nitrite in the meat, and the law limits what is left from all sources.
_SOURCES: Mapping[str, tuple[str, ...]] = {"nitrite": ("nitrite", "nitrate"), "nitrate": ("nitrate",)}


def _with_figure(rule: Rule, figure_of: FigureOf) -> Rule:
    """The rule with the workshop's own figure; such a figure is for the newest entry of a rule, not for repealed ones."""
    figure = figure_of(rule.id) if rule_of(rule.id) == rule else None
    return rule if figure is None else rule.entered(figure.value, f"{figure.source}, by {figure.by}")


def _agent_and_kind(rule: Rule) -> tuple[str, str]:
    agent, _, kind = (rule.subject or "").rpartition(" ")
    return agent, kind


def _class_of(rule: Rule) -> str:
    parts = rule.id.split(".")
    return parts[2] if len(parts) > 2 else ""


def _lowered(rule: Rule, skin: Rule) -> Rule:
    if rule.value is None or skin.value is None or _agent_and_kind(rule) not in (("nitrite", "added"), ("nitrite", "level")):
        return rule
    return replace(rule, value=Decimal(plain(ratio(rule.value * (100 - skin.value), 100))))


def _check(rule: Rule, ingoing: Ingoing, mine: list[Rule], measured: Sequence[Measured]) -> Finding | None:
    checks: Mapping[str, Callable[[], Finding | None]] = {
        "added": partial(_check_added, rule, ingoing),
        "residual": partial(_check_residual, rule, ingoing, mine, measured),
        "level": partial(_check_least, rule, ingoing),
        "least": partial(_check_least, rule, ingoing),
        "alone": partial(_check_alone, rule, ingoing),
        "none": partial(_check_none, rule, ingoing, mine, measured),
    }
    check = checks.get(_agent_and_kind(rule)[1])
    return check() if check else None


def _check_added(rule: Rule, ingoing: Ingoing) -> Finding | None:
    amount = _MEASURES[rule.expressed_as or ""](ingoing)
    if amount == 0:
        return None
    found = _found(amount, rule.value)
    up_to = "up to " if ingoing.upper_bound else ""
    what = f"{rule.title}: {up_to}{found} {rule.unit} as {rule.expressed_as}"
    if rule.value is None:
        return rule.found(found, f"{what}; we do not know the figure, so this is unchecked", exceeded=False)
    exceeded = amount > rule.value
    if rule.known == "unconfirmed":
        side = "over" if exceeded else "not over"
        message = f"{what} is {side} {plain(rule.value)}, but the figure is not confirmed: enter one with its source"
        return rule.found(found, message, exceeded=exceeded, severity="warn")
    if exceeded:
        side = "must not go in" if rule.value == 0 else f"is over {plain(rule.value)}"
        advice = (
            _WHAT_CAN_BE_DONE if rule.severity == "stop" else f"{rule.condition} This is a warning: the figure of the law decides"
        )
        return rule.found(found, f"{what} {side} ({rule.basis}). {advice}", exceeded=True)
    if ingoing.unchecked:
        message = f"{what} without what {' and '.join(ingoing.unchecked)} brings, which is not entered: unchecked"
        return rule.found(found, message, exceeded=False, severity="warn")
    return rule.found(found, f"{what} is within {plain(rule.value)}", exceeded=False, severity="note")


# Never soaking it out, never blending it away: neither is allowed, and neither can be shown to work.
_WHAT_CAN_BE_DONE = (
    "Not on the meat yet: use less. On it: it cannot be sold in this market; destroy it, or put the record right if it is wrong"
)


def _check_residual(rule: Rule, ingoing: Ingoing, mine: list[Rule], measured: Sequence[Measured]) -> Finding | None:
    """A dose proves nothing about a residue; where the dose has a limit of its own the remark is a note, else it holds."""
    agent = _agent_and_kind(rule)[0]
    found = residue(measured, agent, rule.expressed_as)
    if found is not None:
        return _check_residue(rule, found)
    if not any(ingoing.as_salt(_SODIUM_SALT[source]) for source in _SOURCES[agent]):
        return None
    has_own_limit = any(
        other.subject == f"{agent} added" and other.value is not None and other.known != "unconfirmed" for other in mine
    )
    limit = "an unknown figure" if rule.value is None else f"{plain(rule.value)} {rule.unit} as {rule.expressed_as}"
    message = f"{rule.title}: limited to {limit} in the finished product, which no dose can show: a measured value is needed"
    if has_own_limit:
        more = rule.value is not None and _MEASURES[rule.expressed_as or ""](ingoing) > rule.value
        message = message.replace("a measured value is needed", "only a measured value does")
        message += ". This dose could leave more: have it measured" if more else ""
    return rule.found(None, message, exceeded=False, severity="note" if has_own_limit else "warn")


def _check_residue(rule: Rule, value: Decimal) -> Finding:
    found = _found(value, rule.value)
    what = f"{rule.title}: {found} {rule.unit} as {rule.expressed_as} measured"
    if rule.value is None:
        return rule.found(found, f"{what}; we do not know the figure: enter it with its source", exceeded=False, severity="warn")
    exceeded = value > rule.value
    side = "is over" if exceeded else "is within"
    end = ": it cannot be sold in this market, and no second value wipes it out" if exceeded else ""
    if rule.known == "unconfirmed":
        message = f"{what} {side} {plain(rule.value)}, but the figure is not confirmed: enter one with its source"
        return rule.found(found, message, exceeded=exceeded, severity="warn")
    severity: Severity = "stop" if exceeded else "note"
    return rule.found(found, f"{what} {side} {plain(rule.value)}{end}", exceeded=exceeded, severity=severity)


def _check_least(rule: Rule, ingoing: Ingoing) -> Finding | None:
    amount = _MEASURES[rule.expressed_as or ""](ingoing)
    if rule.value is None or ingoing.as_salt(SODIUM_NITRITE) == 0 or amount >= rule.value or ingoing.unchecked:
        return None
    found = _found(amount, rule.value)
    message = f"{rule.title}: {found} {rule.unit} is less than {plain(rule.value)}. {rule.condition}".rstrip()
    return rule.found(found, message, exceeded=False)


def _check_none(rule: Rule, ingoing: Ingoing, mine: list[Rule], measured: Sequence[Measured]) -> Finding | None:
    """Without nitrite and nitrate the product must be salty or dry enough: one of two measured values shows it."""
    if ingoing.as_salt(SODIUM_NITRITE) or ingoing.as_salt(SODIUM_NITRATE) or ingoing.unchecked:
        return None
    driest = next((other for other in mine if other.subject == "water_activity most"), None)
    enough, said = is_dry_enough(measured, rule.value, driest.value if driest else None)
    if enough is None:
        return rule.found(None, f"{rule.title}: a measured value is needed", exceeded=False)
    message = f"{rule.title}: {said} measured is {'enough' if enough else 'not enough'}"
    return rule.found(None, message, exceeded=not enough, severity="note" if enough else "stop")


def _check_alone(rule: Rule, ingoing: Ingoing) -> Finding | None:
    """Some rows of the law allow nitrate only where no nitrite goes in."""
    if not ingoing.as_salt(SODIUM_NITRATE):
        return None
    nitrite = _MEASURES[rule.expressed_as or ""](ingoing)
    found = _found(nitrite, rule.value)
    if nitrite:
        return rule.found(found, f"{rule.title}: {found} {rule.unit} as {rule.expressed_as} goes in with it", exceeded=True)
    return rule.found(found, f"{rule.title}: none goes in with it", exceeded=False, severity="note")


def _check_form(mine: list[Rule], product_class: str, method: str | None, ingoing: Ingoing) -> list[Finding]:
    findings = []
    for rule in mine:
        if rule.subject == "plant source" and ingoing.plants:
            findings.append(_of_plants(rule, ingoing.plants))
        if rule.subject == "nitrite pure" and ingoing.has_pure_nitrite:
            findings.append(rule.found(None, f"{rule.title}: use a curing salt in place of pure nitrite", exceeded=False))
        if rule.subject == "method" and method is not None:
            fitting = next((row["methods"] for row in rule.table if row["class"] == product_class), [method])
            if method not in fitting:
                message = f"{rule.title}: {product_class} is cured by {' or '.join(fitting)}, not by {method}"
                findings.append(rule.found(None, message, exceeded=False))
    return findings


def _of_plants(rule: Rule, plants: Sequence[str]) -> Finding:
    named = " and ".join(plants)
    if rule.severity == "stop":
        return rule.found(named, f"{rule.title}: {named}. Use a curing salt whose strength is stated", exceeded=True)
    statements = "; ".join(str(said).format(source=named) for row in rule.table for said in row["statements"])
    message = f"{rule.title}: {statements}. The nitrate of a plant differs by batch, so it is not counted"
    return rule.found(named, message, exceeded=False)


def check_highest(ingoing: Ingoing, found: Sequence[Finding] = ()) -> list[Finding]:
    """Return a stop for each amount over the highest figure in any of our rules: it stops whatever the market.

    Args:
        ingoing: what goes in.
        found: findings of the market, not to be said twice.
    """
    findings = []
    for agent in ("nitrite", "nitrate"):
        rule = _highest(agent)
        finding = _check_added(rule, ingoing)
        if finding is not None and finding.exceeded and not any(other.rule == rule.id for other in found):
            message = f"{finding.message}. This is the highest figure in any of our rules, so it stops in every market"
            findings.append(replace(finding, severity="stop", message=message))
    return findings


@cache
def _highest(agent: str) -> Rule:
    rules = [rule for market in MARKETS for rule in all_rules(market)]
    known = [rule for rule in rules if rule.subject == f"{agent} added" and rule.known != "unconfirmed"]
    return max(known, key=lambda rule: _as_sodium_salt(rule, agent))


def _as_sodium_salt(rule: Rule, agent: str) -> Decimal:
    """Return a limit as the sodium salt, so that limits of different wording compare; a limit by weight counts as sodium."""
    one = Ingoing(((_SODIUM_SALT[agent], Decimal(1)),))
    return ratio(rule.value or 0, _MEASURES[cast("Agent", rule.expressed_as)](one))


def _found(amount: Decimal, limit: Decimal | None) -> str:
    """Return the amount as printed, with more places where rounding would hide on which side of the limit it is."""
    text = shown(amount)
    return plain(amount) if limit is not None and Decimal(text) == limit != amount else text
