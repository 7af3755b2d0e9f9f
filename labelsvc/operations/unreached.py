"""What a hold does not reach: what had been made of the lots before, which may be just as bad. A person decides on it."""

from __future__ import annotations

from collections.abc import Sequence

from labelsvc import facts
from labelsvc.ledger import flows, read
from labelsvc.ledger.database import Connection, Ledger
from labelsvc.ledger.state import Issue
from labelsvc.shape import Shape

_MOST = 3  # codes that a sentence names


def unreached(connection: Connection, body: Shape, fact: int) -> list[Issue]:
    """Return the note of what was made of the lots that a fact held and is itself not held, where there is any.

    Args:
        connection: where, with the fact already in it.
        body: the fact's; anything but a hold or an incident of some lots is passed by.
        fact: its number.
    """
    if not isinstance(body, facts.Hold | facts.Incident) or not body.lots:
        return []
    held = read.changed_by(connection, fact)
    made = _made_of(connection, [row.number for row in held])
    here = read.codes_in_hand(connection, made)
    out = [row.code for row in read.shown(connection, made).values() if row.whereabouts in ("sold", "given away")]
    if not here and not out:
        return []
    said = [f"{len(here)} that {'is' if len(here) == 1 else 'are'} free: {_few(here)}"] if here else []
    said += [f"{len(out)} that left: {_few(out)}"] if out else []
    hint = f"{'Hold what is here too. ' if here else ''}All of it, and who has it: labelsvc recall --lot {held[0].code}"
    return [Issue("note", "lots", "what was made of them to be held as well", "; ".join(said), hint)]


def free_made_of(ledger: Ledger, code: str) -> list[str]:
    """Return the codes of what was made of a lot, is here and is not held.

    Raises:
        CodeError, NotFoundError: no such lot.
    """
    with ledger.reading() as connection:
        units = read.units_of(connection, read.find(connection, code))
        return read.codes_in_hand(connection, _made_of(connection, [unit.number for unit in units]))


def _made_of(connection: Connection, numbers: Sequence[int]) -> set[int]:
    return set(flows.reached_forward(connection, numbers)) - set(numbers)


def _few(codes: Sequence[str]) -> str:
    more = f" and {len(codes) - _MOST} more" if len(codes) > _MOST else ""
    return f"{', '.join(codes[:_MOST])}{more}"
