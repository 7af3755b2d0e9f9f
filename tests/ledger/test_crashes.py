"""A station killed in the middle of its work loses nothing that was acknowledged, leaves nothing half, doubles nothing.

Bounded here; ``python -m benchmarks.crashes --kills 200`` in ``tests`` is the whole of it.
"""

import pytest
from benchmarks.crashes import crash

KILLS = 6


@pytest.mark.parametrize("stations", [3])
def test_stations_when_killed_at_random_moments_then_nothing_is_lost_half_or_doubled(file_shop, tmp_path, stations):
    before = file_shop.facts()
    found = crash(file_shop.url, tmp_path, kills=KILLS, stations=stations)
    assert found["answers"] >= KILLS
    assert 0 <= found["unheard"] <= KILLS + stations
    assert found["facts"] == before + found["answers"] + found["unheard"]
