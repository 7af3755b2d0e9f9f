"""Shapes: read strictly, and every error is one sentence that names field, expected and got."""

import re
from decimal import Decimal
from typing import Literal

import pytest

from labelsvc.errors import InputError, UnitError
from labelsvc.shape import Exact, Percent, Shape, read_shape, refuse_unfit
from labelsvc.units import Mass

A_WEIGHT = 'a weight with its unit, such as "638 g", "2.5 kg", "3.2 oz" or "1 lb 4 oz"'
FIELDS = "from, load, kind, fat, degrees, number"


class Hook(Shape, frozen=True, rename={"from_": "from"}):
    from_: str
    load: Mass
    kind: Literal["steel", "rope"] = "steel"
    fat: Percent | None = None
    degrees: Exact | None = None
    number: int | None = None


class Rail(Shape, frozen=True):
    hooks: tuple[Hook, ...]


def rail(**changes):
    hook = {"from": "room 1", "load": "2 kg", **changes}
    return {"hooks": [{"from": "room 1", "load": "1 kg"}, {name: value for name, value in hook.items() if value is not ...}]}


def test_shape_is_read_with_exact_quantities():
    hook = read_shape(Rail, rail(load="1 lb", fat="2.50", degrees="-18.5"), "rail").hooks[1]
    assert (hook.from_, hook.load.grams, hook.kind) == ("room 1", Decimal("453.59237"), "steel")
    assert (hook.fat, hook.degrees) == (Decimal("2.50"), Decimal("-18.5"))


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        (dict(load=...), "hooks[1].load: expected a value, got nothing"),
        ({"from": ...}, "hooks[1].from: expected a value, got nothing"),
        (dict(colour="red"), f"hooks[1].colour: expected only the fields {FIELDS}, got a field of that name"),
        (dict(load="2"), f"hooks[1].load: expected {A_WEIGHT}, got 2"),
        (dict(load=2), f"hooks[1].load: expected {A_WEIGHT}, got 2"),
        (dict(load="1,200 g"), "hooks[1].load: expected a decimal point, because 1,200 may mean 1.2 or 1200, got 1,200 g"),
        (dict(load="21 t"), f"hooks[1].load: expected {A_WEIGHT}, got 21 t"),
        (dict(load="20001 kg"), "hooks[1].load: expected a weight of at most 20 t, got 20001 kg. Is the unit right?"),
        (dict(kind="silk"), "hooks[1].kind: expected one of steel, rope, got silk"),
        (dict(fat="100.1"), "hooks[1].fat: expected a number of at most 100, got 100.1"),
        (dict(fat="-1"), "hooks[1].fat: expected a number of at least 0, got -1"),
        (dict(fat=2.5), 'hooks[1].fat: expected an exact number in quotes, such as "2.5", got the float 2.5'),
        (dict(degrees="cold"), 'hooks[1].degrees: expected a decimal number, such as "2.5", got cold'),
        (dict(degrees="NaN"), 'hooks[1].degrees: expected a decimal number, such as "2.5", got NaN'),
    ],
)  # fmt: skip
def test_wrong_field_is_named_with_its_place_in_one_sentence(changes, message):
    with pytest.raises(InputError, match=f"^{re.escape(message)}$") as raised:
        read_shape(Rail, rail(**changes), "rail")
    field, _, rest = message.partition(": expected ")
    assert raised.value.field == field
    assert rest.startswith(f"{raised.value.expected}, got {raised.value.got}")
    assert raised.value.as_json()["message"] == message


def test_error_of_a_quantity_keeps_its_class():
    with pytest.raises(UnitError):
        read_shape(Rail, rail(load="much"), "rail")


@pytest.mark.parametrize(("given", "got"), [([], "[]"), ("text", '"text"'), (None, "null")])
def test_what_is_no_object_is_refused(given, got):
    with pytest.raises(InputError, match=f"^{re.escape(f'rail: expected one JSON object, got {got}')}$"):
        read_shape(Rail, given, "rail")


def test_float_anywhere_in_free_content_is_refused_with_its_place():
    with pytest.raises(
        InputError, match=r'^a\.b\[1\]\.c: expected an exact number in quotes, such as "2\.5", got the float 1\.0$'
    ):
        refuse_unfit({"a": {"b": ["x", {"c": 1.0}]}}, "")


def test_number_that_is_whole_is_read_where_a_decimal_stands():
    assert read_shape(Rail, rail(fat=3), "rail").hooks[1].fat == Decimal(3)


@pytest.mark.parametrize("text", ["a\x00b", "a\x1db", "\x7f", "\ud800"])
def test_text_with_control_characters_is_refused_by_field(text):
    with pytest.raises(InputError, match=r"^a\[1\]: expected text without control characters, got "):
        refuse_unfit({"a": ["fine\nover two lines", text]}, "")
