"""One invented pig from goods in to two customers, told twice: by friendly commands, and by ``record`` with JSON.

The weights, by hand, in grams:

* pig 40000: pieces 1200 and 800, trim 300, bone 1000; 36700 stay.
* one mix 30 salt + 30 curing salt + 10 mustard = 70, shared by green weight: 42 and 28.
* out of the tub the first piece weighs 1215 (27 dripped); strung with a tare of 15: 1230 and 815 on the scale, so that the
  second, not weighed before, dripped 28.
* weighed twice: 1000 and 850, 700 and 570 on the scale: 985 and 835, 685 and 555 without string; dried 230 + 150, 115 + 130.
* five packs of 100 of the first, 300 left: 835 - 300 - 500 = 35 dried.
* both into packs of 200, 200, 200 and 230: 300 + 555 - 830 = 25 dried.
"""

import datetime as dt
from dataclasses import dataclass, replace
from zoneinfo import ZoneInfo

from by_hand import Hand

from labelsvc.cli.options import now


def day(before: int) -> str:
    """Return a day before today in the workshop's time zone; the story tells its facts in days before today."""
    return (now().astimezone(ZoneInfo("Europe/Paris")).date() - dt.timedelta(days=before)).isoformat()


@dataclass(frozen=True)
class Story:
    """The codes that the story gave out."""

    pig: str
    salt: str
    curing_salt: str
    mustard: str
    first: str
    second: str
    mix: str
    packs: list[str]
    mixed: list[str]

    @property
    def made_with_salt(self) -> set[str]:
        return {self.first, self.second, self.mix, *self.packs[1:], *self.mixed[1:]}

    @property
    def behind_mixed(self) -> set[str]:
        return {self.pig, self.salt, self.curing_salt, self.mustard, self.mix, self.first, self.second}


_ADDRESS = "3 Alder Yard, Exampleton"
_NITRITE = {"name": "sodium nitrite", "function": "preservative", "e_number": "E 250"}
_CURING_SALT = [{"name": "salt", "percent": "99.4"}, {"name": "sodium nitrite", "percent": "0.6", "additive": _NITRITE}]
_GOODS = (("sea salt", "5 kg"), ("curing salt", "1 kg"), ("mustard seed", "250 g"))


def cards_by_commands(hand: Hand) -> None:
    """Describe the workshop, who it deals with and what it makes: facts 1 to 10."""
    at = f"--at {day(110)}"
    hand.typed(
        f'workshop "Alder Yard" --address "{_ADDRESS}" --timezone Europe/Paris --country FR --standing registered'
        f" --base-url https://labels.example.com {at}"
    )
    hand.typed(f'supplier "Hill Farm" --address "Hill Lane, Exampleton" {at}')
    hand.typed(f'supplier "Dry Goods" {at}')
    hand.typed(f'customer "Corner Shop" --address "1 Market Row, Exampleton" --contact shop@example.com {at}')
    hand.typed(f"customer Bistro {at}")
    hand.typed(f'ingredient "sea salt" {at}')
    hand.record("ingredient", name="curing salt", components=_CURING_SALT, at=day(110))
    hand.typed(f'ingredient "mustard seed" --category spice --allergen mustard {at}')
    hand.typed(
        'product "Pork neck" --species pig --cut neck --class non_heat_treated --eaten as_is --market eu --language en'
        ' --shelf-life-days 90 --storage "Keep cold." --target-loss-percent 30 --tare "15 g" --minimum-days 20'
        f" --gtin 9521234544012 {at}"
    )
    hand.typed(f'recipe "Neck cure" --line "sea salt=1.5" --line "curing salt=1.5" --line "mustard seed=0.5" {at}')


def goods_by_commands(hand: Hand) -> tuple[str, list[str]]:
    """Receive the pig and the three ingredients; return their codes."""
    at = f"--at {day(100)}"
    pig = f'receive animal "half pig" --supplier "Hill Farm" --species pig --weight "40 kg" --supplier-lot HF-12 {at}'
    pig += " --trichinella tested"
    goods = [f'receive ingredient "{name}" --supplier "Dry Goods" --weight "{weight}" {at}' for name, weight in _GOODS]
    return hand.typed(pig)[0], [hand.typed(line)[0] for line in goods]


def hung_by_commands(hand: Hand) -> Story:
    """Tell the story as far as the drying room, by friendly commands; the second piece by its marker."""
    cards_by_commands(hand)
    pig, (salt, curing_salt, mustard) = goods_by_commands(hand)
    first, second = hand.typed(
        f'cut {pig} --piece "Pork neck=1200 g" --piece "Pork neck=800 g=M 7" --trim "300 g" --bone "1 kg" --at {day(99)}'
    )
    put_on = f'--mix "{salt}=30 g" --mix "{curing_salt}=30 g" --mix "{mustard}=10 g"'
    mix = hand.typed(f'cure "blue tub" {first} "M 7" --method dry {put_on} --recipe "Neck cure" --at {day(98)}')[0]
    hand.typed(f'take-out "{first}=1215 g" "M 7" --at {day(80)}')
    hand.typed(f'string {first} "1230 g" --place "Room 1" --at {day(80)}')
    hand.typed(f'string "M 7" "815 g" --place "Room 1" --at {day(80)}')
    return Story(pig, salt, curing_salt, mustard, first, second, mix, [], [])


def told_by_commands(hand: Hand) -> Story:
    """Tell the whole story by friendly commands."""
    hung = hung_by_commands(hand)
    for before, heavier, lighter in ((60, "1000 g", "700 g"), (40, "850 g", "570 g")):
        hand.typed(f'weigh {hung.first} "{heavier}" --at {day(before)}')
        hand.typed(f'weigh "M 7" "{lighter}" --at {day(before)}')
    hand.typed(f"release {hung.first} --by Ada --at {day(39)}")
    hand.typed(f'release "M 7" --by Ada --at {day(39)}')
    sold_as = f"--market eu --language en --form prepacked --at {day(38)}"
    packs = hand.typed(f'pack --from "{hung.first}=300 g" --pack "5 x 100 g" --session morning {sold_as}')
    both = f'--from {hung.first} --from "M 7"'
    mixed = hand.typed(f'pack {both} --pack "3 x 200 g" --pack "230 g" --session evening {sold_as}')
    hand.typed(f'sell {packs[1]} {mixed[1]} --customer "Corner Shop" --document "note 7" --at {day(37)}')
    hand.typed(f"sell {mixed[2]} --customer Bistro --at {day(37)}")
    return replace(hung, packs=packs, mixed=mixed)


def told_by_record(hand: Hand) -> Story:
    """Tell the same story by ``record`` with JSON."""
    _cards_by_record(hand)

    def recorded(fact: str, before: int, **fields: object) -> list[str]:
        return list(hand.record(fact, at=day(before), **fields).json["codes"])

    goods = [("animal", "half pig", "Hill Farm", "40 kg", {"species": "pig", "supplier_lot": "HF-12", "trichinella": "tested"})]
    goods += [("ingredient", name, "Dry Goods", weight, {}) for name, weight in _GOODS]
    pig, salt, curing_salt, mustard = (
        recorded("receive", 100, kind=kind, name=name, supplier=supplier, weight=weight, **more)[0]
        for kind, name, supplier, weight, more in goods
    )
    first, second = recorded(
        "cut",
        99,
        from_=pig,
        trim="300 g",
        bone="1 kg",
        pieces=[{"product": "Pork neck", "weight": "1200 g"}, {"product": "Pork neck", "weight": "800 g", "marker": "M 7"}],
    )
    mix = recorded(
        "cure",
        98,
        tub="blue tub",
        pieces=[first, "M 7"],
        method="dry",
        recipe="Neck cure",
        mix=[{"lot": salt, "weight": "30 g"}, {"lot": curing_salt, "weight": "30 g"}, {"lot": mustard, "weight": "10 g"}],
    )[0]
    recorded("take_out", 80, pieces=[{"code": first, "weight": "1215 g"}, {"code": "M 7"}])
    recorded("string", 80, piece=first, weight="1230 g", place="Room 1")
    recorded("string", 80, piece="M 7", weight="815 g", place="Room 1")
    for before, heavier, lighter in ((60, "1000 g", "700 g"), (40, "850 g", "570 g")):
        recorded("weigh", before, piece=first, weight=heavier)
        recorded("weigh", before, piece="M 7", weight=lighter)
    recorded("release", 39, lot=first, by="Ada")
    recorded("release", 39, lot="M 7", by="Ada")
    sold_as = {"market": "eu", "language": "en", "form": "prepacked"}
    packs = recorded(
        "pack", 38, from_=[{"piece": first, "rest": "300 g"}], packs=[{"weight": "100 g"}] * 5, session="morning", **sold_as
    )
    mixed = recorded(
        "pack",
        38,
        from_=[{"piece": first}, {"piece": "M 7"}],
        session="evening",
        **sold_as,
        packs=[{"weight": "200 g"}] * 3 + [{"weight": "230 g"}],
    )
    recorded("sell", 37, packs=[packs[1], mixed[1]], customer="Corner Shop", document="note 7")
    recorded("sell", 37, packs=[mixed[2]], customer="Bistro")  # fmt: skip
    return Story(pig, salt, curing_salt, mustard, first, second, mix, packs, mixed)


def _cards_by_record(hand: Hand) -> None:
    then = {"at": day(110)}
    hand.record(
        "workshop",
        name="Alder Yard",
        address=_ADDRESS,
        timezone="Europe/Paris",
        country="FR",
        standing="registered",
        base_url="https://labels.example.com",
        **then,
    )
    hand.record("supplier", name="Hill Farm", address="Hill Lane, Exampleton", **then)
    hand.record("supplier", name="Dry Goods", **then)
    hand.record("customer", name="Corner Shop", address="1 Market Row, Exampleton", contact="shop@example.com", **then)
    hand.record("customer", name="Bistro", **then)
    hand.record("ingredient", name="sea salt", **then)
    hand.record("ingredient", name="curing salt", components=_CURING_SALT, **then)
    hand.record("ingredient", name="mustard seed", category="spice", allergens=["mustard"], **then)
    hand.record(
        "product",
        name="Pork neck",
        species="pig",
        cut="neck",
        class_="non_heat_treated",
        eaten="as_is",
        markets=["eu"],
        languages=["en"],
        shelf_life_days=90,
        storage="Keep cold.",
        target_loss_percent="30",
        tare="15 g",
        minimum_days=20,
        gtin="9521234544012",
        **then,
    )
    hand.record("recipe", name="Neck cure", lines=[
        {"ingredient": name, "percent_of_green": percent}
        for name, percent in (("sea salt", "1.5"), ("curing salt", "1.5"), ("mustard seed", "0.5"))], **then)  # fmt: skip
