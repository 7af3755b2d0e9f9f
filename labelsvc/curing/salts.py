"""The salts of curing: what each is, how heavy its formula is, and one expressed as another.

Molar masses are sums of the abridged standard atomic weights (IUPAC 2021: Prohaska and others, Pure and Applied
Chemistry 94, 2022, 573-600). The law gives no rounded conversion factors, so none is used here.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from functools import cache
from typing import Literal

from labelsvc.errors import InputError
from labelsvc.units import ratio

Agent = Literal["nitrite", "nitrate", "salt", "ascorbate", "ascorbic acid"]

STANDARD_ATOMIC_WEIGHT: Mapping[str, Decimal] = {
    "H": Decimal("1.008"),
    "C": Decimal("12.011"),
    "N": Decimal("14.007"),
    "O": Decimal("15.999"),
    "Na": Decimal("22.990"),
    "Cl": Decimal("35.45"),
    "K": Decimal("39.098"),
}


@dataclass(frozen=True)
class Substance:
    """One pure substance.

    Args:
        name: plain name in English, lower case.
        agent: what it counts as; nitrate never counts as nitrite.
        atoms: symbols and how many of each.
        e_number: its European number, empty for an ion and for common salt.
    """

    name: str
    agent: Agent
    atoms: tuple[tuple[str, int], ...]
    e_number: str = ""


SODIUM_NITRITE = Substance("sodium nitrite", "nitrite", (("Na", 1), ("N", 1), ("O", 2)), "E250")
POTASSIUM_NITRITE = Substance("potassium nitrite", "nitrite", (("K", 1), ("N", 1), ("O", 2)), "E249")
NITRITE_ION = Substance("nitrite ion", "nitrite", (("N", 1), ("O", 2)))
SODIUM_NITRATE = Substance("sodium nitrate", "nitrate", (("Na", 1), ("N", 1), ("O", 3)), "E251")
POTASSIUM_NITRATE = Substance("potassium nitrate", "nitrate", (("K", 1), ("N", 1), ("O", 3)), "E252")
NITRATE_ION = Substance("nitrate ion", "nitrate", (("N", 1), ("O", 3)))
SALT = Substance("sodium chloride", "salt", (("Na", 1), ("Cl", 1)))
_ASCORBATE = (("C", 6), ("H", 7), ("Na", 1), ("O", 6))
_ASCORBIC = (("C", 6), ("H", 8), ("O", 6))
SODIUM_ASCORBATE = Substance("sodium ascorbate", "ascorbate", _ASCORBATE, "E301")
SODIUM_ERYTHORBATE = Substance("sodium erythorbate", "ascorbate", _ASCORBATE, "E316")
ASCORBIC_ACID = Substance("ascorbic acid", "ascorbic acid", _ASCORBIC, "E300")
ERYTHORBIC_ACID = Substance("erythorbic acid", "ascorbic acid", _ASCORBIC, "E315")

PURE: tuple[Substance, ...] = (
    SODIUM_NITRITE,
    POTASSIUM_NITRITE,
    SODIUM_NITRATE,
    POTASSIUM_NITRATE,
    SALT,
    SODIUM_ASCORBATE,
    SODIUM_ERYTHORBATE,
    ASCORBIC_ACID,
    ERYTHORBIC_ACID,
)
IONS: tuple[Substance, ...] = (NITRITE_ION, NITRATE_ION)
_NAMES: Mapping[str, Substance] = {
    **{substance.name: substance for substance in PURE},
    **dict.fromkeys(
        ("salt", "sea salt", "rock salt", "table salt", "cooking salt", "kosher salt", "fine salt", "coarse salt", "nacl"), SALT
    ),
    **dict.fromkeys(("salz", "speisesalz", "meersalz", "sel", "sel marin", "sale", "sale marino", "sal", "sal marina"), SALT),
    **dict.fromkeys(("nano2", "natriumnitrit", "nitrite de sodium", "nitrito di sodio", "nitrito de sodio"), SODIUM_NITRITE),
    **dict.fromkeys(("kno2", "kaliumnitrit", "nitrite de potassium", "nitrito di potassio"), POTASSIUM_NITRITE),
    **dict.fromkeys(("nano3", "natriumnitrat", "nitrate de sodium", "nitrato di sodio", "nitrato de sodio"), SODIUM_NITRATE),
    **dict.fromkeys(("kno3", "kaliumnitrat", "nitrate de potassium", "nitrato di potassio"), POTASSIUM_NITRATE),
    **dict.fromkeys(("saltpetre", "saltpeter", "salpeter", "salpêtre", "salnitro", "salitre"), POTASSIUM_NITRATE),
    **dict.fromkeys(("chile saltpetre", "chile saltpeter"), SODIUM_NITRATE),
    **dict.fromkeys(("nitrite", "nitrite ion"), NITRITE_ION),
    **dict.fromkeys(("nitrate", "nitrate ion"), NITRATE_ION),
    **dict.fromkeys(("nitrito de potasio",), POTASSIUM_NITRITE),
    **dict.fromkeys(("nitrato de potasio",), POTASSIUM_NITRATE),
}
_PLANTS = re.compile(
    r"(celery|celeriac|chard|beet(root)?|spinach|lettuce|arugula|radish|vegetable)\b.{0,20}\b(juice|powder|extract|concentrate|ferment)"
    r"|(cultured|fermented) (celery|chard|beet|spinach|vegetable)"
)
_E_NUMBER = re.compile(r"e[\s-]?([0-9]{3})", re.ASCII)
_CURING_WORDS = re.compile(
    r"nitri[td]|nitra[td]|saltpet|salpet|salpêt|salnitr|salitre|pökel|\bsalaison|\bcur(?:e|es|ing|antes?)\b"
    r"|\bpink\b(?! pepper)|\be[ -]?(?:249|25[0-2])\b"
)


@cache
def molar_mass(substance: Substance) -> Decimal:
    """Return grams per mole.

    >>> molar_mass(SODIUM_NITRITE)
    Decimal('68.995')
    """
    return sum((STANDARD_ATOMIC_WEIGHT[symbol] * count for symbol, count in substance.atoms), Decimal(0))


def expressed_as(amount: Decimal, substance: Substance, target: Substance) -> Decimal:
    """Express an amount of one salt as another of the same agent, by the same number of ions.

    Args:
        amount: any unit of mass or share (g, mg/kg).
        substance: what the amount is of.
        target: what to express it as.

    Returns:
        The amount in the same unit, 28 significant digits.

    Raises:
        InputError: the two are not salts of one ion; nitrate is never expressed as nitrite.
    """
    if substance.agent != target.agent:
        raise InputError("substance", f"a {target.agent} to express as {target.name}", substance.name)
    if substance == target:
        return amount
    return ratio(amount * molar_mass(target), molar_mass(substance))


def find_substance(name: str) -> Substance | None:
    """Return the pure substance of a plain name or an E number, or None for anything else (sugar, pepper, a premix).

    >>> find_substance("E 252").name
    'potassium nitrate'
    """
    key = " ".join(name.casefold().split())
    number = _E_NUMBER.fullmatch(key)
    if number is None:
        return _NAMES.get(key)
    return next((substance for substance in PURE if substance.e_number == f"E{number[1]}"), None)


def sounds_like_plant_source(name: str) -> bool:
    """Tell whether a name is one of the plant extracts that are sold to cure with: they carry nitrate, or nitrite made of it."""
    return _PLANTS.search(name.casefold()) is not None


def sounds_like_curing_salt(name: str) -> bool:
    """Tell whether a name promises nitrite or nitrate, so that counting it as none would be dangerous."""
    return _CURING_WORDS.search(name.casefold()) is not None
