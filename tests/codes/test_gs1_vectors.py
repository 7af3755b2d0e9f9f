"""Every shared GS1 vector through the public computation, in both directions (``fixtures/vectors/gs1_vectors.json``)."""

import json
import re
from pathlib import Path

import pytest
from stdnum import gs1_128

from labelsvc.codes.article_number import check_digit
from labelsvc.codes.gs1 import compute_gs1
from labelsvc.errors import CodeError

VECTORS = json.loads((Path(__file__).parents[2] / "fixtures/vectors/gs1_vectors.json").read_text(encoding="utf-8"))["vectors"]

# the word by which a person recognises the vector's reason in the sentence of the error
REASONS = {
    "ai_syntax": "in brackets",
    "attribute_in_path": "only its qualifiers",
    "charset": "character set",
    "check_digit": "check digit",
    "country": "country code",
    "currency": "digits only|currency",
    "date": "date",
    "domain": "domain",
    "duplicate_ai": "only once",
    "empty": "empty",
    "empty_value": "empty|value after every",
    "exclusive": "not together",
    "gtin_not_14": "exactly 14 digits",
    "leading_separator": "leading separator",
    "length_fixed": "exactly",
    "length_optional": "digits after",
    "no_ai": "GS1 key",
    "no_primary_key": "GS1 key",
    "no_symbology_identifier": "symbology identifier",
    "no_value": "value after every",
    "not_dl_attribute": "no data attribute",
    "null": "null",
    "plus_in_query_is_space": "character set",
    "qualifier_in_query": "in the path",
    "qualifier_order": "in their order",
    "qualifier_wrong_key": "only its qualifiers",
    "repeat_conflict": "once",
    "required_missing": "required",
    "scheme": "scheme",
    "too_long": "at most",
    "trailing_slash": "GS1 key",
    "unknown_ai": "known GS1",
    "unknown_numeric_key": "known GS1",
    "unknown_symbology": "symbology identifier",
    "uri_character": "characters a URI",
}


def vectors(kind):
    return [pytest.param(case, id=case["id"]) for case in VECTORS if case["kind"] == kind]


def bracketed(answer):
    return [(element["ai"], element["value"]) for element in answer["elements"]]


@pytest.mark.parametrize("case", vectors("element_valid"))
def test_element_string_when_valid_then_every_form_is_that_of_the_vector(case):
    answer = compute_gs1({"human_readable": case["bracketed"]})
    assert answer["human_readable"] == case["bracketed"]
    assert answer["scan"] == case["scan_gs1_128"]
    assert answer["link"] == case["digital_link"]
    assert [f"({ai}) {value}" for ai, value in bracketed(answer)] == case["hri"]
    too_long = [finding["found"] for finding in answer["findings"] if finding["rule"] == "gs1.gs1_128.characters"]
    assert too_long == ([] if case["fits_gs1_128"] else [str(case["gs1_128_chars"])])


@pytest.mark.parametrize("case", vectors("element_valid"))
@pytest.mark.parametrize("form", ["scan_gs1_128", "scan_gs1_datamatrix", "scan_gs1_qr"])
def test_element_string_when_scanned_back_then_the_bracketed_text_returns(case, form):
    answer = compute_gs1({"scan": case[form]})
    assert (answer["human_readable"], answer["link"]) == (case["bracketed"], case["digital_link"])


@pytest.mark.parametrize("case", vectors("element_valid"))
def test_element_string_when_read_back_from_its_link_then_the_same_elements_return(case):
    answer = compute_gs1({"link": case["digital_link"]})
    assert set(bracketed(answer)) == set(bracketed(compute_gs1({"human_readable": case["bracketed"]})))
    assert answer["link"] == case["digital_link"]


# the library keeps one value per identifier, so it cannot judge the vector that repeats one
@pytest.mark.parametrize("case", [case for case in vectors("element_valid") if case.id != "element_valid-020"])
def test_element_string_when_an_independent_library_reads_it_then_it_finds_the_same_identifiers(case):
    identifiers = [ai for ai, _ in bracketed(compute_gs1({"scan": case["scan_gs1_128"]}))]
    assert list(gs1_128.info(case["scan_gs1_128"].removeprefix("]C1"), "\x1d")) == identifiers


@pytest.mark.parametrize("case", vectors("element_invalid"))
def test_element_string_when_invalid_then_the_error_names_the_reason(case):
    with pytest.raises(CodeError) as caught:
        compute_gs1({"human_readable": case["bracketed"]})
    assert re.search(REASONS[case["cls"]], caught.value.expected), caught.value.message
    assert caught.value.field == "human_readable"


@pytest.mark.parametrize("case", vectors("scan_valid"))
def test_scan_when_valid_then_the_elements_are_those_of_the_vector(case):
    answer = compute_gs1({"scan": case["scan"]})
    assert answer["human_readable"] == case["bracketed"]
    assert answer["scan"].startswith("]C1")
    assert compute_gs1({"scan": answer["scan"]})["elements"] == answer["elements"]


@pytest.mark.parametrize("case", vectors("scan_invalid"))
def test_scan_when_invalid_then_the_error_names_the_reason(case):
    with pytest.raises(CodeError) as caught:
        compute_gs1({"scan": case["scan"]})
    assert re.search(REASONS[case["cls"]], caught.value.expected), caught.value.message


@pytest.mark.parametrize("case", [case for case in vectors("scan_hazard") if case.values[0]["accepted"]])
def test_scan_when_a_separator_is_missing_then_the_next_element_is_swallowed(case):
    assert compute_gs1({"scan": case["scan"]})["human_readable"] == case["parsed_as"]


@pytest.mark.parametrize("case", [case for case in vectors("scan_hazard") if not case.values[0]["accepted"]])
def test_scan_when_a_missing_separator_brings_letters_among_digits_then_it_is_refused(case):
    with pytest.raises(CodeError, match="digits"):
        compute_gs1({"scan": case["scan"]})


@pytest.mark.parametrize("case", vectors("uri_valid"))
def test_link_when_valid_then_elements_and_canonical_form_are_those_of_the_vector(case):
    answer = compute_gs1({"link": case["uri"], "base": "https://id.gs1.org"})
    assert answer["human_readable"] == case["bracketed"]
    assert answer["link"] == case["canonical_id_gs1_org"]
    assert compute_gs1({"scan": case["scan_plain_qr"]})["elements"] == answer["elements"]


@pytest.mark.parametrize("case", vectors("uri_invalid"))
def test_link_when_invalid_then_the_error_names_the_reason(case):
    with pytest.raises(CodeError) as caught:
        compute_gs1({"link": case["uri"]})
    assert re.search(REASONS[case["cls"]], caught.value.expected), caught.value.message


@pytest.mark.parametrize("case", vectors("beyond_reference"))
def test_rule_beyond_the_reference_when_met_then_the_strict_answer_is_given(case):
    if case["strict_expect"] == "reject":
        with pytest.raises(CodeError, match="required measure"):
            compute_gs1({"human_readable": case["bracketed"]})
        return
    answer = compute_gs1({"human_readable": case["bracketed"]})
    severities = {finding["severity"] for finding in answer["findings"] if finding["exceeded"]}
    assert severities == (set() if case["strict_expect"] == "accept" else {"warn"})


@pytest.mark.parametrize("case", vectors("check_digit"))
def test_check_digit_when_computed_then_it_is_that_of_the_vector(case):
    assert check_digit(case["body"]) == case["check_digit"]
