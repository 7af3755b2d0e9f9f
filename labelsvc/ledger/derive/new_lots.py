"""Which lots a fact begins, and under which codes: new ones, or those of markers printed ahead."""

from __future__ import annotations

from labelsvc.codes.lot_code import LotCode
from labelsvc.errors import CodeError
from labelsvc.facts import Coat, Cure, Cut, Pack, Receive, Reserve, SaltAgain, Split
from labelsvc.shape import Shape


def new_lots(body: Shape) -> tuple[str, ...]:
    """Return, in order, the kind of each lot that gets a new code, or the code of the marker it already has."""
    if isinstance(body, Receive):
        return (body.kind,)
    if isinstance(body, Cut | Split):
        return tuple(printed_ahead(part.marker) or "piece" for part in body.pieces)
    if isinstance(body, Reserve):
        return ("piece",) * body.count
    if isinstance(body, Cure | SaltAgain | Coat) and is_mixed_first(body):
        return ("ingredient",)
    if isinstance(body, Pack):
        return ("pack",)
    return ()


def is_mixed_first(body: Cure | SaltAgain | Coat) -> bool:
    """Tell whether the mix is a lot of its own: it is for several pieces, or some of it touched no meat."""
    return len(body.pieces) > 1 or bool(body.unused and body.unused.milligrams)


def printed_ahead(marker: str | None) -> str | None:
    """Return the piece code that a marker bears, or None for a marker with another number."""
    if marker is None:
        return None
    try:
        code = LotCode.parse(marker)
    except CodeError:
        return None
    return str(code) if code.kind == "piece" else None
