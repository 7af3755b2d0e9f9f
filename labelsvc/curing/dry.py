"""Dry cures: all that is put on counts, less what was weighed back.

FSIS Directive 7620.3, page 24: ppm = nitrite * (mix applied / green weight) * 1 000 000 / weight of the mix; chopped
meat (page 12) is the same with all of the mix used.
"""

from __future__ import annotations

from decimal import Decimal

from labelsvc.errors import InputError
from labelsvc.units import Mass, ratio


def portion_applied(mix: Mass, applied: Mass, leftover: Mass) -> Decimal:
    """Return the part of the mix as listed that counts as gone in.

    Args:
        mix: weight of the mix as listed.
        applied: weight of that mix put on the meat.
        leftover: weight of mix taken off again.

    Raises:
        InputError: more is left over than was put on.
    """
    if leftover > applied:
        raise InputError("leftover", f"at most what was put on, {applied}", str(leftover))
    return ratio(applied.grams - leftover.grams, mix.grams)
