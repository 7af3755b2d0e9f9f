"""What is known of the pack a label is for: where and how it is sold, what it weighs, what was measured."""

from __future__ import annotations

import datetime as dt

from labelsvc import choices
from labelsvc.facts.cards import Country
from labelsvc.shape import Exact, Percent, Shape, Text, Weighed


class Measured(Shape, frozen=True):
    """What was measured of the food, as recorded; a thing that was not measured is not there."""

    water_activity: Exact | None = None
    ph: Exact | None = None
    water_phase_salt: Percent | None = None
    brine_percent: Percent | None = None
    protein_fat_free: Percent | None = None


class Packing(Shape, frozen=True):
    """One pack, or one of several that are alike.

    Args:
        market: ``eu``, ``gb`` or ``us``.
        language: of the label.
        on: the packing day; its rules apply.
        weight: of the contents of one pack, net.
        form: prepacked, direct, loose or bulk.
        country: where it is sold; the workshop's own where nobody said.
        best_before: the last day it keeps until, whatever the words on the label are.
        packs: equal packs inside that cannot be counted from outside.
        origins: countries of the meat, ``""`` where one is not known.
        origin_x_height_mm: x-height of the words on the label that name the food's origin.
        may_contain: allergens that a person decided to warn of.
        mark: an identification mark that stands on the stock already.
        cured_days: days of cure and equalization.
        total_days: from the cure to the packing.
        measured: what was measured.
        lot: its code.
    """

    market: Text
    language: Text
    on: dt.date
    weight: Weighed
    form: Text = Text("prepacked")
    country: Country | None = None
    best_before: dt.date | None = None
    packs: int = 1
    origins: tuple[str, ...] = ()
    origin_x_height_mm: Exact | None = None
    may_contain: tuple[Text, ...] = ()
    mark: str | None = None
    cured_days: int | None = None
    total_days: int | None = None
    measured: Measured = Measured()
    lot: str | None = None

    def __post_init__(self) -> None:
        choices.form_of_sale(self.form)

    @property
    def sold_as(self) -> str:
        """The form of sale: prepacked, direct, loose or bulk."""
        return choices.form_of_sale(self.form)
