"""Immersion in a cover pickle: by pick-up (short cure) or run to equilibrium.

FSIS Directive 7620.3, page 21, method 1: ppm = nitrite * pick-up * 1 000 000 / pickle; page 22, method 2:
ppm = nitrite * 1 000 000 / (green weight + pickle). On one brine they can differ several-fold.
"""

from __future__ import annotations

from decimal import Decimal

from labelsvc.curing.pumped import portion_carried
from labelsvc.units import Mass, ratio


def portion_picked_up(mix: Mass, applied: Mass, green: Mass, pickle: Mass, pickup_percent: Decimal) -> Decimal:
    """Return the part of the mix as listed that the picked-up pickle carries: the same sum as a pump of that percent."""
    return portion_carried(mix, applied, green, pickle, pickup_percent)


def portion_at_equilibrium(mix: Mass, applied: Mass, green: Mass, pickle: Mass) -> Decimal:
    """Return the part of the mix as listed that is in the meat once meat and pickle are one system."""
    return ratio(applied.grams * green.grams, mix.grams * (green.grams + pickle.grams))
