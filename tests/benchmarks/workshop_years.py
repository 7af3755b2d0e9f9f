"""Realistic ledgers of any size: an invented workshop that works at the same pace for as many years as the size asks.

Where that were more than nineteen years it works faster: our rules do not reach further back.

An animal gives five to seven pieces; five to forty pieces share a tub with three to eight ingredient lots; each piece is
strung, weighed five times, released and packed into one to twenty packs (one in ten together with another piece); nine packs
in ten are sold, one to four at a time. One lot of salt is in a twentieth of everything, one lot of juniper in a single tub.
"""

from __future__ import annotations

import datetime as dt
import heapq
import random
from collections.abc import Callable, Generator
from contextlib import suppress
from dataclasses import dataclass
from typing import Any, NamedTuple

Step = tuple[float, str, dict[str, Any]]  # days to wait before it, kind of fact, fields
Work = Generator[Step, tuple[str, ...], None]  # a stretch of work; it is told the codes that each of its facts gave out

LAST_DAY = dt.datetime(2026, 11, 20, 18, tzinfo=dt.UTC)
MOST_DAYS = 19 * 365
TUB_DAYS = 2.6  # a new tub of pieces every so many days: about a hundred lots a day, pieces and packs together
LOTS_A_TUB = 275
TUBS_AT_WORK = 28  # in cure, hanging or being packed on the last day: about 600 pieces
_ROOMS, _TUBS, _SHOPS = 4, 12, 20
_SPICES = ("pepper", "juniper", "bay leaf", "thyme", "coriander", "garlic powder", "sugar")
_WHO = ("Ada", "Bram", "Cleo")
CARDS: list[tuple[str, dict[str, Any]]] = [
    ("workshop", dict(name="Long Years Curing Room", address="1 Long Lane, Exampleton", timezone="UTC", country="IE",
                      standing="approved", approval_number="IE 0000 EXAMPLE")),
    *(("supplier", dict(name=f"Farm {n}", address=f"{n} Farm Lane, Exampleton", contact=f"farm{n}@example.com"))
      for n in range(1, 9)),
    ("supplier", dict(name="Dry Goods", address="3 Quay, Exampleton", contact="goods@example.com")),
    *(("customer", dict(name=f"Shop {n}", address=f"{n} Market Row, Exampleton", contact=f"shop{n}@example.com"))
      for n in range(1, _SHOPS + 1)),
    ("ingredient", dict(name="salt")),
    *(("ingredient", dict(name=name, category="spice")) for name in _SPICES),
    ("product", {"name": "Cured loin", "species": "pig", "cut": "loin", "target_loss_percent": "30", "eaten": "as_is",
                 "markets": ["eu"], "languages": ["en"], "shelf_life_days": 90, "storage": "Keep cold",
                 "class": "non_heat_treated"}),
]  # fmt: skip


class Said(NamedTuple):
    """A fact as it is said: when, of which kind, its fields, and by whom."""

    moment: dt.datetime
    kind: str
    fields: dict[str, Any]
    who: str


@dataclass
class WorkshopYears:
    """One workshop's years, to be played once.

    Args:
        lots: about how many lots there shall be in the end.
        seed: which of the possible stories.
    """

    lots: int
    seed: int = 1

    def __post_init__(self) -> None:
        self._chance = random.Random(self.seed)
        self._tubs = self.lots // LOTS_A_TUB + TUBS_AT_WORK
        self._tub_days = min(TUB_DAYS, MOST_DAYS / self._tubs)
        self._salt = ""

    def play(self, act: Callable[[Said], tuple[str, ...]]) -> int:
        """Let the years pass: ``act`` takes each fact as it is said, in time order, and answers with the codes it gave out.

        Returns:
            How many facts there were.
        """
        last = self._tubs * self._tub_days
        begins = LAST_DAY - dt.timedelta(days=last)
        for place, (kind, fields) in enumerate(CARDS):
            act(Said(begins - dt.timedelta(seconds=len(CARDS) - place), kind, fields, "Ada"))
        count, waiting = len(CARDS), self._beginnings()
        while waiting:
            day, number, (_, kind, fields), work = heapq.heappop(waiting)
            if day > last:
                break
            codes = act(Said(begins + dt.timedelta(microseconds=round(day * 86_400e6)), kind, fields, self._chance.choice(_WHO)))
            count += 1
            with suppress(StopIteration):
                following = work.send(codes)
                heapq.heappush(waiting, (day + following[0], number, following, work))
        return count

    def _beginnings(self) -> list[tuple[float, int, Step, Work]]:
        """The first step of each tub's work, by day; a salt lot lasts for a twentieth of the tubs."""
        works = [self._tub(number, is_new_salt=number % self._tubs_a_salt_lot() == 0) for number in range(self._tubs)]
        first = [(number * self._tub_days, number, next(work), work) for number, work in enumerate(works)]
        return [(day + step[0], number, step, work) for day, number, step, work in first]

    def _tubs_a_salt_lot(self) -> int:
        return max(self._tubs // 20, 1)

    def _tub(self, number: int, *, is_new_salt: bool) -> Work:
        chance, day = self._chance, 0.3 + self._chance.random() / 10
        pieces: list[tuple[str, int]] = []
        for _ in range(chance.randint(1, 6)):
            (animal,) = yield (day, "receive", self._animal())
            cuts = [chance.randint(900, 3200) for _ in range(chance.randint(5, 7))]
            lines = [dict(product="Cured loin", weight=f"{grams} g") for grams in cuts]
            codes = yield (0.01, "cut", {"from": animal, "pieces": lines, "trim": "2 kg", "bone": "9 kg"})
            yield (0.01, "dispose", dict(lot=animal, how="own_use"))
            pieces += zip(codes, cuts, strict=True)
            day = 0.01
        mix = yield from self._mix(sum(grams for _, grams in pieces), is_new_salt)
        tub = f"tub {number % _TUBS + 1}"
        yield (0.02, "cure", dict(tub=tub, pieces=[code for code, _ in pieces], method="dry", mix=mix))
        for line in mix[1:]:
            yield (0.01, "dispose", dict(lot=line["lot"], how="destroyed"))
        yield from self._hang(pieces, f"room {number % _ROOMS + 1}")
        yield from self._pack(pieces, f"session {number}")

    def _animal(self) -> dict[str, Any]:
        farm, herd, weight = self._chance.randint(1, 8), self._chance.randint(1000, 9999), self._chance.randint(75, 110)
        return dict(supplier=f"Farm {farm}", kind="animal", name="pig", species="pig", weight=f"{weight} kg",
                    herd_mark=f"EX{herd}", trichinella="tested", temperature_c="4")  # fmt: skip

    def _mix(self, green: int, is_new_salt: bool) -> Generator[Step, tuple[str, ...], list[dict[str, str]]]:
        if is_new_salt or not self._salt:
            (self._salt,) = yield (0.01, "receive", self._goods("salt", f"{self._tubs_a_salt_lot() * 5} kg"))
        mix = [dict(lot=self._salt, weight=f"{green * 28} mg")]
        for spice in self._chance.sample(_SPICES, self._chance.randint(2, 7)):
            (lot,) = yield (0.001, "receive", self._goods(spice, "2 kg"))
            mix.append(dict(lot=lot, weight=f"{green * self._chance.randint(1, 3)} mg"))
        return mix

    def _goods(self, name: str, weight: str) -> dict[str, Any]:
        lot = f"DG {self._chance.randint(1, 999_999):06d}"
        return dict(supplier="Dry Goods", kind="ingredient", name=name, weight=weight, supplier_lot=lot)

    def _hang(self, pieces: list[tuple[str, int]], room: str) -> Generator[Step, tuple[str, ...], None]:
        for place, (code, grams) in enumerate(pieces):
            yield (0.002 if place else 14, "string", dict(piece=code, weight=f"{grams} g", weight_is="net", place=room))
        for left in (92, 85, 79, 74, 70):
            for place, (code, grams) in enumerate(pieces):
                yield (0.002 if place else 9, "weigh", dict(piece=code, weight=f"{grams * left // 100} g"))
        for place, (code, _) in enumerate(pieces):
            yield (0.002 if place else 0.5, "release", dict(lot=code, by="Cleo"))

    def _pack(self, pieces: list[tuple[str, int]], session: str) -> Generator[Step, tuple[str, ...], None]:
        rest, wait = list(pieces), 1.0
        while rest:
            taken = [rest.pop() for _ in range(2 if len(rest) > 1 and self._chance.random() < 0.1 else 1)]
            there = sum(grams * 69 // 100 for _, grams in taken)
            count = self._chance.randint(1, 20)
            packs = [dict(weight=f"{there * 1000 // count} mg")] * count
            codes = yield (wait, "pack", {"from": [dict(piece=code) for code, _ in taken], "packs": packs, "session": session,
                                          "market": "eu", "language": "en", "form": "prepacked", "slicer": "slicer"})  # fmt: skip
            wait = 0.01
            yield from self._sell([code for code in codes if "/" in code])

    def _sell(self, packs: list[str]) -> Generator[Step, tuple[str, ...], None]:
        while packs:
            some = [packs.pop() for _ in range(min(self._chance.randint(1, 4), len(packs)))]
            if self._chance.random() > 0.92:
                for unsold in some:
                    yield (0.001, "dispose", dict(lot=unsold, how="own_use"))
                continue
            shop = self._chance.randint(1, _SHOPS)
            yield (0.001, "sell", dict(packs=some, customer=f"Shop {shop}", document=f"note {self._chance.randint(1, 99999)}"))
