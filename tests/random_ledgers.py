"""Random ledgers: a seed tells a whole story of receipts, cuts, cures, packs, sales, late entries and corrections."""

import random
from functools import cache
from typing import Any

import build
from sqlalchemy import select

from labelsvc.errors import LabelsvcError
from labelsvc.ledger.tables import lots

_PLACES = ("room 1", "room 2")
_TUBS = ("blue", "red")
_SLICER = "the slicer"
_CODES = ("A", "P", "N", "K")


class Story:
    """One random ledger.

    Args:
        seed: decides everything.
        steps: how many moments of work are tried.
        changes: how many of a hundred moments are corrections.
        shop: where, with its cards recorded; a new one in memory if left out.
    """

    def __init__(self, seed: int, steps: int = 30, changes: int = 15, shop: build.Shop | None = None) -> None:
        self.chance = random.Random(seed)
        self.shop = shop or build.new_shop()
        self.codes: list[str] = []
        self.reserved: list[str] = []
        self.given: dict[int, tuple[str, dict[str, Any]]] = {}
        self.corrections: list[int] = []
        self.refused: list[str] = []
        self._day = 0
        for make in (self._receive, self._ingredient, self._receive, self._ingredient, self._cut, self._cut):
            self._try(*make())
        for _ in range(steps):
            self._try(*(self._correct() if self.chance.randrange(100) < changes else self._next()))

    def _next(self) -> tuple[str, dict[str, Any]]:
        often = (self._cut, self._cure, self._string, self._release, self._pack, self._pack, self._sell)
        seldom = (self._receive, self._ingredient, self._take_out, self._weigh, self._give, self._return, self._return,
                  self._dispose, self._hold, self._lift, self._product, self._salt_again, self._move, self._move, self._split,
                  self._count, self._turn, self._incident, self._clean, self._clean, self._check, self._reserve)  # fmt: skip
        return self.chance.choice(often + often + seldom)()

    def _try(self, kind: str, fields: dict[str, Any]) -> None:
        before = self.shop.facts()
        self._day = min(self._day + self.chance.randrange(4), 250)
        day = self._day if self.chance.random() > 0.15 else self.chance.randrange(self._day + 1)
        at = _date(day)
        if kind == "correct" and fields["instead"] is not None and self.chance.random() < 0.3:
            fields["instead"]["at"] = _date(self.chance.randrange(self._day + 1))
        try:
            done = self.shop.record(kind, at=at, yes=True, **fields)
        except LabelsvcError as error:
            self.refused.append(f"{kind}: {error}")
            assert self.shop.facts() == before
            return
        if kind == "reserve":
            self.reserved += done.codes
        else:
            self.codes += [code for code in done.codes if code not in self.codes]
        if kind == "correct":
            self.corrections.append(done.fact)
        else:
            self.given[done.fact] = kind, fields

    def of(self, letter: str, *states: str) -> str:
        """Return one of the codes given out for a kind of lot; mostly one in one of these states, if there is one."""
        found = [code for code in self.codes if code.startswith(letter)]
        if states and self.chance.random() < 0.9:
            with self.shop.ledger.reading() as connection:
                wanted = select(lots.c.code).where(lots.c.state.in_(states))
                there = set(connection.execute(wanted).scalars())
            found = [code for code in found if code in there] or found
        return self.chance.choice(found) if found else "nothing yet"

    def _several(self, letter: str, most: int, *states: str) -> list[str]:
        return list(dict.fromkeys(self.of(letter, *states) for _ in range(self.chance.randint(1, most))))

    def _there(self, code: str) -> int:
        try:
            return self.shop.state(code).milligrams
        except LabelsvcError:  # its birth was taken back
            return 1_000_000

    def _grams(self, least: int, most: int) -> str:
        return f"{self.chance.randint(least * 1000, most * 1000)} mg"

    def _piece_weight(self, code: str) -> str:
        """A plausible weight of a piece: near what is there, sometimes far off."""
        return f"{max(self._there(code) * self.chance.choice((100, 102, 95, 90, 70, 60, 30, 140)) // 100, 1)} mg"

    def _receive(self) -> tuple[str, dict[str, Any]]:
        return "receive", build.body("receive", weight=self._grams(3000, 9000), identity=f"UK {self.chance.randint(1, 4)}")

    def _ingredient(self) -> tuple[str, dict[str, Any]]:
        name = self.chance.choice(("salt", "pepper", "curing salt"))
        return "receive", dict(supplier="Meadow Farm", kind="ingredient", name=name, weight=self._grams(100, 400))

    def _cut(self) -> tuple[str, dict[str, Any]]:
        weights = [self._grams(300, 1500) for _ in range(self.chance.randint(1, 3))]
        pieces = [dict(product="Cured neck", weight=weight) for weight in weights]
        if self.chance.random() < 0.3:
            pieces[0]["marker"] = f"ring {self.chance.randint(1, 30)}"
        elif self.reserved and self.chance.random() < 0.5:
            pieces[0]["marker"] = self.chance.choice(self.reserved)
        source = self.of("A") if self.chance.random() < 0.8 else f"UK {self.chance.randint(1, 4)}"
        return "cut", {"from": source, "pieces": pieces, "trim": self._grams(0, 300)}

    def _cure(self) -> tuple[str, dict[str, Any]]:
        mix = [dict(lot=lot, weight=self._grams(5, 60)) for lot in self._several("N", 3, "received")]
        tub, method = self.chance.choice(_TUBS), self.chance.choice(("dry", "dry_excess", "brine"))
        return "cure", dict(tub=tub, pieces=self._several("P", 3, "green"), method=method, mix=mix)

    def _take_out(self) -> tuple[str, dict[str, Any]]:
        pieces: list[dict[str, Any]] = [dict(code=code) for code in self._several("P", 2, "in cure")]
        for piece in pieces:
            if self.chance.random() < 0.5:
                piece["weight"] = self._piece_weight(piece["code"])
        return "take_out", dict(pieces=pieces, **({"leftover": self._grams(0, 30)} if self.chance.random() < 0.5 else {}))

    def _string(self) -> tuple[str, dict[str, Any]]:
        piece = self.of("P", "in cure", "out of cure")
        return "string", dict(piece=piece, weight=self._piece_weight(piece), place=self.chance.choice(_PLACES))

    def _weigh(self) -> tuple[str, dict[str, Any]]:
        piece = self.of("P", "hanging", "out of cure") if self.chance.random() < 0.8 else f"ring {self.chance.randint(1, 30)}"
        return "weigh", dict(piece=piece, weight=self._piece_weight(piece))

    def _release(self) -> tuple[str, dict[str, Any]]:
        lot = self.of(self.chance.choice("PK"), "hanging", "in stock")
        return "release", dict(lot=lot.partition("/")[0], by="Ada")  # all packs of a pack lot at once

    def _pack(self) -> tuple[str, dict[str, Any]]:
        pieces = self._several("P", 3, "hanging", "out of cure")
        there = sum(self._there(piece) for piece in pieces)
        taken: list[dict[str, Any]] = [dict(piece=piece) for piece in pieces]
        if self.chance.random() < 0.5:
            there //= 2
            taken[0]["rest"] = f"{there} mg"
        if self.chance.random() < 0.3:
            taken[-1]["trim"] = self._grams(1, 20)
        number = self.chance.randint(1, 4)
        weight = max(there * self.chance.choice((80, 90, 100)) // (100 * number) - self.chance.randrange(30_000), 1)
        packs = [dict(weight=f"{weight + self.chance.randrange(5000)} mg") for _ in range(number)]
        more = {"slicer": _SLICER} if self.chance.random() < 0.6 else {}
        return "pack", build.body("pack", from_=taken, packs=packs, session=f"s{self.chance.randint(1, 3)}", **more)

    def _sell(self) -> tuple[str, dict[str, Any]]:
        return "sell", dict(packs=self._several("K", 3, "in stock"), customer=self.chance.choice(("Corner Shop", "Mrs Example")))

    def _give(self) -> tuple[str, dict[str, Any]]:
        return "give", dict(packs=self._several("K", 2, "in stock"), to="the fire brigade")

    def _return(self) -> tuple[str, dict[str, Any]]:
        packs = self._several("K", 2, "sold", "given away")
        others = self.chance.choice(("Corner Shop", "Mrs Example"))
        return "return", {"from": self._holder(packs[0]) or others, "packs": packs}

    def _holder(self, code: str) -> str | None:
        try:
            return self.shop.state(code).holder
        except LabelsvcError:  # no pack yet, or its birth was taken back
            return None

    def _dispose(self) -> tuple[str, dict[str, Any]]:
        how = self.chance.choice(("destroyed", "own_use", "sample"))
        part = {"weight": self._grams(1, 80)} if self.chance.random() < 0.7 else {}
        return "dispose", dict(lot=self.of(self.chance.choice(_CODES)), how=how, **part)

    def _hold(self) -> tuple[str, dict[str, Any]]:
        return "hold", dict(lots=self._several(self.chance.choice(_CODES), 2), reason="mould")

    def _lift(self) -> tuple[str, dict[str, Any]]:
        return "lift", dict(lots=self._several(self.chance.choice(_CODES), 4), reason="it was flour")

    def _salt_again(self) -> tuple[str, dict[str, Any]]:
        mix = [dict(lot=lot, weight=self._grams(2, 20)) for lot in self._several("N", 2, "received")]
        return "salt_again", dict(pieces=self._several("P", 2, "in cure"), mix=mix)

    def _move(self) -> tuple[str, dict[str, Any]]:
        return "move", dict(
            lot=self.of(self.chance.choice("PPK"), "in cure", "hanging"), place=self.chance.choice(_TUBS + _PLACES)
        )

    def _split(self) -> tuple[str, dict[str, Any]]:
        piece = self.of("P", "hanging", "out of cure", "in cure")
        parts = self.chance.randint(2, 3)
        weight = max(self._there(piece) * self.chance.choice((90, 97, 100, 101)) // (100 * parts), 1)
        pieces: list[dict[str, Any]] = [dict(weight=f"{weight + n} mg") for n in range(parts)]
        if self.reserved and self.chance.random() < 0.5:
            pieces[0]["marker"] = self.chance.choice(self.reserved)
        return "split", {"from": piece, "pieces": pieces}

    def _count(self) -> tuple[str, dict[str, Any]]:
        lot = self.of(self.chance.choice("ANP"), "received", "hanging")
        return "count", dict(lot=lot, weight=f"{self._there(lot) * self.chance.choice((100, 98, 103, 50, 0)) // 100} mg")

    def _turn(self) -> tuple[str, dict[str, Any]]:
        return "turn", dict(tub=self.chance.choice(_TUBS))

    def _incident(self) -> tuple[str, dict[str, Any]]:
        if self.chance.random() < 0.4:
            return "incident", dict(what="a fall", lots=self._several("P", 2))
        first = self.chance.randrange(self._day + 1)
        window = {"from": _date(first), "to": _date(min(first + self.chance.randrange(9), self._day))}
        return "incident", dict(what="warm", place=self.chance.choice(_TUBS + _PLACES), **window)

    def _clean(self) -> tuple[str, dict[str, Any]]:
        return "clean", dict(thing=self.chance.choice((*_TUBS, _SLICER)), allergen_clean=self.chance.random() < 0.5)

    def _check(self) -> tuple[str, dict[str, Any]]:
        return "check", dict(lot=self.of("P"), what="water_activity", value="0.91", method="meter")

    def _reserve(self) -> tuple[str, dict[str, Any]]:
        return "reserve", dict(count=2)

    def _product(self) -> tuple[str, dict[str, Any]]:
        changes = {"tare": f"{self.chance.randint(0, 30)} g", "shelf_life_days": self.chance.randint(20, 90)}
        return "product", build.body("product", **changes)

    def _correct(self) -> tuple[str, dict[str, Any]]:
        if self.corrections and self.chance.random() < 0.2:
            return "correct", dict(fact=self.chance.choice(self.corrections), instead=None, reason="it was right before")
        fact = self.chance.choice(sorted(self.given))
        kind, fields = self.given[fact]
        if self.chance.random() < 0.2:
            return "correct", dict(fact=fact, instead=None, reason="it never happened")
        return "correct", dict(fact=fact, instead=self._otherwise(fields), reason=f"another {kind}")

    def _otherwise(self, value: Any) -> Any:
        """The same with other weights, and sometimes an item of a list less."""
        if isinstance(value, dict):
            return {name: self._otherwise(inner) for name, inner in value.items()}
        if isinstance(value, list):
            kept = [self._otherwise(inner) for inner in value]
            return kept[:-1] if len(kept) > 1 and self.chance.random() < 0.15 else kept
        if isinstance(value, str) and value.endswith(" mg") and self.chance.random() < 0.6:
            return f"{int(value[:-3]) * self.chance.choice((99, 95, 101, 105, 80)) // 100 + 1} mg"
        return value


def _date(day: int) -> str:
    return f"2026-{3 + day // 28:02d}-{1 + day % 28:02d}"


@cache
def story(seed: int) -> Story:
    """Return the random ledger of a seed, made once for all tests that only read it."""
    return Story(seed, steps=34)
