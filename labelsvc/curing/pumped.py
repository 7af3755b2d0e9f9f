"""Pumped or massaged: the meat carries the pickle that was put into it.

FSIS Directive 7620.3, page 19: ppm = nitrite * pump * 1 000 000 / weight of the whole pickle, pump as a fraction of
green weight. The handbook prints the pump in percent but needs the fraction.
"""

from __future__ import annotations

from decimal import Decimal

from labelsvc.units import Mass, ratio


def portion_carried(mix: Mass, applied: Mass, green: Mass, pickle: Mass, gain_percent: Decimal) -> Decimal:
    """Return the part of the mix as listed that the pickle carries into the meat.

    Args:
        mix: weight of the mix as listed.
        applied: weight of that mix in the whole pickle.
        green: weight of the untreated meat.
        pickle: weight of the whole pickle, mix included.
        gain_percent: pickle taken in, percent of green weight.
    """
    return ratio(applied.grams * green.grams * gain_percent, mix.grams * pickle.grams * 100)
