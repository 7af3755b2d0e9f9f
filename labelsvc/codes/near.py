"""Valid codes that are one slip of the hand away from a wrong one: a character wrong, swapped, missing or too many."""

from __future__ import annotations

from collections.abc import Iterator

from labelsvc.codes.check_character import SYMBOLS
from labelsvc.codes.lot_code import KINDS, LotCode
from labelsvc.errors import CodeError

_MOST = 24  # characters: nothing longer was meant to be a code


def near_codes(text: str) -> list[str]:
    """Return every valid lot code that differs from a text by one slip, the likelier slips first, each once.

    The check character leaves about one in thirty of the candidates. Case, spaces and hyphens are forgiven as everywhere.

    >>> "K261125A5B" in near_codes("K261125A5R")
    True
    """
    head, slash, unit = "".join(text.upper().split()).replace("-", "").partition("/")
    if not head or len(head) > _MOST:
        return []
    found: dict[str, None] = {}
    for candidate in _slips(head):
        try:
            found[str(LotCode.parse(f"{candidate}{slash}{unit}"))] = None
        except CodeError:
            continue
    return list(found)


def _slips(head: str) -> Iterator[str]:
    for place in range(len(head) - 1):
        yield head[:place] + head[place + 1] + head[place] + head[place + 2 :]
    alphabet = SYMBOLS + "".join(letter for letter in KINDS if letter not in SYMBOLS)
    for place in range(len(head)):
        for symbol in alphabet:
            yield head[:place] + symbol + head[place + 1 :]
    for place in range(len(head)):
        yield head[:place] + head[place + 1 :]
    for place in range(len(head) + 1):
        for symbol in alphabet:
            yield head[:place] + symbol + head[place:]
