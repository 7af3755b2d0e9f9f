"""The module patterns of QR, GS1 QR, Code 128, GS1-128 and EAN-13: nothing is drawn here, and nothing wrong is let through.

The bar patterns come from python-barcode, with a new object for every symbol (its ``build`` keeps state), and never with
its own checks, because it accepts empty text, brackets and wrong check digits. Quiet zones: ISO/IEC 15417 (10 modules),
ISO/IEC 15420 (11 and 7), ISO/IEC 18004 (4).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import lru_cache

from barcode.codex import Code128, Gs1_128
from barcode.ean import EuropeanArticleNumber13
from qrcode.exceptions import DataOverflowError

from labelsvc.codes.article_number import check_digit
from labelsvc.codes.gs1_content import SETS
from labelsvc.errors import CodeError
from labelsvc.labels.marks import Pattern, SymbolKind
from labelsvc.labels.qr import matrix

FNC1_START = "]C1"  # how a scanner reports, and the contract writes, a GS1-128
GS1_QR_START = "]Q3"  # and a QR code of GS1 elements
SEPARATOR = "\x1d"
_SET_82, _ = SETS["X"]
_PRINTABLE = frozenset(map(chr, range(32, 127)))
_LONGEST_GS1 = 48  # data characters of one GS1-128, separators included (GS1 General Specifications 5.4.4.3)
_GTIN_LENGTHS = {"00": 18, "01": 14, "02": 14}  # identifiers whose value ends in a check digit


def encode(kind: SymbolKind, data: str, field: str) -> Pattern:
    """Return the modules of a symbol.

    Args:
        kind: qr, ean13, code128, gs1_128, gs1_qr, or code128_or_gs1_128: one of the three before it, by how its data begins.
        data: printable ASCII; for gs1_128 scan data that begins ``]C1``, for gs1_qr ``]Q3``, with U+001D as separator; for ean13
            13 digits.
        field: how an error names it.

    Raises:
        CodeError: data the symbol cannot carry, or a wrong check digit.
    """
    return _ENCODERS[kind](data, field)


@lru_cache(maxsize=64)
def _code128(data: str, field: str) -> Pattern:
    _refuse_others(data, _PRINTABLE, field, "at least one printable ASCII character and no others")
    return Pattern("code128", data, tuple(Code128(data).build()), (10, 10), "]C0", data.encode("ascii"))


@lru_cache(maxsize=64)
def _gs1_128(data: str, field: str) -> Pattern:
    body = _elements(data, FNC1_START, field)
    if len(body) > _LONGEST_GS1:
        raise CodeError(field, f"at most {_LONGEST_GS1} characters in one symbol", f"{len(body)} characters")
    pattern = Gs1_128(body.replace(SEPARATOR, Gs1_128.FNC1_CHAR)).build()
    return Pattern("gs1_128", data, tuple(pattern), (10, 10), FNC1_START, body.encode("ascii"))


@lru_cache(maxsize=64)
def _gs1_qr(data: str, field: str) -> Pattern:
    body = _elements(data, GS1_QR_START, field).encode("ascii")
    try:
        rows = matrix(body, is_gs1=True)
    except DataOverflowError as error:
        raise CodeError(field, "elements short enough for a QR code", f"{len(body)} characters") from error
    return Pattern("gs1_qr", data, rows, (4, 4), GS1_QR_START, body)


@lru_cache(maxsize=64)
def _ean13(data: str, field: str) -> Pattern:
    if len(data) != 13 or not (data.isascii() and data.isdigit()):
        raise CodeError(field, "13 digits", data)
    _refuse_wrong_check_digit(data, field)
    pattern = EuropeanArticleNumber13(data, no_checksum=True).build()
    return Pattern("ean13", data, tuple(pattern), (11, 7), "]E0", data.encode("ascii"))


@lru_cache(maxsize=64)
def _qr(data: str, field: str) -> Pattern:
    _refuse_others(data, _PRINTABLE, field, "at least one printable ASCII character and no others")
    try:
        rows = matrix(data.encode("ascii"))
    except DataOverflowError as error:
        raise CodeError(field, "text short enough for a QR code", f"{len(data)} characters") from error
    return Pattern("qr", data, rows, (4, 4), "]Q1", data.encode("ascii"))


_BY_START = {FNC1_START: _gs1_128, GS1_QR_START: _gs1_qr}
_ENCODERS: Mapping[SymbolKind, Callable[[str, str], Pattern]] = {
    "qr": _qr,
    "code128": _code128,
    "gs1_128": _gs1_128,
    "gs1_qr": _gs1_qr,
    "code128_or_gs1_128": lambda data, field: _BY_START.get(data[: len(FNC1_START)], _code128)(data, field),
    "ean13": _ean13,
}


def _refuse_others(data: str, allowed: frozenset[str], field: str, expected: str) -> None:
    if not data or not allowed.issuperset(data):
        raise CodeError(field, expected, repr(data))


def _elements(data: str, start: str, field: str) -> str:
    """Return scan data without its start, its characters, identifiers and check digit looked at."""
    if not data.startswith(start):
        raise CodeError(field, f"GS1 scan data that begins {start}", data)
    body = data.removeprefix(start)
    for element in body.split(SEPARATOR):
        _refuse_others(element, _SET_82, field, "GS1 elements of the 82 characters of the standard")
        if not element[:2].isdigit():
            raise CodeError(field, "elements that begin with the digits of an identifier, without brackets", element)
    _refuse_wrong_key(body, field)
    return body


def _refuse_wrong_key(body: str, field: str) -> None:
    length = _GTIN_LENGTHS.get(body[:2])
    if length is None:
        return
    key = body[2 : 2 + length]
    if len(key) != length or not key.isdigit():
        raise CodeError(field, f"{length} digits after ({body[:2]})", key)
    _refuse_wrong_check_digit(key, field)


def _refuse_wrong_check_digit(number: str, field: str) -> None:
    """Refuse a number whose last digit is not its check digit."""
    check = check_digit(number[:-1])
    if number[-1] != check:
        raise CodeError(field, f"the check digit {check}", f"{number} with the check digit {number[-1]}")
