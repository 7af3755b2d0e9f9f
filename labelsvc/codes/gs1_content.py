"""What a component of a GS1 element may contain: character sets, check digits, dates, times, countries, currencies.

Source: the reference syntax tests of the GS1 Barcode Syntax Dictionary; General Specifications 7.9.1 (check digit), 7.12 (century
of a two-digit year), tables 7-20 and 7-21 (character sets). Every test answers None, or what was expected as a noun phrase.
"""

from __future__ import annotations

import calendar
import re
import string
from collections.abc import Callable, Mapping

from labelsvc.codes.article_number import check_digit
from labelsvc.codes.coupon import is_coupon, is_offer_coupon

_LETTERS_AND_DIGITS = string.ascii_letters + string.digits
SETS: Mapping[str, tuple[frozenset[str], str]] = {
    "N": (frozenset(string.digits), "digits only"),
    "X": (frozenset(_LETTERS_AND_DIGITS + "!\"%&'()*+,-./:;<=>?_"), "only the 82 characters of GS1 character set 82"),
    "Y": (frozenset(string.ascii_uppercase + string.digits + "#-/"), "only the 39 characters of GS1 character set 39"),
    "Z": (frozenset(_LETTERS_AND_DIGITS + "-_="), "only the characters of base64url, GS1 character set 64"),
}
_IN_ORDER_82 = "!\"%&'()*+,-./0123456789:;<=>?ABCDEFGHIJKLMNOPQRSTUVWXYZ_abcdefghijklmnopqrstuvwxyz"
_SET_32 = "23456789ABCDEFGHJKLMNPQRSTUVWXYZ"
_PRIMES = (2, 3, 5, 7, 11, 13, 17, 19, 23, 29, 31, 37, 41, 43, 47, 53, 59, 61, 67, 71, 73, 79, 83)
_IMPORTER = frozenset(_LETTERS_AND_DIGITS + "-_")
_PADDED = re.compile(r"[^=]*={0,2}")
_LEAP_VIEW = 2026  # only for leap years: any year from 2001 to 2050 reads 29 February of every YY the same way


def year_of(two_digits: int, this_year: int) -> int:
    """Return the full year of a two-digit year (General Specifications 7.12: 51 ahead is past, 50 behind is to come).

    Args:
        two_digits: 0 to 99.
        this_year: the year in which it is read, four digits.

    >>> year_of(76, 2026), year_of(77, 2026), year_of(0, 2051)
    (2076, 1977, 2100)
    """
    century, now = divmod(this_year, 100)
    ahead = two_digits - now
    if ahead >= 51:
        century -= 1
    elif ahead <= -50:
        century += 1
    return century * 100 + two_digits


def outside_set(kind: str, text: str) -> str | None:
    """Return what is expected of a text with a character outside its set, or None.

    Args:
        kind: N digits, X set 82, Y set 39, Z set 64 with at most two padding signs that fill it to a multiple of three.
        text: the component.
    """
    allowed, expected = SETS[kind]
    if not allowed.issuperset(text):
        return expected
    if kind == "Z" and "=" in text and (not _PADDED.fullmatch(text) or len(text) % 3):
        return "base64url (GS1 character set 64) with right padding"
    return None


def failed_test(name: str, text: str, lists: Mapping[str, frozenset[str]]) -> str | None:
    """Return what the named test expected of a component, or None where it holds.

    Args:
        name: a test named in the table.
        text: the component, already of the right length and character set.
        lists: the codes it may be one of, by the name of the list.
    """
    if name in _LISTED:
        listed, expected, extra = _LISTED[name]
        code = text[:2] if name == "country_letters_first" else text
        return None if code in lists[listed] or code == extra else expected
    holds, expected = _TESTS[name]
    return None if holds(text) else expected


def check_pair(body: str) -> str:
    """Return the two check characters of a Global Model Number (weights are primes from the right, modulus 1021).

    >>> check_pair("1987654Ad4X4bL5ttr2310c")
    '2K'
    """
    total = sum(_IN_ORDER_82.index(character) * prime for character, prime in zip(reversed(body), _PRIMES, strict=False)) % 1021
    return _SET_32[total // 32] + _SET_32[total % 32]


def _has_check_pair(text: str) -> bool:
    return len(text) >= 3 and check_pair(text[:-2]) == text[-2:]


def _has_check_digit(text: str) -> bool:
    return check_digit(text[:-1]) == text[-1]


def _is_month(text: str) -> bool:
    return 1 <= int(text[2:4]) <= 12


def _is_date(text: str) -> bool:
    if not _is_month(text):
        return False
    days = calendar.monthrange(year_of(int(text[:2]), _LEAP_VIEW), int(text[2:4]))[1]
    return 1 <= int(text[4:]) <= days


def _is_date_or_month(text: str) -> bool:
    return _is_date(text) or (_is_month(text) and text[4:] == "00")


def _is_full_date(text: str) -> bool:
    year, month, day = int(text[:4]) or 400, int(text[4:6]), int(text[6:])  # the year 0000 is a leap year, as 0400 is
    return 1 <= month <= 12 and 1 <= day <= calendar.monthrange(year, month)[1]


def _is_account_number(text: str) -> bool:
    """ISO 13616-1: country and check digits moved behind, letters as 10 to 35, the remainder by 97 is 1."""
    if len(text) <= 10 or not re.fullmatch(r"[0-9A-Z]+", text):
        return False
    return int("".join(str(int(character, 36)) for character in text[4:] + text[:4])) % 97 == 1


def _is_place_in_row(text: str) -> bool:
    match = re.fullmatch(r"([1-9][0-9]*)/([1-9][0-9]*)", text)
    return match is not None and int(match[1]) <= int(match[2])


def _is_piece_of_total(text: str) -> bool:
    return 1 <= int(text[:2]) <= int(text[2:])


def _below(limit: int) -> Callable[[str], bool]:
    return lambda text: int(text) < limit


def _one_of(characters: str) -> Callable[[str], bool]:
    return lambda text: text in tuple(characters)


_LISTED = {
    "country": ("countries", "a numeric country code of ISO 3166", None),
    "country_or_999": ("countries", "a numeric country code of ISO 3166, or 999", "999"),
    "country_letters": ("country_letters", "a country code of two capitals of ISO 3166", None),
    "country_letters_first": ("country_letters", "an account number that begins with a country code of ISO 3166", None),
    "package_type": ("package_types", "a package type of UN/ECE Recommendation 21", None),
    "currency": ("currencies", "a numeric currency code of ISO 4217", None),
}
_TESTS: Mapping[str, tuple[Callable[[str], bool], str]] = {
    "check_digit": (_has_check_digit, "a number whose check digit fits"),
    "check_pair": (_has_check_pair, "a model number whose check characters fit"),
    "prefix": (lambda text: text[:4].isdigit() and len(text) >= 4, "a GS1 company prefix, so digits in the first four places"),
    "date": (_is_date, "a date YYMMDD that exists"),
    "date_or_month": (_is_date_or_month, "a date YYMMDD that exists, or day 00 for the month alone"),
    "hour": (_below(24), "a date with an hour of 00 to 23"),
    "minute": (_below(60), "a date with a minute of 00 to 59"),
    "second": (_below(60), "a date with a second of 00 to 59"),
    "hour_minute": (lambda text: int(text[:2]) < 24 and int(text[2:]) < 60, "a date with a time HHMM of 0000 to 2359"),
    "piece_of_total": (_is_piece_of_total, "the number of a piece and a total not below it"),
    "importer_index": (_IMPORTER.issuperset, "an importer index of letters, digits, - and _"),
    "no_leading_zero": (lambda text: text == "0" or text[0] != "0", "a number without leading zero"),
    "not_zero": (lambda text: int(text) > 0, "a number above zero"),
    "zero": (lambda text: text == "0", "a leading zero"),
    "winding": (_one_of("019"), "the winding direction 0, 1 or 9"),
    "yes_no": (_one_of("01"), "0 for no or 1 for yes"),
    "sex": (_one_of("0129"), "a code of ISO 5218: 0, 1, 2 or 9"),
    "hyphen": (_one_of("-"), "a hyphen, for below zero, or nothing"),
    "latitude": (_below(1_800_000_001), "a latitude of 0000000000 to 1800000000"),
    "longitude": (_below(3_600_000_001), "a longitude of 0000000000 to 3600000000"),
    "full_date": (_is_full_date, "a date YYYYMMDD that exists"),
    "percent_encoded": (lambda text: not re.search(r"%(?![0-9A-Fa-f]{2})", text), "two hexadecimal digits after each %"),
    "media_type": (lambda text: 1 <= int(text) <= 10 or int(text) >= 80, "a media type of 01 to 10 or 80 to 99"),
    "iban": (_is_account_number, "an account number whose check digits fit"),
    "place_in_row": (_is_place_in_row, "a place and a number not below it, such as 1/2"),
    "not_all_digits": (lambda text: not text.isdigit(), "at least one character that is no digit"),
    "coupon": (is_coupon, "the fields of a North American coupon"),
    "offer_coupon": (is_offer_coupon, "the fields of a North American coupon with its offer on file"),
}
