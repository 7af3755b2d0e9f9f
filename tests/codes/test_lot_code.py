"""Lot codes: read with forgiveness, never mistaken for another."""

import datetime as dt
import re
from itertools import combinations, product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labelsvc.codes.check_character import SYMBOLS, is_checked
from labelsvc.codes.lot_code import KINDS, SERIALS, LotCode, numbered
from labelsvc.errors import CodeError

LOOKS_LIKE = ("0DQO", "2Z", "6G", "7T", "8B", "VYU", "1IL", "5S")
DAYS = st.dates(dt.date(2000, 1, 1), dt.date(2099, 12, 31))
CODES = st.builds(numbered, st.sampled_from(sorted(KINDS.values())), DAYS, st.integers(1, 24**5 - 1))


def is_read(text):
    try:
        LotCode.parse(text)
    except CodeError:
        return False
    return True


def number_of(code):
    """The number a serial stands for: base 24, by hand."""
    return sum(SERIALS.index(symbol) * len(SERIALS) ** place for place, symbol in enumerate(reversed(code.serial)))


@given(CODES)
def test_code_reads_back_as_itself_and_as_its_number(code):
    assert LotCode.parse(str(code)) == code
    assert numbered(code.kind, code.day, number_of(code)) == code
    assert len(code.lot) <= 20  # AI 10 is X..20 (GS1 General Specifications, 3.4.1)


@given(CODES)
def test_every_single_wrong_character_of_a_real_code_is_refused(code):
    for place, right in enumerate(code.lot):
        for wrong in SYMBOLS:
            if wrong != right:
                assert not is_read(code.lot[:place] + wrong + code.lot[place + 1 :])


@given(CODES)
def test_every_swap_in_a_real_code_is_refused(code):
    for first, second in combinations(range(len(code.lot)), 2):
        letters = list(code.lot)
        letters[first], letters[second] = letters[second], letters[first]
        if letters[first] != letters[second]:
            assert not is_read("".join(letters))


@given(CODES)
def test_any_number_of_look_alikes_never_reads_as_another_code(code):
    choices = [next((group for group in LOOKS_LIKE if letter in group), letter) for letter in code.lot]
    if len(list(filter(lambda group: len(group) > 1, choices))) <= 7:
        for letters in product(*choices):
            text = "".join(letters)
            assert not is_read(text) or LotCode.parse(text) == code


def test_serial_and_date_symbols_hold_one_of_each_group_of_look_alikes():
    """Exhaustive for the body: no two symbols that a serial can hold look alike, and the check character follows the body."""
    for group in LOOKS_LIKE:
        assert len(set(group) & set(SERIALS)) == 1
        assert len(set(group) & set("0123456789")) <= 1
        assert len(set(group) & set(KINDS)) <= 1


@given(CODES, st.data())
def test_case_spaces_and_hyphens_are_forgiven(code, data):
    separators = data.draw(st.lists(st.sampled_from(["", "", " ", "-", "‐", "‑", "–", "."]), min_size=13, max_size=13))
    written = "".join(separator + letter for separator, letter in zip(separators, f"{code.lot:<13}", strict=True))
    assert LotCode.parse(f"  {written.lower()} ") == code


@given(CODES)
def test_letters_that_are_in_no_code_are_read_as_what_they_were_meant_to_be(code):
    written = code.lot.replace("0", "O").replace("1", "I").replace("5", "S").replace("V", "U")
    assert LotCode.parse(written) == code
    assert LotCode.parse(code.lot.replace("1", "l")) == code


def test_numbers_of_one_day_are_all_different_and_in_order():
    day = dt.date(2026, 11, 25)
    codes = [numbered("piece", day, number).lot for number in range(1, 3000)]
    assert len(set(codes)) == 2999
    assert all(is_checked(code) for code in codes)
    assert [number_of(LotCode.parse(code)) for code in codes] == list(range(1, 3000))


def test_pack_reads_with_its_number():
    pack = numbered("pack", dt.date(2026, 11, 25), 7)
    assert LotCode.parse(f"{pack.lot.lower()} / 12".replace(" / ", "/")).unit == 12
    assert str(LotCode.parse(f"{pack}/12")) == f"{pack}/12"


EXPECTED = "code: expected a lot code such as P261125A4M: kind, date, serial and check character"


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", f"{EXPECTED}, got "),
        ("hello", f"{EXPECTED}, got hello"),
        (12, f"{EXPECTED}, got 12"),
        ("P٢61125A4M", f"{EXPECTED}, got P٢61125A4M"),
        ("P261125B4M", f"{EXPECTED}, got P261125B4M. Character 8, B, is in no code there: is it 8?"),
        ("P261125A4N", "code: expected a code whose check character fits, got P261125A4N. "
                       "One character is wrong or two are swapped: read it again."),
        ("P261125A4M/1", "code: expected a pack number only after a pack lot, got P261125A4M/1"),
        ("K261125A5B/0", f"{EXPECTED}, got K261125A5B/0"),
        ("K261125A5B/", f"{EXPECTED}, got K261125A5B/"),
    ],
)  # fmt: skip
def test_what_is_no_code_is_refused_in_one_sentence(text, message):
    with pytest.raises(CodeError, match=f"^{re.escape(message)}$"):
        LotCode.parse(text)


def test_code_with_a_day_that_is_none_is_refused():
    wrong_day = "P261331A4"
    check = next(symbol for symbol in SYMBOLS if is_checked(wrong_day + symbol))
    with pytest.raises(CodeError, match=r"^code: expected a code whose six digits are a date"):
        LotCode.parse(wrong_day + check)


def test_more_lots_on_a_day_than_serials_is_refused():
    with pytest.raises(ValueError, match="7962624 lots on one day"):  # 24^5
        numbered("piece", dt.date(2026, 1, 1), 24**5)
