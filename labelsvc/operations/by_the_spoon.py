"""A mix measured by the spoon: kept as it was said, and as the grams of that day's table, which are an estimate."""

from __future__ import annotations

from typing import Any

from labelsvc import facts
from labelsvc.curing.volumes import by_volume, is_volume
from labelsvc.errors import InputError
from labelsvc.ledger import read
from labelsvc.ledger.asof import AsOf
from labelsvc.ledger.database import Connection
from labelsvc.ledger.derive.dosing import mix_line
from labelsvc.ledger.state import PutOn
from labelsvc.units import grams_text


def spoons_apart(fields: dict[str, Any]) -> dict[str, Any]:
    """Return the fields of a fact with each spoonful that was written in the place of a weight under ``volume``."""
    mix = fields.get("mix")
    return fields if not isinstance(mix, list) else {**fields, "mix": [_apart(line) for line in mix]}


def _apart(line: object) -> object:
    if not isinstance(line, dict) or not isinstance(line.get("weight"), str) or not is_volume(line["weight"]):
        return line
    return {**{name: value for name, value in line.items() if name != "weight"}, "volume": line["weight"]}


def in_grams(connection: Connection, fields: dict[str, Any]) -> dict[str, Any]:
    """Return the fields of a mix with the estimated grams beside each volume.

    Raises:
        InputError: a source of nitrite or nitrate by the spoon, or something the table does not have.
    """
    lines = [_line_in_grams(connection, line, place) for place, line in enumerate(fields["mix"])]
    return {**fields, "mix": lines}


def _line_in_grams(connection: Connection, line: dict[str, Any], place: int) -> dict[str, Any]:
    if line.get("volume") is None or line.get("weight") is not None:
        return line
    lot = read.find(connection, line["lot"], f"mix[{place}].lot").state
    name = lot.ingredient or lot.name
    card = AsOf(connection, read.END_OF_TIME).card("ingredient", name)
    known = mix_line(PutOn(name, 0, lot.strength), card if isinstance(card, facts.Ingredient) else None)
    try:
        grams, _ = by_volume(known, line["volume"])
    except InputError as error:
        raise InputError(f"mix[{place}].volume", error.expected, error.got, error.hint) from None
    return {**line, "weight": f"{grams_text(grams.milligrams)} g"}
