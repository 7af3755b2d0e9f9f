"""What every step of a declaration looks up: the rules in force, the words of the language, the finished weight."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal

from labelsvc.declaration.words import LANGUAGES, Words, words_of
from labelsvc.errors import InputError
from labelsvc.rules.load import Rule, RuleSet, rules_of


@dataclass(frozen=True)
class Context:
    """The rules, words and weight one declaration is made with.

    Args:
        market: ``eu``, ``gb`` or ``us``.
        language: of the label.
        rules: in force on the day.
        words: of the language.
        finished: finished weight in grams, more than 0.
        sulphites: whether the food holds so much sulphur dioxide that its sources are declared.
        tail: the share of the finished weight up to which an ingredient may stand in the US tail, where it was chosen.
        is_preparation: whether it is meat or a meat preparation, where added water is listed however little it is.
    """

    market: str
    language: str
    rules: RuleSet
    words: Words
    finished: Decimal
    sulphites: bool = False
    tail: Decimal | None = None
    is_preparation: bool = False

    def rule(self, name: str) -> Rule:
        """Return a labelling rule of the market by the end of its id."""
        return labelling_rule(self.rules, name)

    def figure(self, name: str) -> Decimal:
        """Return the figure of a rule that has one."""
        return figure(self.rule(name))


def context_for(market: str, language: str, on: dt.date, finished: Decimal, tail: Decimal | None = None) -> Context:
    """Return the context of a day.

    Raises:
        InputError: an unknown market or language, a finished weight of 0 g, or a share for the tail that the law does not name.
    """
    if finished <= 0:
        raise InputError("finished_weight", "a weight of more than 0 g", f"{finished} g")
    rules = rules_of(market, on)
    context = Context(market, language, rules, words_in(rules, language), finished, tail=tail)
    if tail is not None:
        steps = [row["share"] for row in context.rule("minor_steps").table] if market == "us" else []
        if tail not in [Decimal(step) for step in steps]:
            raise InputError(
                "tail_percent", f"one of {', '.join(steps)} (US only)" if steps else "none outside the US", f"{tail}"
            )
    return context


def words_in(rules: RuleSet, language: str) -> Words:
    """Return the words of a label language for a market; one that the market's own words are not in makes no label there.

    Raises:
        InputError: a language we have no words for, or not for this market.
    """
    words = words_of(language)
    if rules.market == "us" and "us" not in words:
        spoken = ", ".join(one for one in LANGUAGES if "us" in words_of(one))
        rule = labelling_rule(rules, "language")
        raise InputError("language", f"{spoken} for the market us ({rule.title}: {rule.citation})", language)
    return words


def labelling_rule(rules: RuleSet, name: str) -> Rule:
    """Return the rule ``<market>.labelling.<name>``.

    Raises:
        InputError: no such rule is in force on the day.
    """
    rule = rules.get(f"{rules.market}.labelling.{name}")
    if rule is None:
        raise InputError("on", f"a day on which {rules.market}.labelling.{name} is in force", rules.on.isoformat())
    return rule


def figure(rule: Rule) -> Decimal:
    """Return a rule's figure; a rule without one is a mistake in its file."""
    if rule.value is None:
        raise InputError(rule.id, "a rule with a value", "none")
    return rule.value
