"""The vocabulary: every kind of fact is readable, and refuses what cannot be with the name of the field."""

import json
import re

import build
import msgspec
import pytest

from labelsvc import facts
from labelsvc.errors import InputError
from labelsvc.ledger.projection import body_text


@pytest.mark.parametrize("kind", facts.KINDS)
def test_kind_is_readable(kind):
    body = facts.read(kind, build.body(kind))
    assert type(body) is facts.KINDS[kind]


@pytest.mark.parametrize("kind", facts.KINDS)
def test_kind_as_stored_reads_back_as_itself(kind):
    body = facts.read(kind, build.body(kind))
    assert facts.read(kind, json.loads(body_text(body))) == body


@pytest.mark.parametrize("kind", facts.KINDS)
def test_kind_refuses_an_unknown_field(kind):
    with pytest.raises(InputError, match=r"^colour: expected only the fields .+, got a field of that name$"):
        facts.read(kind, build.body(kind, colour="red"))


@pytest.mark.parametrize("kind", facts.KINDS)
def test_kind_refuses_each_missing_field_by_name(kind):
    for field in msgspec.structs.fields(facts.KINDS[kind]):
        if field.required:
            given = {name: value for name, value in build.body(kind).items() if name != field.encode_name}
            with pytest.raises(InputError, match=f"^{field.encode_name}: expected a value, got nothing$"):
                facts.read(kind, given)


def test_unknown_kind_is_refused():
    with pytest.raises(InputError, match=r"^kind: expected one of workshop, supplier, .*, correct, got smoke$"):
        facts.read("smoke", {})


@pytest.mark.parametrize(
    ("kind", "changes", "message"),
    [
        ("workshop", dict(timezone="Moon/North"), "timezone: expected a time zone such as Europe/Lisbon, got Moon/North"),
        ("workshop", dict(country="France"), "country: expected a country code of two capitals such as FR, got France"),
        ("product", dict(shelf_life_days=0), "shelf_life_days: expected 1 to 3650 days, got 0"),
        ("product", dict(target_loss_percent="80"), "target_loss_percent: expected a loss above 0 and below 80, got 80"),
        ("receive", dict(count=0), "count: expected a count of 1 or more, got 0"),
        ("receive", dict(weight="0 g"), "weight: expected a weight above 0 g, got 0 g"),
        ("receive", dict(kind="fish"), "kind: expected one of animal, part, ingredient, got fish"),
        ("cut", dict(pieces=[dict(product="x", weight="1 kg"), dict(product="x", weight=7)]), "pieces[1].weight: expected"),
        ("cure", dict(mix=[dict(lot="x", weight="30")]), "mix[0].weight: expected a weight with its unit"),
        ("take_out", dict(pieces=[dict(code="x", weigth="1 g")]), "pieces[0].weigth: expected only the fields code, weight, got"),
        ("pack", dict(from_=[dict(piece="x", rest=1.5)]), "from[0].rest: expected an exact number in quotes"),
        ("ingredient", dict(components=[dict(name="a", percent="60"), dict(name="b", percent="41")]),
         "components: expected percentages that add up to at most 100, got 101"),
        ("correct", dict(fact="first"), 'fact: expected a whole number, got "first"'),
    ],
)  # fmt: skip
def test_value_that_cannot_be_is_refused_by_field(kind, changes, message):
    with pytest.raises(InputError, match=f"^{re.escape(message)}"):
        facts.read(kind, build.body(kind, **changes))


@pytest.mark.parametrize("changes", [dict(customer=None), dict(public=True)])
def test_sale_goes_either_to_a_customer_or_to_the_public(changes):
    with pytest.raises(InputError, match=r"^customer: expected a customer, or public: true, got (both|neither)$"):
        facts.read("sell", build.body("sell", **changes))


@pytest.mark.parametrize(
    ("kind", "field"),
    [("cut", "pieces"), ("cure", "pieces"), ("cure", "mix"), ("coat", "mix"), ("take_out", "pieces"),
     ("pack", "from"), ("pack", "packs"),
     ("sell", "packs"), ("give", "packs"), ("return", "packs"), ("hold", "lots"), ("lift", "lots"), ("recipe", "lines")],
)  # fmt: skip
def test_empty_list_is_refused_by_field(kind, field):
    with pytest.raises(InputError, match=f"^{field}: expected "):
        facts.read(kind, {**build.body(kind), field: []})
