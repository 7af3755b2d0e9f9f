"""A station killed in the middle of its work loses nothing that was acknowledged, leaves nothing half, doubles nothing.

At 200 random moments on each kind of database in CI, at 20 on a person's machine; ``python -m benchmarks.crashes`` in ``tests``
does as many as one likes.
"""

import os
from itertools import count

from benchmarks.crashes import crash_anew

KILLS = 200 if os.environ.get("CI") == "true" else 20
STATIONS = 3


def test_stations_when_killed_at_random_moments_then_nothing_is_lost_half_or_doubled(kind, request, tmp_path):
    names = count(1)

    def new_url():
        if kind == "sqlite":
            return f"sqlite:///{tmp_path}/{next(names)}.db"
        server = request.getfixturevalue("server")
        name = server.create()
        request.addfinalizer(lambda: server.drop(name))
        return server.url(name)

    *_, found = crash_anew(new_url, kills=KILLS, stations=STATIONS)
    assert found["answers"] >= KILLS
    assert 0 <= found["unheard"] <= KILLS + STATIONS * len(range(0, KILLS, 20))
