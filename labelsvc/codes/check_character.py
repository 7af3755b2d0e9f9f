"""One check character over 31 symbols: catches every single wrong character and every swap of two characters.

The arithmetic is that of the pure systems of ISO/IEC 7064 (one modulus, powers of one radix), with modulus 31 and radix 3.
31 is prime, so a wrong character always changes the sum; 3 is a primitive root of 31, so the weights of any 30 positions
differ and a swap of any two different characters changes it too. ISO itself lists no system with 31 symbols.
"""

from __future__ import annotations

SYMBOLS = "0123456789ABCDEFGHJKMNPQRTVWXYZ"  # the digits stay plain for dates; I L O S U are left out
MODULUS = 31
RADIX = 3


def check_character(body: str) -> str:
    """Return the check character of a body.

    Args:
        body: 1 to 29 characters of ``SYMBOLS``.

    Raises:
        ValueError: a character outside ``SYMBOLS``, or a body too long for the weights to differ.

    >>> check_character("P261125A4")
    'M'
    """
    if not 1 <= len(body) <= MODULUS - 2:
        raise ValueError(f"a body has 1 to {MODULUS - 2} characters, got {len(body)}")
    total = sum(SYMBOLS.index(character) * pow(RADIX, len(body) - i, MODULUS) for i, character in enumerate(body))
    return SYMBOLS[(1 - total) % MODULUS]


def is_checked(code: str) -> bool:
    """Tell whether the last character is the check character of the others."""
    return len(code) >= 2 and set(code) <= set(SYMBOLS) and check_character(code[:-1]) == code[-1]
