"""Exact quantities: weights in text with a unit, bare decimals for percent and ppm, whole milligrams in the ledger.

Conversions are exact by definition: 1 lb = 453.59237 g and 1 oz = 1/16 lb (international yard and pound agreement of
1959; NIST Special Publication 811, appendix B.8).
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from decimal import ROUND_HALF_EVEN, ROUND_HALF_UP, ROUND_UP, Decimal, localcontext
from functools import total_ordering

from labelsvc.errors import UnitError

GRAMS_IN: Mapping[str, Decimal] = {
    "mg": Decimal("0.001"),
    "g": Decimal(1),
    "kg": Decimal(1000),
    "oz": Decimal("28.349523125"),
    "lb": Decimal("453.59237"),
}
HEAVIEST = Decimal(20_000_000)  # 20 t in grams: no lot of a workshop of ten people is heavier; catches a slip of the unit
_NUMBER = r"[0-9]+(?:[.,][0-9]+)?"
_WEIGHT = re.compile(rf"\s*(-?{_NUMBER})\s*(mg|kg|g|oz|lb)\s*(?:({_NUMBER})\s*oz)?\s*", re.ASCII | re.IGNORECASE)
_DECIMAL = re.compile(r"-?[0-9]+(?:\.[0-9]+)?", re.ASCII)
_WEIGHT_EXPECTED = 'a weight with its unit, such as "638 g", "2.5 kg", "3.2 oz" or "1 lb 4 oz"'


@total_ordering
class Mass:
    """A weight, kept exactly as it was given; immutable. Not a dataclass, so that in JSON it is read as text, not as an object.

    Args:
        grams: exact grams; never negative.
    """

    __slots__ = ("_grams",)

    def __init__(self, grams: Decimal) -> None:
        if not isinstance(grams, Decimal) or not grams.is_finite():
            raise UnitError("weight", "exact grams", repr(grams))
        if grams < 0:
            raise UnitError("weight", "a weight of 0 g or more", f"{grams} g")
        self._grams = grams

    @property
    def grams(self) -> Decimal:
        """Exact grams."""
        return self._grams

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Mass) and self.grams == other.grams

    def __hash__(self) -> int:
        return hash(self.grams)

    def __repr__(self) -> str:
        return f"Mass({self.grams!r})"

    @classmethod
    def parse(cls, text: object, field: str = "weight") -> Mass:
        """Read a weight with its unit.

        Args:
            text: such as ``"638 g"``, ``"2.5 kg"``, ``"2,5 kg"``, ``"3.2 oz"`` or ``"1 lb 4 oz"``.
            field: how an error names it.

        Returns:
            The exact weight.

        Raises:
            UnitError: no unit, not a number, negative, heavier than 20 t, or a comma that may mean thousands.

        >>> Mass.parse("1 lb 4 oz").grams
        Decimal('566.990462500')
        """
        if isinstance(text, Mass):
            return text
        if not isinstance(text, str):
            raise UnitError(field, _WEIGHT_EXPECTED, repr(text))
        match = _WEIGHT.fullmatch(text)
        if match is None:
            raise UnitError(field, _WEIGHT_EXPECTED, text)
        number, unit, ounces = match.groups()
        if ounces is not None and unit.lower() != "lb":
            raise UnitError(field, _WEIGHT_EXPECTED, text)
        grams = _number(number, field, text) * GRAMS_IN[unit.lower()]
        if ounces is not None:
            grams += _number(ounces, field, text) * GRAMS_IN["oz"]
        if grams < 0:
            raise UnitError(field, "a weight of 0 g or more", text)
        if grams > HEAVIEST:
            raise UnitError(field, "a weight of at most 20 t", text, "Is the unit right?")
        return cls(grams)

    @classmethod
    def from_milligrams(cls, milligrams: int) -> Mass:
        """Return the weight of whole milligrams."""
        return cls(Decimal(milligrams) / 1000)

    @property
    def milligrams(self) -> int:
        """Whole milligrams for the ledger, half to even: the finest scale in the trade shows ten times that."""
        return int((self.grams * 1000).to_integral_value(ROUND_HALF_EVEN))

    def __lt__(self, other: Mass) -> bool:
        return self.grams < other.grams

    def __add__(self, other: Mass) -> Mass:
        return Mass(self.grams + other.grams)

    def __str__(self) -> str:
        return f"{plain(self.grams)} g"


def _number(text: str, field: str, whole: str) -> Decimal:
    if "," in text and len(text.split(",")[1]) == 3:
        raise UnitError(field, "a decimal point, because 1,200 may mean 1.2 or 1200", whole)
    return Decimal(text.replace(",", "."))


def decimal(value: object, field: str, *, minimum: Decimal | int | None = 0, maximum: Decimal | int | None = None) -> Decimal:
    """Read a bare decimal (percent, ppm, degrees): text or a whole number, never a float.

    Args:
        value: such as ``"2.5"`` or ``3``.
        field: how an error names it.
        minimum: smallest accepted value, or None.
        maximum: largest accepted value, or None.

    Returns:
        The exact value.

    Raises:
        UnitError: a float, not a number, or out of range.

    >>> decimal("0.60", "percent")
    Decimal('0.60')
    """
    if isinstance(value, float):
        raise UnitError(field, 'a decimal number in quotes, such as "2.5" (a float is not exact)', repr(value))
    if isinstance(value, Decimal):
        number = value
    elif isinstance(value, int) and not isinstance(value, bool):
        number = Decimal(value)
    elif isinstance(value, str) and _DECIMAL.fullmatch(value.strip()):
        number = Decimal(value.strip())
    else:
        raise UnitError(field, 'a decimal number, such as "2.5"', value if isinstance(value, str) else repr(value))
    if minimum is not None and number < minimum:
        raise UnitError(field, f"a number of at least {minimum}", str(value))
    if maximum is not None and number > maximum:
        raise UnitError(field, f"a number of at most {maximum}", str(value))
    return number


def plain(value: Decimal) -> str:
    """Return a decimal as plain digits without exponent or trailing zeros (``"0.6"``, ``"1200"``)."""
    text = f"{value:f}"
    return (text.rstrip("0").rstrip(".") or "0") if "." in text else text


def grams_text(milligrams: int) -> str:
    """Return whole milligrams as exact grams in plain digits: ``1234500`` is ``"1234.5"``."""
    whole, rest = divmod(abs(milligrams), 1000)
    text = f"{whole}.{rest:03}".rstrip("0") if rest else f"{whole}"
    return f"-{text}" if milligrams < 0 else text


def hundredths_text(hundredths: int) -> str:
    """Return hundredths of at least 0 in plain digits: ``1250`` is ``"12.5"``."""
    whole, rest = divmod(hundredths, 100)
    return f"{whole}.{rest:02}".rstrip("0") if rest else f"{whole}"


def round_half_up(value: Decimal, places: int = 0) -> Decimal:
    """Round to decimal places, half away from zero: the mode a person with pencil and paper uses."""
    return value.quantize(Decimal(1).scaleb(-places), ROUND_HALF_UP)


def round_up(value: Decimal, places: int = 0) -> Decimal:
    """Round to decimal places, away from zero whatever is left over: where a law says rounded up."""
    return value.quantize(Decimal(1).scaleb(-places), ROUND_UP)


def share_out(total: int, weights: Sequence[int]) -> list[int]:
    """Share whole milligrams by weight, exactly, by the largest remainder.

    Args:
        total: milligrams to share out; negative shares out a negative total.
        weights: whole numbers of at least 0, not all 0.

    Returns:
        One share a weight, in the same order, with the sum ``total``. Ties go to the earlier one.

    Raises:
        ValueError: no positive weight.

    >>> share_out(10, [1, 1, 1])
    [4, 3, 3]
    """
    whole = sum(weights)
    if whole <= 0 or min(weights) < 0:
        raise ValueError(f"weights must be at least 0 and not all 0, got {weights!r}")
    sign, rest = (1, total) if total >= 0 else (-1, -total)
    shares = [rest * weight // whole for weight in weights]
    by_remainder = sorted(range(len(weights)), key=lambda i: (-(rest * weights[i] % whole), i))
    for i in by_remainder[: rest - sum(shares)]:
        shares[i] += 1
    return [sign * share for share in shares]


def ratio(part: Decimal | int, whole: Decimal | int, places: int = 28) -> Decimal:
    """Divide with a fixed number of significant digits, whatever the caller's decimal context is."""
    with localcontext() as context:
        context.prec = places
        return Decimal(part) / Decimal(whole)
