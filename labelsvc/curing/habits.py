"""Rules of thumb of the trade, looked at instead of followed: the contract ``compute habit``.

Each answer says what the habit can mean in grams and ppm, what it cannot tell, and what is needed instead. The figures are common
practice without authority and stand, with where they were seen, in ``habits.toml``.
"""

from __future__ import annotations

import datetime as dt
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import cache
from importlib import resources
from typing import Any, Literal, Self

from labelsvc.curing.advice import advice, caution
from labelsvc.curing.amounts import Ingoing, amounts_on
from labelsvc.curing.limits import check_limits, must_be_held
from labelsvc.curing.mix import WHOLE, MixLine
from labelsvc.curing.salts import POTASSIUM_NITRATE, SODIUM_NITRATE, SODIUM_NITRITE, Substance
from labelsvc.errors import InputError
from labelsvc.rules.finding import Finding
from labelsvc.shape import Exact, Percent, Shape, Weighed, read_shape
from labelsvc.units import Mass, plain, ratio, round_half_up

KNOWN = "common practice, no source"
_POUND, _KILOGRAM, _INCH_CM = Decimal("453.59237"), Decimal(1000), Decimal("2.54")
Measure = Literal["teaspoon", "tablespoon", "cup"]


class Count(Exact):
    """How many: more than nothing, at most 10 000."""

    least, most = 0, 10_000

    @classmethod
    def read(cls, value: object) -> Self:
        """Return the number of a JSON value."""
        count = super().read(value)
        if count.is_zero():
            raise InputError("", "a number above 0", str(value))
        return count


@dataclass(frozen=True)
class Reading:
    """One thing that a habit can mean.

    Args:
        what: in words.
        least: lowest value, plain decimal.
        most: highest value.
        unit: of both.
        source: where the range comes from.
    """

    what: str
    least: str
    most: str
    unit: str
    source: str


@dataclass(frozen=True)
class Opinion:
    """What there is to say about a habit."""

    can_mean: tuple[Reading, ...]
    cannot_tell: tuple[str, ...]
    needs: tuple[str, ...]
    findings: tuple[Finding, ...] = ()


class EqualVolumes(Shape, frozen=True):
    """Salt and sugar measured by equal volumes."""

    habit: Literal["equal_volumes"]
    amount: Count
    measure: Measure
    green_weight: Weighed

    def opinion(self) -> Opinion:
        """Return the grams and the share of the meat that as much salt and as much sugar can be."""
        readings = []
        for what in ("salt", "sugar"):
            (least, most), source = _grams(what, self.amount, self.measure)
            percent = [ratio(100 * grams, self.green_weight.grams) for grams in (least, most)]
            readings.append(_reading(what, (least, most), "g", source, places=1))
            readings.append(_reading(f"{what} on the meat", percent, "% of green weight", source, places=2))
        (salt, _), (sugar, _) = _grams("salt", 1, "cup"), _grams("sugar", 1, "cup")
        between = ratio(salt[0], sugar[1]), ratio(salt[1], sugar[0])
        readings.append(_reading("salt for each gram of sugar", between, "g", "the two ranges above", places=2))
        return Opinion(
            tuple(readings),
            ("which salt it is: fine salt weighs more than twice as much as large flakes", "how the measure was filled"),
            ("put both on a scale and take them by percent of the green weight of the piece",),
        )


class BySpoon(Shape, frozen=True, kw_only=True, rename={"class_": "class"}):
    """Saltpetre or curing salt measured by the spoon."""

    habit: Literal["by_the_spoon"]
    what: Literal["saltpetre", "curing_salt"]
    amount: Count
    measure: Measure
    green_weight: Weighed
    market: str
    class_: str
    on: dt.date
    sodium_nitrite_percent: Percent | None = None

    def __post_init__(self) -> None:
        if (self.what == "curing_salt") != (self.sodium_nitrite_percent is not None):
            expected = "what the bag states" if self.what == "curing_salt" else "no such field with saltpetre"
            got = "none" if self.sodium_nitrite_percent is None else plain(self.sodium_nitrite_percent)
            raise InputError("sodium_nitrite_percent", expected, got)

    def opinion(self) -> Opinion:
        """Return the grams and ppm that the spoon can bring, and what the law says of the least and of the most."""
        readings: list[Reading] = []
        lows: list[Ingoing] = []
        highs: list[Ingoing] = []
        for name, substance, strength in self._bags():
            grams, source = _grams(name, self.amount, self.measure)
            low, high = (self._ingoing(weight, substance, strength) for weight in grams)
            salt = SODIUM_NITRITE if substance == SODIUM_NITRITE else SODIUM_NITRATE
            ppm = low.as_salt(salt), high.as_salt(salt)
            readings.append(_reading(f"if it is {name}", grams, "g", source, places=2))
            readings.append(_reading(f"if it is {name}", ppm, f"ppm as {salt.name}", source, places=1))
            lows.append(low)
            highs.append(high)
        return Opinion(
            tuple(readings),
            tuple(self._unknown()),
            ("put it on a scale that shows hundredths of a gram, and let the dose be worked out from the green weight",),
            (*self._verdict(lows, highs), caution()),
        )

    def _bags(self) -> list[tuple[str, Substance, Decimal]]:
        if self.what == "curing_salt":
            return [("curing salt", SODIUM_NITRITE, Decimal(self.sodium_nitrite_percent or 0))]
        return [("potassium nitrate", POTASSIUM_NITRATE, WHOLE), ("sodium nitrate", SODIUM_NITRATE, WHOLE)]

    def _ingoing(self, grams: Decimal, substance: Substance, strength: Decimal) -> Ingoing:
        return amounts_on(self.green_weight, [MixLine(substance.name, Mass(grams), ((substance, strength),))])

    def _unknown(self) -> list[str]:
        unknown = ["how the spoon was filled and how large it is: two sets of spoons differed by a quarter"]
        if self.what == "saltpetre":
            unknown.insert(0, "whether the jar holds potassium nitrate or sodium nitrate: let the label say it")
            unknown.append("how much nitrite comes of it in the meat")
        return unknown

    def _verdict(self, lows: list[Ingoing], highs: list[Ingoing]) -> list[Finding]:
        sure = [[one for one in self._check(low) if one.exceeded and one.severity == "stop"] for low in lows]
        if all(sure):
            message = "Over a limit of the law whichever spoon it was: do not use it"
            return [advice("curing.habit.over_whichever_spoon", message, severity="warn"), *sure[0]]
        maybe = [one for high in highs for one in self._check(high) if one.exceeded and one.severity == "stop"]
        if maybe:
            message = f"May be over a limit of the law, and nobody can tell. With the fullest spoon: {maybe[0].message}"
            return [advice("curing.habit.may_be_over", message, severity="warn")]
        if any(must_be_held(one) for high in highs for one in self._check(high)):
            message = "The law's figure is not confirmed, or is for the finished product: unchecked, not fine"
            return [advice("curing.habit.unchecked", message, severity="warn")]
        return [advice("curing.habit.within", "Within the limits of the law with the fullest spoon; a spoon is still no scale")]

    def _check(self, ingoing: Ingoing) -> list[Finding]:
        return check_limits(ingoing, self.market, self.class_, self.on)


class DaysInCure(Shape, frozen=True, kw_only=True):
    """Days in the cure by habit."""

    habit: Literal["days_in_cure"]
    weight: Weighed
    thickness_cm: Count | None = None
    days: Count | None = None
    offered_salt: Weighed | None = None

    def opinion(self) -> Opinion:
        """Return how many days each rule of thumb asks for, and what the piece can have taken up meanwhile."""
        readings = [reading for row in _practice()["days"] if (reading := self._row(row)) is not None]
        findings: list[Finding] = []
        if self.days is not None:
            asked = [reading for reading in readings if Decimal(reading.least) <= self.days]
            count = f"{len(asked)} of {len(readings)} rules"
            said = f"{plain(self.days)} days are enough by {count}; whether the cure is in, none can say"
            findings.append(advice("curing.habit.days", said, found=plain(self.days), unit="days"))
        if self.offered_salt is not None:
            most = ratio(100 * self.offered_salt.grams, self.weight.grams)
            source = "nothing to all of what was offered; no rule of thumb says more"
            readings.append(_reading("salt taken up", (Decimal(0), most), "% of green weight", source, places=2))
        return Opinion(
            tuple(readings),
            ("how much salt and nitrite is in the piece: it goes by weight, thickness, fat, skin and temperature",
             "whether it reached the middle"),
            ("weigh the cure for this piece and leave it until it is taken up: time past that does no harm",
             "after a salt box: a measured salt"),
            tuple(findings),
        )  # fmt: skip

    def _row(self, row: Mapping[str, Any]) -> Reading | None:
        units = self._units(row["unit"])
        if units is None:
            return None
        base = Decimal(row.get("base", 0))
        days = [base + Decimal(row[side]) * units for side in ("least", "most")]
        return _reading(f"by {row['rule']}", days, "days", row["source"], places=1)

    def _units(self, unit: str) -> Decimal | None:
        if unit in ("lb", "kg"):
            return ratio(self.weight.grams, _POUND if unit == "lb" else _KILOGRAM)
        if self.thickness_cm is None:
            return None
        inches = ratio(self.thickness_cm, _INCH_CM)
        return inches if unit == "inch" else inches * 2  # a radius is half of it, and four quarters make an inch


class WeeksHanging(Shape, frozen=True, kw_only=True):
    """Weeks of hanging by habit."""

    habit: Literal["weeks_hanging"]
    product: str
    weeks: Count
    green_weight: Weighed
    salt_percent: Percent | None = None

    def __post_init__(self) -> None:
        if self.product not in hanging_products():
            raise InputError("product", f"one of {', '.join(hanging_products())}", self.product)

    def opinion(self) -> Opinion:
        """Return what others lost in which time, the weights that would be, and the salt that would be left in them."""
        row = next(row for row in _practice()["hanging"] if row["product"] == self.product)
        days, source = (row["days_least"], row["days_most"]), row["source"]
        lost = Decimal(row["loss_least"]), Decimal(row["loss_most"])
        kept = [ratio(self.green_weight.grams * (100 - loss), 100) for loss in reversed(lost)]
        readings = [
            _reading("days others hang it", [Decimal(day) for day in days], "days", source, places=0),
            _reading("loss others end at", lost, "% of green weight", source, places=1),
            _reading("weight at that loss", kept, "g", source, places=0),
        ]
        if self.salt_percent is not None:
            salt = [ratio(self.salt_percent * 100, 100 - loss) for loss in lost]
            readings.append(_reading("salt in it then, if none ran off", salt, "% of the finished piece", source, places=2))
        asked = self.weeks * 7
        where = "shorter than" if asked < days[0] else "longer than" if asked > days[1] else "among"
        said = (
            f"{plain(self.weeks)} weeks are {where} the {days[0]} to {days[1]} days of others, which says nothing of this piece"
        )
        return Opinion(
            tuple(readings),
            ("how fast this piece dries: it goes by the room, thickness, fat and salt",
             "its water activity: a loss of weight is no test of safety"),
            ("the weight when it was strung, and a weighing now and then: from two of them a day can be foreseen",
             "a measured water activity or salt where the sale rests on it"),
            (advice("curing.habit.weeks", said, found=plain(asked), unit="days"),),
        )  # fmt: skip


HABITS: Mapping[str, type[EqualVolumes | BySpoon | DaysInCure | WeeksHanging]] = {
    "equal_volumes": EqualVolumes,
    "by_the_spoon": BySpoon,
    "days_in_cure": DaysInCure,
    "weeks_hanging": WeeksHanging,
}


def compute_habit(request: Mapping[str, Any]) -> dict[str, Any]:
    """Answer the contract ``habit``.

    Args:
        request: ``habit`` names one of ``HABITS``; the other fields are those of its shape.

    Returns:
        ``{habit, known, can_mean: [{what, least, most, unit, source}], cannot_tell, needs, findings}``.

    Raises:
        InputError: names the field, what was expected and what was given.
    """
    habit = request.get("habit")
    if not isinstance(habit, str) or habit not in HABITS:
        raise InputError("habit", f"one of {', '.join(HABITS)}", "none" if habit is None else str(habit))
    told = read_shape(HABITS[habit], request, "habit", strict=True).opinion()
    return {
        "habit": habit,
        "known": KNOWN,
        "can_mean": [vars(reading) for reading in told.can_mean],
        "cannot_tell": list(told.cannot_tell),
        "needs": list(told.needs),
        "findings": [finding.as_json() for finding in told.findings],
    }


def hanging_products() -> tuple[str, ...]:
    """Return what others' weeks of hanging are known for."""
    return tuple(row["product"] for row in _practice()["hanging"])


@cache
def _practice() -> Mapping[str, Any]:
    return tomllib.loads((resources.files("labelsvc.curing") / "habits.toml").read_text(encoding="utf-8"))


def _grams(what: str, amount: Decimal | int, measure: Measure) -> tuple[tuple[Decimal, Decimal], str]:
    """Return the least and most grams in some measures of a thing, and where the figures come from."""
    row = next(row for row in _practice()["holds"] if row["what"] == what)
    size = _practice()["measures"]
    share = ratio(Decimal(amount) * size[measure], size[row["measure"]])
    return (Decimal(row["least"]) * share, Decimal(row["most"]) * share), row["source"]


def _reading(what: str, between: Sequence[Decimal], unit: str, source: str, *, places: int) -> Reading:
    least, most = (plain(round_half_up(value, places)) for value in between)
    return Reading(what, least, most, unit, source)
