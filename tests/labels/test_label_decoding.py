"""A sample of the labels of ``benchmarks.decoding``, read clean and spoiled; the command there reads two thousand."""

import pytest
from benchmarks.decoding import DAMAGE, LAYOUTS, read_back

LEAST = 0.95  # of the symbols read exactly when the raster is spoiled; clean, every one must


@pytest.mark.parametrize("dots_per_mm", [8, 12])
@pytest.mark.parametrize("name", LAYOUTS)
def test_symbols_read_exactly_clean_and_at_least_nineteen_in_twenty_spoiled(name: str, dots_per_mm: float) -> None:
    ((_, shares),) = read_back(2, dots_per_mm, [name])
    assert set(shares) == set(DAMAGE)
    assert shares["clean"] == 1
    assert min(shares.values()) >= LEAST
