"""The rows of the workshop's printers: what each is called, where it is, and which labels are loaded in it."""

from __future__ import annotations

import json
from dataclasses import dataclass

from sqlalchemy import Connection, Row, delete, insert, select, update

from labelsvc.ledger.derive.bench import card_key
from labelsvc.ledger.tables import printers


@dataclass(frozen=True)
class KnownPrinter:
    """A printer as it was entered.

    Args:
        number: the key; never printed.
        name: what people call it.
        uri: its address.
        layouts: names of the layouts whose stock is loaded; none where that is not said.
        dots_per_mm: of its head, for which labels are drawn; None where it did not say.
    """

    number: int
    name: str
    uri: str
    layouts: tuple[str, ...]
    dots_per_mm: int | None = None


def all_printers(connection: Connection) -> list[KnownPrinter]:
    """Return all printers by name."""
    return [_printer(row) for row in connection.execute(select(printers).order_by(printers.c.name_key))]


def printer_named(connection: Connection, name: str) -> KnownPrinter | None:
    """Return the printer of a name, without regard to case and spacing."""
    row = connection.execute(select(printers).where(printers.c.name_key == card_key(name))).first()
    return None if row is None else _printer(row)


def put_printer(connection: Connection, name: str, uri: str, layouts: tuple[str, ...], dots_per_mm: int | None) -> None:
    """Keep a new printer."""
    row = {"name": name, "name_key": card_key(name), "uri": uri, "layouts": json.dumps(layouts), "dots_per_mm": dots_per_mm}
    connection.execute(insert(printers).values(**row))


def keep_dots(connection: Connection, number: int, dots_per_mm: int) -> None:
    """Keep the dots of a printer that did not say them when it was entered."""
    connection.execute(update(printers).where(printers.c.id == number).values(dots_per_mm=dots_per_mm))


def drop_printer(connection: Connection, number: int) -> None:
    """Forget a printer."""
    connection.execute(delete(printers).where(printers.c.id == number))


def _printer(row: Row[tuple[object, ...]]) -> KnownPrinter:
    return KnownPrinter(row.id, row.name, row.uri, tuple(json.loads(row.layouts)), row.dots_per_mm)
