"""What a buyer may know of a pack: what its label says, and whether it may be eaten. Nothing else of the ledger leaves here."""

from __future__ import annotations

from dataclasses import dataclass

from labelsvc.errors import LabelsvcError
from labelsvc.labels.content import Run
from labelsvc.ledger import read
from labelsvc.ledger.database import Connection, Ledger
from labelsvc.ledger.read import LotRow
from labelsvc.operations.content import product_of, sale_said, workshop_of


@dataclass(frozen=True)
class Seen:
    """The buyer's view of a pack, pack lot or piece.

    Args:
        code: as it stands on the label.
        food_name: what it is called.
        said: caption and text of the label's lines, in its order; empty where it is no pack.
        ingredients: the list of ingredients, allergens emphasised.
        operator: name and address of the workshop.
        state: fine, held (do not eat it), or inside (it never left the workshop).
        language: of the words on the label.
    """

    code: str
    food_name: str
    said: tuple[tuple[str, str], ...]
    ingredients: tuple[Run, ...]
    operator: str
    state: str
    language: str


_LINES = (
    ("Date", "date_line"),
    ("Quantity", "net_quantity"),
    ("Meat", "quantity_statement"),
    ("Keeping", "storage"),
    ("Eating", "cooking"),
    ("Also", "statements"),
)


def seen_by_buyer(ledger: Ledger, text: str) -> Seen:
    """Return what a buyer may know of a lot.

    Args:
        ledger: where.
        text: the code in the QR.

    Raises:
        CodeError, NotFoundError: no such lot.
    """
    with ledger.reading() as connection:
        lot = read.find(connection, text)
        workshop = workshop_of(connection)
        operator = f"{workshop.name}, {workshop.address}"
        if lot.state.kind != "pack":
            name = lot.state.name if lot.state.kind == "piece" else "A lot inside the workshop"
            return Seen(lot.code, name, (), (), operator, "held" if lot.state.is_held else "inside", "en")
        units = read.units_of(connection, lot)
        return _pack_seen(connection, lot, units, operator)


def _pack_seen(connection: Connection, lot: LotRow, units: list[LotRow], operator: str) -> Seen:
    """A pack by what its label says; where no label can be said today, by its name and date."""
    first = units[0]
    product = product_of(connection, first.state)
    is_held = any(unit.state.is_held for unit in units)
    state = "held" if is_held else "fine" if first.state.released_by else "inside"
    said: tuple[tuple[str, str], ...]
    ingredients: tuple[Run, ...] = ()
    try:
        elements = sale_said(connection, first, first.state.packed_on or first.state.born).content.elements
        lines = ((caption, elements.get(name, "")) for caption, name in _LINES if len(units) == 1 or name != "net_quantity")
        said = tuple((caption, text) for caption, text in lines if isinstance(text, str) and text)
        listed = elements.get("ingredients", ())
        ingredients = () if isinstance(listed, str) else tuple(listed)
    except LabelsvcError:
        best = first.state.best_before
        said = (("Date", best.isoformat()),) if best else ()
    name = product.food_name or product.name
    return Seen(lot.code, name, said, ingredients, operator, state, (first.state.language or "en").lower())
