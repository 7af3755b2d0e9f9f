"""The codes a fact hands out and names."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping, Sequence

from labelsvc.codes.lot_code import LETTERS, LotCode
from labelsvc.errors import CodeError
from labelsvc.ledger.append import give_out_codes
from labelsvc.ledger.database import Connection
from labelsvc.ledger.derive.happening import Derived

_CODE = re.compile(r"[A-Za-z0-9][A-Za-z0-9 -]{8,}(?:/[0-9]+)?")


def codes_for(connection: Connection, wanted: Sequence[str], today: dt.date, kept: Sequence[str] = ()) -> tuple[str, ...]:
    """Return a code for each lot that a fact begins: its marker's, one it had before a correction, else a new one."""
    free = [code for code in kept if code not in wanted]
    codes: list[str] = []
    for one in wanted:
        if one not in LETTERS:
            codes.append(one)
            continue
        fitting = next((code for code in free if LotCode.parse(code).kind == one), None)
        if fitting is not None:
            free.remove(fitting)
        codes.append(fitting or "")
    new = iter(give_out_codes(connection, [one for one, code in zip(wanted, codes, strict=True) if not code], today))
    return tuple(code or str(next(new)) for code in codes)


def given_out(codes: Sequence[str], derived: Derived) -> tuple[str, ...]:
    """Return the codes given out, each pack lot's followed by those of its packs."""
    found: list[str] = []
    for code in codes:
        lot = derived.lots.get(code)
        found += [code, *(f"{code}/{number}" for number in range(1, (lot.units if lot else 0) + 1))]
    return tuple(found)


def codes_in(given: object) -> list[str]:
    """Return everything in a JSON value that reads as a lot code, to load those lots in one go."""
    if isinstance(given, str):
        try:
            return [str(LotCode.parse(given))] if _CODE.fullmatch(given) else []
        except CodeError:
            return []
    inner = given.values() if isinstance(given, Mapping) else given if isinstance(given, Sequence) else ()
    return [code for value in inner for code in codes_in(value)]
