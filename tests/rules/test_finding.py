"""The FINDING object of the contract."""

import datetime as dt
import json
from decimal import Decimal

from labelsvc.rules.load import Rule


def test_as_json_when_asked_then_has_exactly_the_fields_of_the_contract():
    rule = Rule(
        "xx.nitrite.test", "A limit", "quoted", dt.date(2020, 1, 1), "An act, article 1", value=Decimal("1E+2"), unit="mg/kg",
        expressed_as="sodium nitrite", basis="green weight",
    )  # fmt: skip
    finding = rule.found("101", "over the limit", exceeded=True)
    assert json.loads(json.dumps(finding.as_json())) == {
        "rule": "xx.nitrite.test",
        "severity": "stop",
        "exceeded": True,
        "limit": "100",
        "found": "101",
        "unit": "mg/kg",
        "expressed_as": "sodium nitrite",
        "basis": "green weight",
        "known": "quoted",
        "citation": "An act, article 1",
        "message": "over the limit",
    }


def test_found_when_the_rule_has_no_figure_then_the_limit_is_null():
    rule = Rule("xx.a", "A", "read", dt.date(2020, 1, 1), "An act")
    assert rule.found(None, "look", exceeded=False).limit is None
