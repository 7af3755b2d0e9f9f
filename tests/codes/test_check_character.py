"""The check character, proved for every position and every pair of symbols: the code is linear, so that is exhaustive."""

from itertools import combinations

import pytest

from labelsvc.codes.check_character import MODULUS, RADIX, SYMBOLS, check_character, is_checked

LENGTHS = range(9, 14)  # with check character: kind, six digits, serial of two to five, check
ZEROS = "0" * 29


def changed(code, place, symbol):
    return code[:place] + symbol + code[place + 1 :]


def weight_of(place, length):
    """What one step of the symbol at a place adds to the sum: read from how the check character moves, not from the code."""
    zero, one = ZEROS[: length - 1], changed(ZEROS[: length - 1], place, "1")
    return (SYMBOLS.index(check_character(zero)) - SYMBOLS.index(check_character(one))) % MODULUS


@pytest.mark.parametrize("length", LENGTHS)
def test_check_character_is_linear_so_that_the_proofs_below_hold_for_every_body(length):
    """Each symbol at each place moves the check by weight x value, whatever stands at the other places."""
    for other in ("0", "7", "Z"):
        base = other * (length - 1)
        for place in range(length - 1):
            for symbol in SYMBOLS:
                moved = SYMBOLS.index(check_character(base)) - SYMBOLS.index(check_character(changed(base, place, symbol)))
                steps = SYMBOLS.index(symbol) - SYMBOLS.index(other)
                assert moved % MODULUS == weight_of(place, length) * steps % MODULUS


@pytest.mark.parametrize("length", LENGTHS)
def test_every_single_wrong_character_is_caught(length):
    code = ZEROS[: length - 1] + check_character(ZEROS[: length - 1])
    for place in range(length):
        for right in SYMBOLS:
            body = changed(code, place, right)[:-1]
            valid = body + check_character(body)
            assert is_checked(valid)
            for wrong in SYMBOLS:
                assert is_checked(changed(valid, place, wrong)) == (wrong == valid[place])


@pytest.mark.parametrize("length", LENGTHS)
def test_every_swap_of_two_characters_is_caught_whether_neighbours_or_not(length):
    body = ZEROS[: length - 1]
    for first, second in combinations(range(length - 1), 2):
        for one in SYMBOLS:
            for other in SYMBOLS:
                if one != other:
                    given = changed(changed(body, first, one), second, other)
                    swapped = changed(changed(body, first, other), second, one)
                    assert not is_checked(swapped + check_character(given))


@pytest.mark.parametrize("length", LENGTHS)
def test_every_swap_with_the_check_character_is_caught(length):
    for place in range(length - 1):
        for symbol in SYMBOLS:
            for filler in SYMBOLS:  # the check character takes every value as one other place goes through all symbols
                body = changed(changed(ZEROS[: length - 1], place - 1, filler), place, symbol)[: length - 1]
                check = check_character(body)
                if check != body[place]:
                    assert not is_checked(changed(body, place, check) + body[place])


def test_weights_of_thirty_places_differ_because_three_is_a_primitive_root_of_31():
    assert len({pow(RADIX, place, MODULUS) for place in range(30)}) == 30


@pytest.mark.parametrize("body", ["", "0" * 30, "P26112501O", "p261125a4"])
def test_check_character_of_what_is_no_body_is_refused(body):
    with pytest.raises(ValueError):  # noqa: PT011 - two sentences, both about the body
        check_character(body)
