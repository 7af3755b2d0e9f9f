"""Reading rule files: what is refused, and which rules are in force on a day."""

import datetime as dt
from decimal import Decimal

import pytest

from labelsvc.errors import InputError
from labelsvc.rules.load import MARKETS, Rule, RuleSet, _refuse_overlaps, all_rules, parse_rules, rules_of

ENTRY = """
[[rule]]
id = "xx.nitrite.test"
title = "A limit"
known = "read"
begins = 2020-01-01
until = 2021-01-01
value = 0.1
unit = "mg/kg"
citation = "An act"
"""


def test_parse_rules_when_complete_then_the_figure_is_exact():
    (rule,) = parse_rules(ENTRY, "xx/test.toml")
    assert rule.value == Decimal("0.1")
    assert str(rule.value) == "0.1"
    assert rule.severity == "stop"


def test_parse_rules_when_there_is_a_table_then_its_rows_are_kept():
    (rule,) = parse_rules(ENTRY + 'table = [{ class = "a" }, { class = "b" }]', "xx/test.toml")
    assert [row["class"] for row in rule.table] == ["a", "b"]


@pytest.mark.parametrize("key", ["id", "title", "known", "begins", "citation"])
def test_parse_rules_when_a_required_key_is_missing_then_names_file_entry_and_key(key):
    text = "\n".join(line for line in ENTRY.splitlines() if not line.startswith(f"{key} ="))
    name = "rule without id" if key == "id" else "xx.nitrite.test"
    with pytest.raises(InputError) as caught:
        parse_rules(text, "xx/test.toml")
    assert caught.value.message == f"xx/test.toml {name}: expected the key {key}, got none"


def test_parse_rules_when_a_key_is_unknown_then_refuses():
    with pytest.raises(InputError, match="got colour"):
        parse_rules(ENTRY + 'colour = "red"', "xx/test.toml")


def test_parse_rules_when_known_is_no_known_word_then_refuses():
    with pytest.raises(InputError, match="expected read or quoted or unconfirmed, got sure"):
        parse_rules(ENTRY.replace('"read"', '"sure"'), "xx/test.toml")


def test_is_in_force_when_on_the_first_and_the_last_day_then_begins_is_in_and_until_is_out():
    (rule,) = parse_rules(ENTRY, "xx/test.toml")
    days = [dt.date(2019, 12, 31), dt.date(2020, 1, 1), dt.date(2020, 12, 31), dt.date(2021, 1, 1)]
    assert [rule.is_in_force(day) for day in days] == [False, True, True, False]


def test_refuse_overlaps_when_two_times_of_one_id_overlap_then_refuses():
    first, second = parse_rules(ENTRY + ENTRY.replace("begins = 2020-01-01", "begins = 2020-12-31"), "xx/test.toml")
    with pytest.raises(InputError, match="entries whose times do not overlap"):
        _refuse_overlaps([first, second], "xx")


def test_refuse_overlaps_when_one_follows_the_other_then_accepts():
    later = ENTRY.replace("until = 2021-01-01", "").replace("begins = 2020-01-01", "begins = 2021-01-01")
    _refuse_overlaps(parse_rules(ENTRY + later, "xx/test.toml"), "xx")


def test_rules_of_when_the_market_is_unknown_then_says_that_no_check_is_made():
    with pytest.raises(InputError) as caught:
        rules_of("fr", dt.date(2026, 1, 1))
    assert caught.value.message == ("market: expected one of eu, gb, us, got fr. For any other market no legal check is made.")


def test_rules_of_when_the_law_changes_then_the_set_of_the_day_has_the_entry_of_the_day():
    before, after = rules_of("eu", dt.date(2025, 10, 8)), rules_of("eu", dt.date(2025, 10, 9))
    assert before["eu.nitrite.non_heat_treated"].value == 150
    assert after["eu.nitrite.non_heat_treated"].value == 80
    assert (after.market, after.on) == ("eu", dt.date(2025, 10, 9))
    assert len(list(before)) == len(before) > 0


def test_rule_set_when_a_rule_is_missing_then_is_a_key_error():
    with pytest.raises(KeyError):
        RuleSet("eu", dt.date(2026, 1, 1), [])["eu.nothing"]


@pytest.mark.parametrize("market", MARKETS)
def test_all_rules_when_packaged_then_every_entry_begins_with_its_market_and_is_cited(market):
    rules = all_rules(market)
    assert rules
    for rule in rules:
        assert rule.id.startswith(f"{market}."), rule.id
        assert len(rule.citation) > 8, rule.id
        assert rule.until is None or rule.begins < rule.until, rule.id


def test_found_when_the_rule_is_unconfirmed_then_it_never_stops():
    rule = Rule("xx.a", "A", "unconfirmed", dt.date(2020, 1, 1), "An act", value=Decimal(5))
    assert rule.found("6", "over", exceeded=True).severity == "warn"
    assert rule.found("6", "over", exceeded=True, severity="note").severity == "note"
