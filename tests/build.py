"""Valid-by-default makers: bodies of facts, and an invented workshop whose every moment of work is one call."""

import datetime as dt
import json
import sqlite3
from contextlib import closing
from functools import cache
from typing import Any

from sqlalchemy import select, text

from labelsvc.ledger import journal, read, replay
from labelsvc.ledger.database import Ledger, open_ledger
from labelsvc.ledger.state import LotState
from labelsvc.ledger.tables import PROJECTIONS, lots
from labelsvc.operations.recording import Recorded, record

NOW = dt.datetime(2026, 11, 25, 9, tzinfo=dt.UTC)
PIECE, PACK, ANIMAL = "P26112501V", "K261125026", "A261125039"  # well-formed codes for bodies that no ledger reads

_CARDS: list[tuple[str, dict[str, Any]]] = [
    ("workshop", dict(name="Thistle Yard", address="2 Thistle Yard, Exampleton", timezone="Europe/Paris", country="FR",
                      standing="registered", base_url="https://labels.example.com")),
    ("supplier", dict(name="Meadow Farm", address="Meadow Lane 4, Exampleton", contact="farm@example.com")),
    ("customer", dict(name="Corner Shop", address="1 Market Square, Exampleton")),
    ("customer", dict(name="Mrs Example", business=False)),
    ("ingredient", dict(name="salt")),
    ("ingredient", dict(name="pepper", category="spice")),
    ("ingredient", dict(name="curing salt", components=[
        dict(name="salt", percent="99.4"),
        dict(name="sodium nitrite", percent="0.6",
             additive=dict(name="sodium nitrite", function="preservative", e_number="E 250"))])),
    ("product", {"name": "Cured neck", "species": "pig", "cut": "neck", "target_loss_percent": "30", "eaten": "as_is",
                 "markets": ["eu"], "languages": ["en"], "shelf_life_days": 60, "storage": "Keep cold",
                 "class": "non_heat_treated"}),
    ("product", {"name": "Cured duck breast", "species": "duck", "cut": "breast", "markets": ["eu"], "languages": ["en"],
                 "shelf_life_days": 30, "storage": "Keep cold", "class": "non_heat_treated", "tare": "5 g"}),
    ("recipe", dict(name="neck cure", lines=[dict(ingredient="salt", percent_of_green="2.5")])),
]  # fmt: skip

_BODIES: dict[str, dict[str, Any]] = {
    **{kind: fields for kind, fields in reversed(_CARDS)},
    "receive": dict(supplier="Meadow Farm", kind="animal", name="pig 12", species="pig", weight="80 kg", trichinella="tested"),
    "figure": dict(rule="eu.nitrate.non_heat_treated", value="90", unit="mg/kg", source="the Official Journal", by="Ada"),
    "cut": {"from": ANIMAL, "pieces": [dict(product="Cured neck", weight="1000 g")]},
    "cure": dict(tub="blue", pieces=[PIECE], method="dry", mix=[dict(lot="N261125041", weight="30 g")]),
    "take_out": dict(pieces=[dict(code=PIECE)]),
    "string": dict(piece=PIECE, weight="1000 g", place="room 1"),
    "weigh": dict(piece=PIECE, weight="900 g"),
    "release": dict(lot=PIECE, by="Ada"),
    "pack": {"from": [dict(piece=PIECE)], "packs": [dict(weight="100 g")], "session": "s1", "market": "eu", "language": "en",
             "form": "prepacked"},
    "sell": dict(packs=[PACK], customer="Corner Shop"),
    "give": dict(to="the fire brigade", packs=[PACK]),
    "return": {"from": "Corner Shop", "packs": [PACK]},
    "dispose": dict(lot=PACK, how="destroyed"),
    "hold": dict(lots=[PIECE], reason="mould"),
    "lift": dict(lots=[PIECE], reason="it was flour"),
    "complaint": dict(text="It tastes of soap."),
    "reprint_label": dict(label=1, lots=[PIECE], reason="torn"),
    "void_label": dict(label=1, lots=[PIECE], reason="spoiled"),
    "issue_label": dict(lots=[PIECE], layout="hanging_tag", layout_digest="0" * 64, content={}),
    "reserve": dict(count=3),
    "salt_again": dict(pieces=[PIECE], mix=[dict(lot="N261125041", weight="10 g")]),
    "coat": dict(pieces=[PIECE], what="wash", mix=[dict(lot="N261125041", weight="10 g")]),
    "turn": dict(tub="blue"),
    "move": dict(lot=PIECE, place="room 2"),
    "split": {"from": PIECE, "pieces": [dict(weight="500 g"), dict(weight="400 g")]},
    "check": dict(lot=PIECE, what="ph", value="5.6", method="meter"),
    "count": dict(lot="N261125041", weight="4 kg"),
    "incident": dict(what="power cut", lots=[PIECE]),
    "clean": dict(thing="slicer", allergen_clean=True),
    "answer_complaint": dict(complaint=1, decision="looked at, nothing found"),
    "open_case": dict(what="recall", reason="glass in a pack", lots=[PACK]),
    "tell": dict(case=1, customer="Corner Shop", how="by telephone"),
    "case_step": dict(case=1, what="note", words="the office was closed"),
    "publish": dict(case=1, lots=[PACK], risk="germ", by="Ada"),
    "unpublish": dict(case=1, lots=[PACK], reason="all came back", by="Ada"),
    "close_case": dict(case=1, outcome="all came back"),
    "correct": dict(fact=1, instead=None, reason="typing slip"),
}  # fmt: skip


def body(kind: str, /, **changes: Any) -> dict[str, Any]:
    """Return a valid body of a kind of fact, with changes; ``from_`` and ``class_`` stand for from and class."""
    return {**_BODIES[kind], **{name.rstrip("_"): value for name, value in changes.items()}}


class Shop:
    """An invented workshop: every method records one moment of work on ``day`` and returns its codes or number."""

    def __init__(self, ledger: Ledger) -> None:
        self.ledger = ledger
        self.day = "2026-03-02"
        self.last: Recorded | None = None

    @property
    def url(self) -> str:
        """The URL under which other processes may open its database."""
        return self.ledger.url.render_as_string(hide_password=False)

    def record(self, kind: str, /, *, at: str | None = None, yes: bool = False, **fields: Any) -> Recorded:
        """Record exactly these fields."""
        given = {"at": at or self.day, **{name.rstrip("_"): value for name, value in fields.items()}}
        self.last = record(self.ledger, kind, given, now=NOW, who="Ada", confirmed=yes)
        return self.last

    def receive(self, **changes: Any) -> str:
        return self.record("receive", **{**body("receive"), **changes}).codes[0]

    def ingredient(self, name: str = "salt", weight: str = "5 kg", **changes: Any) -> str:
        fields = dict(supplier="Meadow Farm", kind="ingredient", name=name, weight=weight)
        return self.record("receive", **{**fields, **changes}).codes[0]

    def cut(self, source: str, *weights: str, product: str = "Cured neck", **more: Any) -> tuple[str, ...]:
        pieces = [dict(product=product, weight=weight) for weight in weights]
        return self.record("cut", from_=source, pieces=pieces, **more).codes

    def cure(self, pieces: Any, *mix: tuple[str, str], tub: str = "blue", method: str = "dry", **more: Any) -> Recorded:
        lines = [dict(lot=lot, weight=weight) for lot, weight in mix]
        return self.record("cure", tub=tub, pieces=list(pieces), method=method, mix=lines, **more)

    def take_out(self, *pieces: tuple[str, str | None], **more: Any) -> Recorded:
        taken = [dict(code=code, weight=weight) if weight else dict(code=code) for code, weight in pieces]
        return self.record("take_out", pieces=taken, **more)

    def string(self, piece: str, weight: str, place: str = "room 1", **more: Any) -> Recorded:
        return self.record("string", piece=piece, weight=weight, place=place, **more)

    def weigh(self, piece: str, weight: str, **more: Any) -> Recorded:
        return self.record("weigh", piece=piece, weight=weight, **more)

    def release(self, lot: str, **more: Any) -> Recorded:
        return self.record("release", lot=lot, by="Ada", **more)

    def pack(self, pieces: Any, *weights: str, **changes: Any) -> tuple[str, ...]:
        """Pack; a piece is a code, or a dict with rest and trim. Return the pack lot's code and those of its packs."""
        taken = [piece if isinstance(piece, dict) else dict(piece=piece) for piece in pieces]
        packs = [dict(weight=weight) for weight in weights]
        return self.record("pack", **{**body("pack"), "from": taken, "packs": packs, **changes}).codes

    def sell(self, *packs: str, customer: str = "Corner Shop", **more: Any) -> Recorded:
        return self.record("sell", packs=list(packs), customer=customer, **more)

    def correct(self, fact: int, instead: dict[str, Any] | None, **more: Any) -> Recorded:
        return self.record("correct", fact=fact, instead=instead, reason="typing slip", at="2026-11-20", **more)

    # --- whole stretches of work -------------------------------------------------------------------------------------
    def green_piece(self, weight: str = "1000 g", **more: Any) -> str:
        """A piece just cut from an animal of 80 kg; ``more`` goes with the piece (marker, count)."""
        pieces = [dict(product="Cured neck", weight=weight, **more)]
        return self.record("cut", from_=self.receive(), pieces=pieces).codes[0]

    def hanging_piece(
        self, weight: str = "1000 g", salt: str = "30 g", hung: str = "1000 g", tare: str = "20 g", **more: Any
    ) -> str:
        """A piece cut, cured with salt, and strung three weeks later; weights as the scale shows them."""
        piece = self.green_piece(weight)
        self.cure([piece], (self.ingredient(), salt))
        self.string(piece, hung, tare=tare, **{"at": "2026-03-20", **more})
        return piece

    def packed(self, *weights: str) -> tuple[str, ...]:
        """Packs of a released piece that hangs with 700 g net; return the pack lot's code and those of its packs."""
        piece = self.hanging_piece(hung="720 g")
        self.release(piece, at="2026-05-20")
        return self.pack([piece], *weights, at="2026-05-21")

    # --- reading -----------------------------------------------------------------------------------------------------
    def state(self, code: str) -> LotState:
        """Return a lot as it stands now."""
        with self.ledger.reading() as connection:
            return read.find(connection, code).state

    def flows(self, fact: int) -> list[list[tuple[str, int]]]:
        """Return the flows of a fact: for each, account and whole milligrams (ends by kind, lots by code)."""
        with self.ledger.reading() as connection:
            rows = [row for row in journal.postings_in_order(connection) if row.fact == fact]
        found: dict[int, list[tuple[str, int]]] = {}
        for row in rows:
            is_lot = row.kind in ("animal", "part", "ingredient", "piece", "pack")
            found.setdefault(row.flow, []).append((row.account if is_lot else row.kind, row.milligrams))
        return list(found.values())

    def facts(self) -> int:
        """Return how many facts are sealed."""
        with self.ledger.reading() as connection:
            return int(connection.execute(text("SELECT count(*) FROM facts")).scalar_one())

    def fact_body(self, seq: int) -> dict[str, Any]:
        """Return a sealed body as it is stored."""
        with self.ledger.reading() as connection:
            stored = connection.execute(text("SELECT body FROM facts WHERE seq = :seq"), {"seq": seq}).scalar_one()
        return dict(json.loads(stored))

    def dump(self) -> dict[str, list[str]]:
        """Return the projections with lots by code instead of row number, in an order that does not depend on rows."""
        with self.ledger.reading() as connection:
            codes = dict(connection.execute(select(lots.c.id, lots.c.code)).all())
            return {table.name: sorted(_named(row, codes) for row in connection.execute(select(table))) for table in PROJECTIONS}

    def rebuild(self) -> int:
        """Rebuild the projections from the facts."""
        with self.ledger.writing() as connection:
            return replay.rebuild(connection)


def _named(row: Any, codes: dict[int, str]) -> str:
    fields = {name: value for name, value in row._mapping.items() if name != "id"}
    for name in ("lot", "giver", "receiver"):
        if fields.get(name) is not None:
            fields[name] = codes[fields[name]]
    return json.dumps(fields, sort_keys=True)


def new_shop(url: str = "sqlite://") -> Shop:
    """Return a workshop with its cards recorded on 1 March 2026; facts 1 to 10 are its cards."""
    if url == "sqlite://":
        return Shop(_copy_in_memory(_template().ledger))
    shop = Shop(open_ledger(url))
    record_cards(shop)
    return shop


def record_cards(shop: Shop) -> None:
    """Record who the workshop is and what it makes."""
    for kind, fields in _CARDS:
        shop.record(kind, at="2026-03-01", **fields)


@cache
def _template() -> Shop:
    shop = Shop(open_ledger("sqlite://"))
    record_cards(shop)
    return shop


def _copy_in_memory(ledger: Ledger) -> Ledger:
    copy = Ledger("sqlite://")
    with closing(ledger.engine.raw_connection()) as full, closing(copy.engine.raw_connection()) as empty:
        source, target = full.driver_connection, empty.driver_connection
        assert isinstance(source, sqlite3.Connection)
        assert isinstance(target, sqlite3.Connection)
        source.backup(target)
    return copy
