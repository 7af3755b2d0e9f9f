"""The other particulars of a label: net quantity and its figures, lot, operator, storage, cooking, and the size of type."""

from __future__ import annotations

import datetime as dt
from decimal import ROUND_DOWN, Decimal

from labelsvc.declaration.context import figure, labelling_rule
from labelsvc.declaration.words import number_text, words_of
from labelsvc.errors import InputError
from labelsvc.facts import DisplayPanel
from labelsvc.rules.load import rules_of
from labelsvc.units import GRAMS_IN, Mass, plain

REFRIGERATED = "refrigerated"  # the storage of a card that gives the words of each language


def net_quantity(weight: Mass, language: str, market: str = "eu", *, packs: int = 1) -> str:
    """Return the net quantity as printed, never more than there is.

    Args:
        weight: of the contents of one pack.
        language: of the label, for the decimal mark.
        market: grams and kilograms; ounces in the US.
        packs: equal packs inside that cannot be counted from outside.

    Returns:
        Such as ``250 g``, ``1.25 kg``, ``2 x 100 g`` or ``Net Wt. 16 oz``; rounded down to whole grams or tenths of an ounce.

    Raises:
        InputError: less than a gram, or no pack.

    Source: Regulation (EU) 1169/2011, Art 23 and Annex IX; 9 CFR 317.2(h)(5).
    """
    if packs < 1:
        raise InputError("packs", "at least 1", str(packs))
    if weight.grams < 1:
        raise InputError("weight", "at least 1 g", str(weight))
    words = words_of(language)
    if market == "us":
        ounces = (weight.grams / GRAMS_IN["oz"]).quantize(Decimal("0.1"), ROUND_DOWN)
        return f"Net Wt. {f'{packs} x ' if packs > 1 else ''}{plain(ounces)} oz"
    grams = weight.grams.quantize(Decimal(1), ROUND_DOWN)
    text = f"{grams:f} g" if grams < 1000 else f"{number_text(plain(grams / 1000), words)} kg"
    return f"{packs} x {text}" if packs > 1 else text


def is_net_quantity_needed(*, loses_weight: bool, by_piece_or_weighed_before_buyer: bool) -> bool:
    """Tell whether the net quantity must be given: not for what dries in the shop and is weighed before the buyer (IX.1(a))."""
    return not (loses_weight and by_piece_or_weighed_before_buyer)


def figure_height_mm(nominal: Mass, market: str, on: dt.date) -> Decimal:
    """Return the least height in mm of the figures of the net quantity (Directive 76/211/EEC, Annex I point 3.1)."""
    table = labelling_rule(rules_of(market, on), "figure_height").table
    row = next(row for row in table if nominal.grams <= row.get("up_to_g", nominal.grams))
    return Decimal(row["height_mm"])


def x_height_mm(largest_face_cm2: Decimal, market: str, on: dt.date) -> Decimal:
    """Return the least height in mm of a lower-case x (Regulation (EU) 1169/2011, Art 13(2)-(3))."""
    table = labelling_rule(rules_of(market, on), "x_height").table
    row = next(row for row in table if "face_under_cm2" not in row or largest_face_cm2 < row["face_under_cm2"])
    return Decimal(row["height_mm"])


def display_panel_cm2(panel: DisplayPanel, market: str, on: dt.date) -> Decimal:
    """Return the area of the principal display panel in cm2, exact.

    Args:
        panel: the pack's shape and measures.
        market: us; no other market has such an area.
        on: the day whose law counts.

    Source: 16 CFR 500.21(a): a rectangle is its height by its width, of a cylinder and of other shapes a share counts.
    """
    if panel.shape == "rectangle":
        return (panel.height_cm or Decimal(0)) * (panel.width_cm or Decimal(0))
    whole = (panel.height_cm or Decimal(0)) * (panel.around_cm or Decimal(0)) if panel.shape == "cylinder" else panel.surface_cm2
    return (whole or Decimal(0)) * figure(labelling_rule(rules_of(market, on), "display_panel_share")) / 100


def panel_figure_height_mm(panel_cm2: Decimal, market: str, on: dt.date) -> Decimal:
    """Return the least height in mm of the letters and figures of the US net weight (9 CFR 317.2(h)(3))."""
    table = labelling_rule(rules_of(market, on), "panel_figure_height").table
    row = next(row for row in table if panel_cm2 <= row.get("up_to_cm2", panel_cm2))
    return Decimal(row["height_mm"])


def is_list_needed(largest_face_cm2: Decimal, market: str, on: dt.date) -> bool:
    """Tell whether the pack itself bears the ingredient list: not on a face of under 10 cm2 (Art 16(2))."""
    return largest_face_cm2 >= figure(labelling_rule(rules_of(market, on), "list_waived_face"))


def is_nutrition_needed(largest_face_cm2: Decimal, market: str, on: dt.date) -> bool:
    """Tell whether the area asks for a nutrition declaration: not under 25 cm2 (Art 16(3), Annex V point 18)."""
    return largest_face_cm2 >= figure(labelling_rule(rules_of(market, on), "nutrition_waived_face"))


def lot_line(code: str) -> str:
    """Return the lot code with its mark L (Directive 2011/91/EU, Art 4)."""
    return f"L {code}"


def operator_lines(name: str, address: str) -> tuple[str, ...]:
    """Return name and address of the responsible operator, one line each; a postal address (Art 8(1) and 9(1)(h)).

    Raises:
        InputError: name or address is empty.
    """
    for field, text in (("name", name), ("address", address)):
        if not text.strip():
            raise InputError(field, "the operator's name and postal address", "nothing")
    return (name.strip(), *(line.strip() for line in address.splitlines() if line.strip()))


def eating_line(eaten: str, language: str) -> str:
    """Return whether the food is eaten as it is or must be cooked (Art 9(1)(j)).

    Args:
        eaten: ``as_is`` or ``cooked``.
        language: of the label.

    Raises:
        InputError: neither of the two.
    """
    if eaten not in ("as_is", "cooked"):
        raise InputError("eaten", "as_is or cooked", eaten)
    return str(words_of(language)["statements"]["cook" if eaten == "cooked" else "ready_to_eat"])


def storage_line(storage: str, language: str) -> str:
    """Return the storage conditions: the language's words for ``refrigerated``, any other text as given (Art 9(1)(g), 25)."""
    words = words_of(language)["statements"]
    return str(words["refrigerated"]) if storage == REFRIGERATED else storage
