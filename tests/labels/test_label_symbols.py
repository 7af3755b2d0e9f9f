"""Module patterns against the counts of the standards, and what no symbol may carry."""

import pytest
from label_samples import ean13

from labelsvc.errors import CodeError
from labelsvc.labels.marks import SymbolKind
from labelsvc.labels.symbols import encode

REFUSED: list[tuple[SymbolKind, str, str]] = [
    ("code128", "", "printable ASCII"),
    ("code128", "P26ö", "printable ASCII"),
    ("code128", "P26\n", "printable ASCII"),
    ("qr", "", "printable ASCII"),
    ("qr", "https://example.com/ü", "printable ASCII"),
    ("qr", "x" * 2400, "short enough"),
    ("ean13", "952123454321", "13 digits"),
    ("ean13", "95212345432133", "13 digits"),
    ("ean13", "952123454321A", "13 digits"),
    ("ean13", "９521234543213", "13 digits"),
    ("ean13", "9521234543214", "the check digit 3, got 9521234543214 with the check digit 4"),
    ("gs1_128", "", "begins ]C1"),
    ("gs1_128", "(01)09521234543213", "begins ]C1"),
    ("gs1_128", "0109521234543213", "begins ]C1"),
    ("gs1_128", "]C1", "82 characters"),
    ("gs1_128", "]C1(01)09521234543213", "without brackets"),
    ("gs1_128", "]C10109521234543214", "the check digit 3"),
    ("gs1_128", "]C10195212345432", "14 digits after (01)"),
    ("gs1_128", "]C110A B", "82 characters"),
    ("gs1_128", "]C110ABC\x1d", "82 characters"),
    ("gs1_qr", "]C1010952123454321", "begins ]Q3"),
    ("gs1_qr", "]Q30109521234543214", "the check digit 3"),
    ("gs1_qr", "]Q310" + "A" * 2330, "short enough"),
    ("gs1_128", "]C191" + "A" * 47, "at most 48 characters in one symbol, got 49 characters"),
]


@pytest.mark.parametrize(("kind", "data", "said"), REFUSED)
def test_data_a_symbol_cannot_carry_is_refused(kind: SymbolKind, data: str, said: str) -> None:
    with pytest.raises(CodeError) as caught:
        encode(kind, data, "tag.toml it")
    assert said in caught.value.message
    assert caught.value.message.startswith("tag.toml it: expected ")


@pytest.mark.parametrize("number", ["6291041500213", "9521234543213"])
def test_ean13_with_its_published_check_digit_has_95_modules(number: str) -> None:
    # 629104150021 -> 3 is the worked example of the GS1 check digit (General Specifications 7.9.1)
    (row,) = encode("ean13", number, "it").rows
    # ISO/IEC 15420: guards 3 + 5 + 3 and twelve figures of 7 modules; each figure has two bars
    assert len(row) == 95
    assert row.startswith("101")
    assert row.endswith("101")
    assert row[45:50] == "01010"
    assert row.count("01") + 1 == 2 + 2 + 2 + 12 * 2


def test_every_ean13_with_one_wrong_digit_is_refused() -> None:
    right = ean13("952987654321")
    assert encode("ean13", right, "it").reads == right.encode()
    for place in range(13):
        for figure in "0123456789":
            if figure != right[place]:
                with pytest.raises(CodeError, match="check digit"):
                    encode("ean13", right[:place] + figure + right[place + 1 :], "it")


def test_code128_of_a_lot_code_is_as_wide_as_counted_by_hand() -> None:
    # start B, P, to C, 26, 11, 25, to B, A, 4, K, check: 11 characters of 11 modules, then a stop of 13
    (row,) = encode("code128", "P261125A4K", "it").rows
    assert len(row) == 11 * 11 + 13


def test_code128_pattern_does_not_change_when_it_is_asked_for_again() -> None:
    first = encode("code128", "A123456B", "it").rows
    encode.__globals__["_code128"].cache_clear()
    assert encode("code128", "A123456B", "it").rows == first


@pytest.mark.parametrize(("length", "modules"), [(14, 21), (15, 25), (26, 25), (42, 29), (62, 33), (84, 37), (85, 41)])
def test_qr_has_the_size_the_standard_gives_for_level_m(length: int, modules: int) -> None:
    # ISO/IEC 18004 table 7, level M, byte mode: version 1 holds 14, 2 holds 26, 3 holds 42, 4 holds 62, 5 holds 84
    rows = encode("qr", "x" * length, "it").rows
    assert len(rows) == modules
    assert {len(row) for row in rows} == {modules}
