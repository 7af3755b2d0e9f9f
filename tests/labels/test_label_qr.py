"""The quick QR against the package's own slow one: the same matrices, module by module."""

import random

import numpy as np
import pytest
import qrcode
import zxingcpp
from hypothesis import given, settings
from hypothesis import strategies as st
from qrcode.constants import ERROR_CORRECT_M
from qrcode.exceptions import DataOverflowError

from labelsvc.labels.qr import matrix

ALPHANUMERIC = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:"


def by_the_package(data: bytes) -> tuple[str, ...]:
    code = qrcode.QRCode(error_correction=ERROR_CORRECT_M, border=0)
    code.add_data(data)
    code.make(fit=True)
    return tuple("".join("1" if dark else "0" for dark in row) for row in code.modules)


@pytest.mark.parametrize(
    "length", [1, 2, 3, 10, 14, 15, 26, 27, 62, 63, 84, 85, 106, 107, 122, 150, 180, 213, 300, 400, 700, 1000, 2331]
)
def test_matrix_is_the_packages_own_at_every_size(length: int) -> None:
    chance = random.Random(length)
    data = bytes(chance.randrange(32, 127) for _ in range(length))
    assert matrix(data) == by_the_package(data)


@given(
    st.one_of(
        st.binary(min_size=1, max_size=120),
        st.text("0123456789", min_size=1, max_size=200).map(str.encode),
        st.text(ALPHANUMERIC, min_size=1, max_size=150).map(str.encode),
        st.tuples(st.text(ALPHANUMERIC, max_size=60), st.text("0123456789", max_size=60), st.text(min_size=1, max_size=20)).map(
            lambda parts: "".join(parts).encode()
        ),
    )
)
@settings(max_examples=150, deadline=None, derandomize=True)
def test_matrix_of_any_data_is_the_packages_own(data: bytes) -> None:
    assert matrix(data) == by_the_package(data)


@pytest.mark.parametrize("length", [1, 2, 11, 12, 24, 25, 40, 60, 61, 105, 178, 179, 400, 1000, 2329])
def test_code_of_gs1_elements_is_read_as_such_by_an_outsider_at_every_size(length: int) -> None:
    # the package cannot write FNC1; the reader says ]Q3 (ISO/IEC 15424) and gives separators as 29, and a % as it is
    chance = random.Random(length)
    letters = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789!\"%&'()*+,-./:;<=>?_\x1d"
    data = "".join(chance.choice(letters) for _ in range(length)).encode()
    rows = [f"0000{row}0000" for row in matrix(data, is_gs1=True)]
    dots = np.array([[255 * (bit == "0") for bit in row] for row in ["0" * len(rows[0])] * 4 + rows + ["0" * len(rows[0])] * 4])
    (read,) = zxingcpp.read_barcodes(dots.astype(np.uint8).repeat(3, 0).repeat(3, 1))
    assert (read.symbology_identifier, read.bytes) == ("]Q3", data)


def test_more_than_a_symbol_holds_is_an_overflow() -> None:
    # ISO/IEC 18004 table 7: version 40 at level M holds 2331 bytes
    with pytest.raises(DataOverflowError):
        matrix(b"\xff" * 2332)
    with pytest.raises(DataOverflowError):
        matrix(b"A" * 2332, is_gs1=True)
