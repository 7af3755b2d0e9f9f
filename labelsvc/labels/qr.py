"""QR code matrices at error correction level M, the same module by module as the qrcode package draws, some thirty times as fast.

The package's own tables and encoders are used; what it does module by module in Python lists is done here on whole matrices,
each one integer: bit ``row * stride + column`` is a module, and columns beyond the matrix stay empty so that a shifted row never
meets its neighbour. Source of the rules: ISO/IEC 18004, 7.4 (data), 7.5 (Reed-Solomon), 7.7 (placing), 7.8 (masks and penalties).
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache, reduce
from itertools import compress, zip_longest

from qrcode import QRCode, base, util
from qrcode.constants import ERROR_CORRECT_M
from qrcode.exceptions import DataOverflowError

_GUARD = 11  # empty columns after each row: the longest pattern that is looked for
_CHUNK = 20  # fewest characters for which the package changes the mode
_MASKS = range(8)
_PADDING = (0xEC, 0x11)
_FNC1_FIRST = (0b0101,)
_SAME_LENGTHS = (9, 26, 40)  # up to these versions the counts of characters have the same number of bits
_CAPACITY: Sequence[int] = util.BIT_LIMIT_TABLE[ERROR_CORRECT_M]  # bits of data by version


class _Bits:
    """Bits that are put one behind the other, as the package's encoders do."""

    def __init__(self) -> None:
        self.value, self.length = 0, 0

    def put(self, number: int, length: int) -> None:
        self.value = self.value << length | number
        self.length += length


@dataclass(frozen=True)
class _Frame:
    """What is the same in all symbols of one version: integers hold one bit a module."""

    size: int
    data_places: tuple[int, ...]
    masks: tuple[int, ...]
    blank: int
    formatted: tuple[int, ...]
    pairs_across: int
    pairs_down: int
    elevens_across: int
    elevens_down: int

    @property
    def stride(self) -> int:
        return self.size + _GUARD


def matrix(data: bytes, *, is_gs1: bool = False) -> tuple[str, ...]:
    """Return the rows of the smallest QR code that holds the data, ``1`` a dark module.

    Args:
        data: what it says.
        is_gs1: whether a reader is told that these are GS1 elements (FNC1 in first position, ISO/IEC 18004 7.4.8.2); the
            package cannot say it. They then stand as bytes, because in the shorter mode for letters a % would mean a separator.

    Raises:
        DataOverflowError: more than a QR code holds.
    """
    chunks = [util.QRData(data, util.MODE_8BIT_BYTE)] if is_gs1 else list(util.optimal_data_chunks(data, minimum=_CHUNK))
    version, bits = _encoded(chunks, _FNC1_FIRST if is_gs1 else ())
    frame = _frame(version)
    codewords = _codewords(version, bits)
    said = f"{int.from_bytes(codewords, 'big'):0{8 * len(codewords)}b}"
    placed = sum(compress(frame.data_places, map(int, said)))
    penalties = [_penalty((placed ^ mask) | frame.blank, frame) for mask in frame.masks]
    best = penalties.index(min(penalties))
    whole = (placed ^ frame.masks[best]) | frame.formatted[best]
    row_bits = (1 << frame.size) - 1
    return tuple(f"{whole >> row * frame.stride & row_bits:0{frame.size}b}"[::-1] for row in range(frame.size))


def _encoded(chunks: Sequence[util.QRData], before: Sequence[int]) -> tuple[int, _Bits]:
    """Return the smallest version and the bits: what stands before, mode, length and characters of each chunk, end, padding."""
    for last in _SAME_LENGTHS:
        bits = _Bits()
        for indicator in before:
            bits.put(indicator, 4)
        for chunk in chunks:
            bits.put(chunk.mode, 4)
            bits.put(len(chunk), util.length_in_bits(chunk.mode, last))
            chunk.write(bits)
        version = bisect_left(_CAPACITY, bits.length)
        if version <= last:
            _fill(bits, _CAPACITY[version])
            return version, bits
    raise DataOverflowError


def _fill(bits: _Bits, capacity: int) -> None:
    """End the data and fill the symbol."""
    bits.put(0, min(4, capacity - bits.length))
    bits.put(0, -bits.length % 8)
    for place in range((capacity - bits.length) // 8):
        bits.put(_PADDING[place % 2], 8)


def _codewords(version: int, bits: _Bits) -> bytes:
    """Return data and error correction codewords, the blocks interleaved."""
    rest = memoryview(bits.value.to_bytes(bits.length // 8, "big"))
    data, corrections = [], []
    for block in base.rs_blocks(version, ERROR_CORRECT_M):
        data.append(rest[: block.data_count])
        corrections.append(_correction(rest[: block.data_count], block.total_count - block.data_count))
        rest = rest[block.data_count :]
    return bytes(one for blocks in (data, corrections) for column in zip_longest(*blocks) for one in column if one is not None)


def _correction(data: Sequence[int], count: int) -> bytes:
    """Return the remainder of the data by the generator: one shift and one exclusive or a byte."""
    table, top, mask = _remainders(count), 8 * (count - 1), (1 << 8 * count) - 1
    rest = 0
    for byte in data:
        rest = (rest << 8 & mask) ^ table[(rest >> top) ^ byte]
    return rest.to_bytes(count, "big")


@cache
def _remainders(count: int) -> tuple[int, ...]:
    """Return for each byte its product with the generator polynomial of so many error correction codewords."""
    generator = reduce(lambda left, right: left * right, (base.Polynomial([1, base.gexp(i)], 0) for i in range(count)))
    logs = [base.glog(factor) for factor in list(generator)[1:]]
    products = [bytes(base.gexp(base.glog(byte) + log) for log in logs) for byte in range(1, 256)]
    return (0, *(int.from_bytes(product, "big") for product in products))


def _penalty(modules: int, frame: _Frame) -> int:
    """Return the penalty of a masked symbol: long runs, blocks of four, patterns like a finder, share of dark modules."""
    stride = frame.stride
    across = ~(modules ^ modules >> 1) & frame.pairs_across
    down = ~(modules ^ modules >> stride) & frame.pairs_down
    points = _runs(across, 1) + _runs(down, stride) + 3 * (across & across >> stride & down).bit_count()
    points += 40 * (_like_a_finder(modules, 1, frame.elevens_across) + _like_a_finder(modules, stride, frame.elevens_down))
    percent = float(modules.bit_count()) / frame.size**2
    return points + int(abs(percent * 100 - 50) / 5) * 10


def _runs(pairs: int, step: int) -> int:
    """Return 3 for each run of five equal modules and 1 for each more; ``pairs`` marks modules equal to the next one."""
    two = pairs & pairs >> step
    four = two & two >> 2 * step
    return four.bit_count() + 2 * (four & ~(four << step)).bit_count()


def _like_a_finder(modules: int, step: int, starts: int) -> int:
    """Count dark-light-dark-dark-dark-light-dark with four light ones before or behind it."""
    at = [modules >> place * step for place in range(11)]
    core = starts & ~at[1] & at[4] & ~at[5] & at[6] & ~at[9]
    before = core & at[0] & at[2] & at[3] & ~at[7] & ~at[8] & ~at[10]
    behind = core & ~at[0] & ~at[2] & ~at[3] & at[7] & at[8] & at[10]
    return (before | behind).bit_count()


@cache
def _frame(version: int) -> _Frame:
    """Return what all symbols of a version share, drawn by the package once without any data."""
    code = QRCode(version=version, error_correction=ERROR_CORRECT_M)
    code.data_cache, code.map_data = [], lambda data, mask: None  # the modules of data stay None
    code.makeImpl(True, 0)
    size, blank = code.modules_count, code.modules
    stride = size + _GUARD
    free = [(row, column) for row, column in _zigzag(size) if blank[row][column] is None]
    formatted = []
    for mask in _MASKS:
        code.makeImpl(False, mask)
        formatted.append(_dark(code.modules, stride))
    return _Frame(
        size,
        tuple(1 << row * stride + column for row, column in free),
        tuple(sum(1 << row * stride + column for row, column in free if util.mask_func(mask)(row, column)) for mask in _MASKS),
        _dark(blank, stride),
        tuple(formatted),
        _field(size, size - 1, stride),
        _field(size - 1, size, stride),
        _field(size, size - 10, stride),
        _field(size - 10, size, stride),
    )


def _dark(modules: Sequence[Sequence[bool | None]], stride: int) -> int:
    return sum(1 << row * stride + column for row, line in enumerate(modules) for column, dark in enumerate(line) if dark)


def _field(rows: int, columns: int, stride: int) -> int:
    """Return the modules of the first rows and columns."""
    return sum(((1 << columns) - 1) << row * stride for row in range(rows))


def _zigzag(size: int) -> Iterator[tuple[int, int]]:
    """Yield rows and columns in the order of the data: two columns at a time from the right, up and down by turns."""
    rows, upwards = range(size), True
    for right in (column if column > 6 else column - 1 for column in range(size - 1, 0, -2)):
        for row in reversed(rows) if upwards else rows:
            yield row, right
            yield row, right - 1
        upwards = not upwards
