"""What a person at the bench is asked about although it may well be so: a day long gone, a weight unlike the product's others.

Only someone who is there to answer is asked: books that are typed in afterwards, and programs, record what they say.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from decimal import Decimal

from labelsvc.facts import CARDS, Cut, String
from labelsvc.ledger import read
from labelsvc.ledger.database import Connection
from labelsvc.ledger.derive.bench import Derived
from labelsvc.ledger.state import Issue, LotState
from labelsvc.shape import Shape
from labelsvc.units import plain, round_half_up

LATE_DAYS = 14  # further back a day is likelier a slip of the calendar than a late entry (common practice, no source)
FEWEST = 5  # earlier weights of a product before they say what is usual
UNLIKE = 3  # times the lightest or heaviest so far; cuts of one kind from light and heavy animals stay well inside


def doubts(connection: Connection, kind: str, body: Shape, derived: Derived, day: dt.date, today: dt.date) -> list[Issue]:
    """Return what to ask once, each as an issue of the level ``ask``.

    Args:
        connection: where the product's earlier weights are.
        kind: of the fact.
        body: what was said.
        derived: what follows from it.
        day: on which it is said to have happened.
        today: the workshop's day.
    """
    return [*_old_day(kind, day, today), *_unlike_weights(connection, body, derived)]


def _old_day(kind: str, day: dt.date, today: dt.date) -> Iterator[Issue]:
    back = (today - day).days
    if kind not in CARDS and back > LATE_DAYS:
        yield Issue("ask", "at", f"a day of the last {LATE_DAYS} days", f"{day}, {back} days ago")


def _unlike_weights(connection: Connection, body: Shape, derived: Derived) -> Iterator[Issue]:
    if isinstance(body, Cut):
        codes = [code for code, lot in derived.lots.items() if lot.kind == "piece"]
        fields = {code: f"pieces[{place}].weight" for place, code in enumerate(codes)}
    elif isinstance(body, String):
        fields = {code: "weight" for code in derived.lots}
    else:
        return
    for code, field in fields.items():
        lot = derived.lots[code]
        earlier = [_weight(body, one) for one in read.pieces_before(connection, lot.name) if one.code not in fields]
        weights = [weight for weight in earlier if weight]
        mine = _weight(body, lot)
        if len(weights) >= FEWEST and not min(weights) <= mine * UNLIKE <= max(weights) * UNLIKE**2:
            yield Issue("ask", field, f"a weight like the {len(weights)} before of {lot.name}, {_range(weights)}", _grams(mine))


def _weight(body: Shape, lot: LotState) -> Decimal:
    """Return the milligrams of one piece at the same moment of the work; 0 where it has not come to that."""
    whole = lot.green_milligrams if isinstance(body, Cut) else lot.hang_milligrams
    return Decimal(whole) / (lot.count or 1)


def _range(weights: list[Decimal]) -> str:
    return f"{_grams(min(weights))} to {_grams(max(weights))}"


def _grams(milligrams: Decimal) -> str:
    return f"{plain(round_half_up(milligrams / 1000))} g"
