"""When a hanging piece will be ready, and whether it can get there at all: said from its own weigh-ins, as an estimate."""

from __future__ import annotations

import datetime as dt
import math
from decimal import Decimal

from labelsvc.curing.drying import compute_drying
from labelsvc.facts import Product
from labelsvc.ledger import read
from labelsvc.ledger.asof import lot_from
from labelsvc.ledger.database import Connection
from labelsvc.ledger.derive.hanging import base_milligrams
from labelsvc.ledger.state import LotState
from labelsvc.units import plain, ratio

_WEIGHED = ("string", "weigh")


def ready_said(connection: Connection, piece: LotState, product: Product) -> str | None:
    """Return in one sentence when a piece will have lost enough, or why no day can be named; None where nothing is awaited.

    Args:
        connection: where its weigh-ins are.
        piece: as it stands now.
        product: whose target it hangs for.
    """
    target = _target_of_hang_weight(piece, product)
    if piece.phase != "hanging" or piece.strung_on is None or target is None:
        return None
    weighed = _weigh_ins(connection, piece)
    found = compute_drying(
        {
            "hang_weight": f"{piece.hang_milligrams} mg",
            "target_loss_percent": plain(target),
            "weighings": [{"day": day, "weight": f"{milligrams} mg"} for day, milligrams in weighed.items()],
        }
    )
    if found["ready_day"] is None:
        return f"when it will be ready: {found['reason']}"
    low, likely, high = (_day(piece.strung_on, found["ready_day"][name]) for name in ("low", "likely", "high"))
    return (
        f"ready about {likely}, four times in five between {low} and {high}: "
        f"an estimate from {len(weighed)} weighings, never a release test"
    )


def _target_of_hang_weight(piece: LotState, product: Product) -> Decimal | None:
    """The loss that is still awaited, in percent of the hang weight whatever the product counts from; None once it is reached."""
    if product.target_loss_percent is None or not piece.hang_milligrams or piece.is_portioned:
        return None
    stop_at = Decimal(base_milligrams(piece, product)) * (100 - product.target_loss_percent) / 100
    is_awaited = 0 < stop_at < min(piece.milligrams, piece.hang_milligrams)
    return 100 - ratio(stop_at * 100, piece.hang_milligrams, 12) if is_awaited else None


def _weigh_ins(connection: Connection, piece: LotState) -> dict[int, int]:
    """Net milligrams by day after hanging, the last of a day."""
    found: dict[int, int] = {}
    for row in read.history(connection, piece.code):
        if row.kind in _WEIGHED and row.state and piece.strung_on:
            day = (dt.date.fromisoformat(row.day) - piece.strung_on).days
            if day >= 0:
                found[day] = lot_from(row.state).milligrams
    return found


def _day(strung_on: dt.date, after: str) -> dt.date:
    """A day that is not sooner than the estimate says."""
    return strung_on + dt.timedelta(days=math.ceil(Decimal(after)))
