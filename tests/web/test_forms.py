"""What is typed becomes the JSON of a fact, and an error's path leads back to the input it was typed in."""

import pytest

from labelsvc.errors import BlockedError, ConfirmationNeeded, InputError
from labelsvc.web.forms import Field, Form, Rows, flat, problem_of, typed

METRIC, US = {"g": "g", "kg": "kg"}, {"g": "oz", "kg": "lb"}
PIECES = Rows(
    "pieces", "Pieces", (Field("product", "Product", carried=True), Field("weight", "Weight", "weight", unit="g")), "More"
)
FORM = Form("cut", "Cut", (Field("from", "From", "lot"), PIECES, Field("lots", "Lots", "codes"), Field("x.y", "Inside")), "Press")


@pytest.mark.parametrize(
    ("text", "units", "weight"),
    [("638", METRIC, "638 g"), ("2,5", METRIC, "2,5 g"), ("1.2 kg", METRIC, "1.2 kg"), ("3.2", US, "3.2 oz"),
     ("12oo", METRIC, "12oo"), ("-5", METRIC, "-5 g"), (" 638 ", METRIC, "638 g")],
)  # fmt: skip
def test_a_weight_when_it_is_bare_then_it_gets_the_fields_unit(text, units, weight):
    assert typed(FORM, {"pieces-0-weight": text}, units).given["pieces"] == [{"weight": weight}]


def test_typed_when_rows_are_empty_then_only_the_filled_ones_count_and_their_places_are_known():
    values = {"pieces-0-product": "Neck", "pieces-0-weight": "", "pieces-2-product": "Neck", "pieces-2-weight": "900"}
    back = typed(FORM, values, METRIC)
    assert back.given == {"pieces": [{"product": "Neck", "weight": "900 g"}]}
    assert back.places["pieces[0].weight"] == "pieces-2-weight"


def test_typed_when_codes_are_on_lines_or_with_commas_then_each_is_one():
    assert typed(FORM, {"lots": "A1\nM 017, B2;\n", "x.y": "z"}, METRIC).given == {"lots": ["A1", "M 017", "B2"], "x": {"y": "z"}}


def test_flat_when_typed_again_then_it_is_the_same_fact():
    given = {
        "from": "A1",
        "pieces": [{"product": "Neck", "weight": "900 g"}, {"weight": "1 kg"}],
        "lots": ["A", "B"],
        "x": {"y": "z"},
    }
    assert typed(FORM, flat(given, FORM), METRIC).given == given


@pytest.mark.parametrize(
    ("field", "beside"),
    [("pieces[0].weight", "pieces-2-weight"), ("pieces[0]", "pieces-2-product"), ("pieces", "pieces-0-product"),
     ("pieces[0].soap", "pieces-2-product"), ("lots[3]", "lots"), ("from", "from"), ("soap", ""), ("", "")],
)  # fmt: skip
def test_an_error_when_it_names_a_path_then_it_stands_beside_the_nearest_input(field, beside):
    places = typed(FORM, {"pieces-2-weight": "900"}, METRIC).places
    assert problem_of(InputError(field, "soap", "salt"), places).beside == beside


def test_a_problem_when_it_is_a_question_or_blocked_then_it_says_so():
    asked = problem_of(ConfirmationNeeded("from", "more", "less", "Is it right?"), {"from": "from"})
    assert asked.is_question
    assert asked.message == "Is that right? Expected more; got less. Is it right?"
    blocked = problem_of(BlockedError("It is held.", [{"message": "held"}], "from"), {"from": "from"})
    assert (blocked.is_question, blocked.beside, blocked.message) == (False, "from", "It is held.")
