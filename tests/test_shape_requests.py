"""What the requests of the computations need of a shape: volumes, days, nulls, words in quotes, values that read themselves."""

import datetime as dt
import re
from decimal import Decimal
from typing import Annotated

import pytest

from labelsvc.errors import InputError
from labelsvc.recipe import Per100g
from labelsvc.shape import AtLeastOne, Ppm, Shape, Text, Weighed, read_shape
from labelsvc.units import Mass

NUTRIENTS = {"fat": "5", "saturates": "2", "carbohydrate": "3", "sugars": "1", "protein": "20", "sodium_mg": "400"}


class Jar(Shape, frozen=True):
    name: Text
    weight: Mass
    sulphite: Ppm | None = None

    def __post_init__(self) -> None:
        if self.name == "empty" and self.weight.grams:
            raise InputError("weight", "0 g of an empty jar", str(self.weight))
        if self.name == "broken":
            raise InputError("", "a whole jar", "a broken one")


class Shelf(Shape, frozen=True):
    jars: Annotated[tuple[Jar, ...], AtLeastOne]
    on: dt.date | None = None
    locked: bool | None = None
    count: int | None = None
    load: Weighed | None = None


def shelf(**changes):
    return {"jars": [{"name": "salt", "weight": "1 kg"}], **changes}


def jar(**changes):
    return shelf(jars=[{"name": "salt", "weight": "1 kg"}, {"name": "salt", "weight": "1 kg", **changes}])


def test_request_when_it_is_right_then_has_its_values():
    read = read_shape(Shelf, jar(name=" fine   salt ", sulphite=10) | {"on": "2026-03-02", "load": "3 kg"}, "shelf", strict=True)
    assert read.jars[1] == Jar(Text("fine salt"), Mass(Decimal(1000)), Ppm(10))
    assert (read.on, read.load) == (dt.date(2026, 3, 2), Mass(Decimal(3000)))


@pytest.mark.parametrize(
    ("given", "message"),
    [
        (jar(name=" "), 'jars[1].name: expected a text that is not empty, got " "'),
        (jar(name=7), "jars[1].name: expected a text that is not empty, got 7"),
        (jar(weight=None), "jars[1].weight: expected a value, got nothing"),
        (jar(sulphite="1000001"), "jars[1].sulphite: expected a number of at most 1000000, got 1000001"),
        (jar(sulphite="-1"), "jars[1].sulphite: expected a number of at least 0, got -1"),
        (jar(name="empty"), "jars[1].weight: expected 0 g of an empty jar, got 1000 g"),
        (jar(name="broken"), "jars[1]: expected a whole jar, got a broken one"),
        (shelf(jars=["salt"]), 'jars[0]: expected one JSON object, got "salt"'),
        (shelf(jars="salt"), 'jars: expected a list, got "salt"'),
        (shelf(jars=None), "jars: expected a value, got nothing"),
        (shelf(jars=[]), "jars: expected at least one, got none"),
        (shelf(on="2.3.2026"), "on: expected a day such as 2026-03-02, got 2.3.2026"),
        (shelf(on="2026-02-29"), "on: expected a day such as 2026-03-02, got 2026-02-29"),
        (shelf(on=20260302), "on: expected a day such as 2026-03-02, got 20260302"),
        (shelf(load="0 g"), "load: expected a weight above 0 g, got 0 g"),
        (shelf(locked="yes"), 'locked: expected true or false, got "yes"'),
        (shelf(locked="true"), 'locked: expected true or false, got "true"'),
        (shelf(locked="null"), 'locked: expected true or false, got "null"'),
        (shelf(count="3"), 'count: expected a whole number, got "3"'),
        (shelf(count=True), "count: expected a whole number, got true"),
    ],
)
def test_request_when_a_field_is_wrong_then_one_sentence_names_it(given, message):
    with pytest.raises(InputError, match=f"^{re.escape(message)}$"):
        read_shape(Shelf, given, "shelf", strict=True)


def test_fact_when_a_command_line_gives_only_text_then_words_in_quotes_are_taken():
    read = read_shape(Shelf, shelf(locked="true", count="3"), "shelf")
    assert (read.locked, read.count) == (True, 3)


def test_request_when_an_optional_field_is_null_then_counts_as_absent():
    assert read_shape(Shelf, shelf(on=None, load=None, locked=None), "shelf", strict=True) == read_shape(Shelf, shelf(), "shelf")


@pytest.mark.parametrize("volume", ["1 tsp", "½ teaspoon", "2 TBSP", "1/4 cup", "a pinch", "5 ml", "1 l", "2 EL", "3 fl oz"])
def test_weight_when_given_as_a_volume_then_the_refusal_says_why(volume):
    said = (
        f"jars[1].weight: expected a weight from a scale, never a volume, got {volume}."
        " Two spoons of one size can differ by a quarter, and salt by shape more than twofold: put it on a scale"
    )
    with pytest.raises(InputError, match=f"^{re.escape(said)}$"):
        read_shape(Shelf, jar(weight=volume), "shelf")


@pytest.mark.parametrize("weight", ["3.2 oz", "1 lb 4 oz", "250 mg", "2,5 kg"])
def test_weight_when_it_has_a_unit_of_weight_then_is_no_volume(weight):
    assert read_shape(Shelf, jar(weight=weight), "shelf").jars[1].weight == Mass.parse(weight)


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"saturates": "5.01"}, "saturates: expected at most the fat, 5 g, got 5.01 g"),
        ({"sugars": "3.01"}, "sugars: expected at most the carbohydrate, 3 g, got 3.01 g"),
        ({"sodium_mg": "100001"}, "sodium_mg: expected at most the 100000 mg that 100 g are, got 100001"),
        ({"protein": "-1"}, "protein: expected a number of at least 0, got -1"),
        ({"protein": "101"}, "protein: expected a number of at most 100, got 101"),
    ],
)
def test_per_100g_when_it_cannot_be_then_refused(changes, message):
    with pytest.raises(InputError, match=f"^{re.escape(message)}$"):
        read_shape(Per100g, {**NUTRIENTS, **changes}, "per_100g")


def test_per_100g_when_a_part_is_all_of_the_whole_then_accepted():
    read = read_shape(Per100g, {**NUTRIENTS, "saturates": "5", "sugars": "3", "sodium_mg": "100000"}, "per_100g")
    assert (read.saturates, read.sugars) == (Decimal(5), Decimal(3))
