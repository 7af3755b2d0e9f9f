"""What a person at the bench is asked about although it may well be so: a day long gone, a weight unlike the product's others.

Only someone who is there to answer is asked: books that are typed in afterwards, and programs, record what they say.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from decimal import Decimal

from labelsvc.facts import CARDS, Cut, Pack, String, Weigh
from labelsvc.ledger import read
from labelsvc.ledger.asof import AsOf
from labelsvc.ledger.database import Connection
from labelsvc.ledger.derive.happening import Derived, Happening
from labelsvc.ledger.state import Issue, LotState
from labelsvc.shape import Shape
from labelsvc.units import plain, round_half_up

LATE_DAYS = 14  # further back a day is likelier a slip of the calendar than a late entry (common practice, no source)
FEWEST = 5  # earlier weights of a product before they say what is usual
UNLIKE = 3  # times the lightest or heaviest so far; cuts of one kind from light and heavy animals stay well inside
# A product is packed in several sizes: a pack is usual if one of the last 50 weighs half to twice as much.
# A lost or doubled digit is further off than that (common practice, no source).
UNLIKE_PACK = 2


def old_day(kind: str, day: dt.date, today: dt.date, field: str = "at") -> list[Issue]:
    """Return the question about a day long gone, of the level ``ask``; none about a card, or a day lately.

    Args:
        kind: of the fact.
        day: on which it is said to have happened.
        today: the workshop's day.
        field: in which the day stands.
    """
    back = (today - day).days
    if kind in CARDS or back <= LATE_DAYS:
        return []
    return [Issue("ask", field, f"a day of the last {LATE_DAYS} days", f"{day}, {back} days ago")]


def old_correction(old: Happening | None, stands: Happening | None, today: dt.date) -> list[Issue]:
    """Return the question about a correction that gives a day long gone, or takes back a fact of such a day.

    Args:
        old: the fact as it stood; None if it was taken back.
        stands: the fact as it is to stand; None if it never happened.
        today: the workshop's day.
    """
    if stands is not None:
        return [] if old is not None and stands.day == old.day else old_day(stands.kind, stands.day, today, "instead.at")
    if old is None or not old_day(old.kind, old.day, today):
        return []
    got = f"fact {old.seq} of {old.day}, {(today - old.day).days} days ago"
    return [Issue("ask", "fact", f"a fact of the last {LATE_DAYS} days", got, "What followed from it is worked out anew.")]


def day_before_stringing(connection: Connection, body: Shape, derived: Derived) -> list[Issue]:
    """Return the question about a weigh-in dated before the stringing: it may be a slip, and the string would count as meat."""
    if not isinstance(body, Weigh):
        return []
    piece = next(iter(derived.lots.values()))
    now = AsOf(connection, read.END_OF_TIME).lot(piece.code)
    if piece.phase == "hanging" or now is None or now.strung_on is None:
        return []
    return [
        Issue("ask", "at", f"a time after {now.strung_on}, when {piece.code} was strung", f"a time when it was {piece.phase}")
    ]


def unlike_weights(
    connection: Connection, happening: Happening, derived: Derived, before: Mapping[str, LotState] | None = None
) -> list[Issue]:
    """Return a question for each weight unlike the product's others, of the level ``ask``; equal weights are asked about once.

    Args:
        connection: where the product's earlier weights are.
        happening: what was said.
        derived: what follows from it.
        before: of a correction, the lots as they stood: what they weighed then is not asked about again.
    """
    body, known = happening.body, before or {}
    weighed = _weighed(happening, derived)
    others: dict[str, list[Decimal]] = {}
    issues: dict[tuple[str, Decimal], list[Issue]] = {}
    for code, field in weighed.items():
        lot = derived.lots[code]
        mine = _weight(body, lot)
        if (code in known and _weight(body, known[code]) == mine) or (lot.name, mine) in issues:
            continue
        if lot.name not in others:
            earlier = read.lots_before(connection, lot.kind, lot.name)
            mates = weighed.keys() - known.keys()
            others[lot.name] = [weight for one in earlier if one.code not in mates and (weight := _weight(body, one))]
        issues[lot.name, mine] = _unlike(body, lot.name, mine, others[lot.name], field)
    return [issue for found in issues.values() for issue in found]


def _weighed(happening: Happening, derived: Derived) -> dict[str, str]:
    """Return the code of each lot that is weighed by the fact, with its field."""
    body, codes = happening.body, happening.codes
    if isinstance(body, Cut):
        return {code: f"pieces[{place}].weight" for place, code in enumerate(codes)}
    if isinstance(body, String):
        return dict.fromkeys(derived.lots, "weight")
    if isinstance(body, Pack):
        return {f"{codes[0]}/{place + 1}": f"packs[{place}].weight" for place in range(len(body.packs))}
    return {}


def _unlike(body: Shape, name: str, mine: Decimal, others: list[Decimal], field: str) -> list[Issue]:
    if len(others) < FEWEST:
        return []
    lightest, heaviest = min(others), max(others)
    if isinstance(body, Pack):
        is_usual = any(one <= mine * UNLIKE_PACK and mine <= one * UNLIKE_PACK for one in others)
    else:
        is_usual = lightest <= mine * UNLIKE and mine <= heaviest * UNLIKE
    near = f"a weight like the {len(others)} before of {name}, {_grams(lightest)} to {_grams(heaviest)}"
    return [] if is_usual else [Issue("ask", field, near, _grams(mine))]


def _weight(body: Shape, lot: LotState) -> Decimal:
    """Return the milligrams of one piece or pack at the same moment of the work; 0 where it has not come to that."""
    if isinstance(body, Pack):
        return Decimal(lot.made_milligrams)
    whole = lot.green_milligrams if isinstance(body, Cut) else lot.hang_milligrams
    return Decimal(whole) / (lot.count or 1)


def _grams(milligrams: Decimal) -> str:
    return f"{plain(round_half_up(milligrams / 1000))} g"
