"""No figure of our rules is without the test that tries it, and no change of law without its day before and its day.

``cases_of_figures.toml`` says which test that is, and the figure as the text of the law gives it: a rule that is new, gone or of
another figure fails here until its case is written.
"""

import ast
import tomllib
from pathlib import Path

import pytest

from labelsvc.rules.load import MARKETS, PRACTICE, all_rules

TESTS = Path(__file__).parents[1]
CASES = tomllib.loads((TESTS / "rules" / "cases_of_figures.toml").read_text(encoding="utf-8"))


def is_of_curing_salts(rule):
    return (rule.subject or "").endswith((" added", " residual"))


def has_figures(table):
    """Whether a table holds a figure to try: one that only lists words, countries or animals does not."""
    values = [value for row in table for name, value in row.items() if name != "number"]
    parts = [part for value in values for part in (value if isinstance(value, list | tuple) else [value])]
    return any(not isinstance(part, bool) and str(part).lstrip("-").replace(".", "", 1).isdigit() for part in parts) or any(
        isinstance(part, list) for part in parts
    )


def figures(market):
    for rule in all_rules(market):
        if not is_of_curing_salts(rule) and (rule.value is not None or has_figures(rule.table)):
            yield rule.id.removeprefix(f"{market}."), None if rule.value is None else f"{rule.value:f}"


@pytest.mark.parametrize("market", [*MARKETS, PRACTICE])
def test_every_figure_of_the_rules_has_its_case_and_every_case_its_figure(market):
    assert dict(figures(market)) == {one["rule"]: one.get("figure") for one in CASES["figure"] if market in one["markets"]}


def test_every_change_of_law_has_its_day_before_and_its_day():
    changed = {rule.id for market in MARKETS for rule in all_rules(market) if rule.until and not is_of_curing_salts(rule)}
    assert changed == {one["rule"] for one in CASES["change"]}


def test_every_case_is_a_test():
    named = {(one["file"], one["test"]) for one in (*CASES["figure"], *CASES["change"])}
    assert [(file, test) for file, test in sorted(named) if test not in names_in(file)] == []


def names_in(file):
    tree = ast.parse((TESTS / file).read_text(encoding="utf-8"))
    return {one.name for one in tree.body if isinstance(one, ast.FunctionDef)}
