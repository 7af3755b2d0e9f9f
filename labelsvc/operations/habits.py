"""A rule of thumb looked at for one of the workshop's own products."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import Any

from labelsvc import facts
from labelsvc.curing.habits import compute_habit
from labelsvc.errors import InputError
from labelsvc.ledger import read
from labelsvc.ledger.asof import AsOf
from labelsvc.ledger.database import Ledger
from labelsvc.ledger.derive.lawful import class_checked
from labelsvc.rules.load import MARKETS


def look_at_habit(ledger: Ledger, asked: Mapping[str, Any], on: dt.date) -> dict[str, Any]:
    """Return what ``compute habit`` answers; a spoon is checked for the class and every market of a product.

    Args:
        ledger: the workshop.
        asked: the request; for ``by_the_spoon`` with ``product``, the name of its card, in place of class, market and day.
        on: the day whose law counts.

    Raises:
        InputError: no product of that name, or as ``compute_habit``.
    """
    if asked.get("habit") != "by_the_spoon":
        return compute_habit(asked)
    given = {name: value for name, value in asked.items() if name != "product"}
    product = _product(ledger, str(asked.get("product", "")))
    known = [market.lower() for market in product.markets if market.lower() in MARKETS] or ["eu"]
    law = [{"class": class_checked(product, market), "market": market, "on": on.isoformat()} for market in known]
    answers = [compute_habit({**given, **each}) for each in law]
    told = {finding["message"]: finding for answer in answers for finding in answer["findings"]}
    return {**answers[0], "findings": list(told.values())}


def _product(ledger: Ledger, name: str) -> facts.Product:
    with ledger.reading() as connection:
        card = AsOf(connection, read.END_OF_TIME).card("product", name)
    if not isinstance(card, facts.Product):
        raise InputError("product", "the name of a product's card", name or "none")
    return card
