"""Against floods of complaints: so many an hour from one sender, about one pack, and altogether; kept in memory only."""

from __future__ import annotations

import datetime as dt
from collections import deque
from collections.abc import Mapping

# An hour's complaints that a workshop of ten people could still read (our own choice, no source).
MOST_AN_HOUR = {"sender": 10, "pack": 10, "all": 100}
_HOUR = dt.timedelta(hours=1)


class Floods:
    """Counts what came within the last hour."""

    def __init__(self) -> None:
        self._came: dict[tuple[str, str], deque[dt.datetime]] = {}

    def lets_in(self, keys: Mapping[str, str], now: dt.datetime) -> bool:
        """Count one more and tell whether it may come in; what may not is not counted.

        Args:
            keys: for each kind of ``MOST_AN_HOUR``, which one.
            now: the present.
        """
        self._forget(now)
        if any(len(self._came.get(key, ())) >= MOST_AN_HOUR[key[0]] for key in keys.items()):
            return False
        for key in keys.items():
            self._came.setdefault(key, deque()).append(now)
        return True

    def _forget(self, now: dt.datetime) -> None:
        for key, times in list(self._came.items()):
            while times and now - times[0] >= _HOUR:
                times.popleft()
            if not times:
                del self._came[key]
