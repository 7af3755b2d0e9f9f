"""Whether a pack needs a nutrition declaration, and what it says: from analysis, else computed from what went in.

Regulation (EU) No 1169/2011, Articles 30 to 35 and Annex V points 18 and 19; 9 CFR 317.400 for who needs none in the US.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal

from labelsvc.declaration.context import Context
from labelsvc.declaration.nutrition import Nutrition, NutritionLine, control_range_of_fat, nutrition_declaration, printed_line
from labelsvc.declaration.packing import Packing
from labelsvc.declaration.particulars import is_nutrition_needed
from labelsvc.declaration.saying import Said, particular
from labelsvc.errors import InputError
from labelsvc.facts import Product, SmallMaker, Workshop
from labelsvc.rules.finding import Finding
from labelsvc.shape import Text
from labelsvc.units import Mass, plain, round_half_up


def nutrition_said(
    product: Product,
    workshop: Workshop,
    packing: Packing,
    context: Context,
    lines: Sequence[NutritionLine],
    unknown: Sequence[str],
) -> Said:
    """Return the nutrition declaration, or why there is none.

    Args:
        product: its card; an analysis there wins.
        workshop: with what lets a small maker leave it out.
        packing: market, form and face.
        context: rules and words; its finished weight is that of ``lines``.
        lines: what went in, with its composition.
        unknown: ingredients without a composition, or why nothing can be computed.
    """
    waived = _waived(product, workshop, packing, context)
    if context.market == "us":
        message = (
            "The US nutrition facts panel is not made here: it needs a serving size, cholesterol, vitamins and minerals, which no"
            " card holds (compute nutrition gives the amounts that a composition tells). Have it made and print it on the stock,"
            " or enter on the workshop's card what lets a small maker leave it out."
        )
        found = context.rule("nutrition").found(None, message, exceeded=False)
        return [], [waived] if waived else [found]
    made = _made(product, packing, context, lines, unknown)
    if made is None:
        return [], [waived] if waived else [_missing(unknown, context)]
    text = printed_line(made.declared, context.words)
    working = _working(made, product, context, lines)
    return [particular("nutrition", text, context.rule("nutrition"), working)], [waived] if waived else []


def _made(
    product: Product, packing: Packing, context: Context, lines: Sequence[NutritionLine], unknown: Sequence[str]
) -> Nutrition | None:
    if product.per_100g is not None:
        hundred = Mass(Decimal(100))
        analysed = [NutritionLine(name=Text(product.name), weight=hundred, per_100g=product.per_100g)]
        return nutrition_declaration(analysed, market=context.market, finished_weight=hundred, on=packing.on)
    if unknown or not lines:
        return None
    try:
        return nutrition_declaration(lines, market=context.market, finished_weight=Mass(context.finished), on=packing.on)
    except InputError:  # it dried to less than what the table says its solids weigh: the table does not fit this meat
        return None


def _missing(unknown: Sequence[str], context: Context) -> Finding:
    why = "; ".join(unknown) or "it dried to less than the fat, protein and salt that the table gives its ingredients"
    message = (
        f"No nutrition declaration: {why}. Enter it on the card, or an analysis of the product, or on the workshop's card what"
        " lets a small maker leave it out."
    )
    return context.rule("nutrition").found(None, message, exceeded=True)


def _waived(product: Product, workshop: Workshop, packing: Packing, context: Context) -> Finding | None:
    """Return why no nutrition declaration is needed, or None where it is."""
    if packing.sold_as != "prepacked" and context.market != "us":
        message = "Not prepacked: no nutrition declaration is needed."
        return context.rule("not_prepacked").found(packing.sold_as, message, exceeded=False)
    face = product.face_cm2
    if context.market != "us" and face is not None and not is_nutrition_needed(face, context.market, packing.on):
        message = f"The largest face has {plain(face)} cm2: no nutrition declaration is needed."
        return context.rule("nutrition_waived_face").found(plain(face), message, exceeded=False)
    maker = workshop.small_maker
    if maker is None or not _is_small(maker, context):
        return None
    message = f"No nutrition declaration by the workshop's card: {_maker_said(maker)}. Whether that is so, the authority decides."
    return context.rule("small_maker").found(str(maker.staff), message, exceeded=False)


def _is_small(maker: SmallMaker, context: Context) -> bool:
    """Tell whether the card's figures are inside the market's reading of a small maker; what is not said is not inside."""
    row: Mapping[str, int] = next(iter(context.rule("small_maker").table), {})
    if context.market == "us":
        pounds = maker.pounds_a_year
        return maker.staff <= row["staff_at_most"] and pounds is not None and pounds <= row["pounds_a_year_at_most"]
    if not maker.local:
        return False
    if not row:
        return True
    turnover = maker.turnover_eur
    return maker.staff < row["staff_under"] and turnover is not None and turnover < row["turnover_eur_under"]


def _maker_said(maker: SmallMaker) -> str:
    said = [f"{maker.staff} at work", f"{plain(maker.turnover_eur)} euro a year" if maker.turnover_eur is not None else ""]
    said += [f"{plain(maker.pounds_a_year)} lb a year" if maker.pounds_a_year is not None else ""]
    said += ["sells directly and to local shops" if maker.local else ""]
    return ", ".join(part for part in said if part)


def _grams(line: NutritionLine) -> str:
    return plain(round_half_up(line.weight.grams, 1))


def _working(made: Nutrition, product: Product, context: Context, lines: Sequence[NutritionLine]) -> str:
    """Return the sum behind the fat and salt, and the range in which a control would find the declared fat."""
    declared = Decimal(made.declared["fat"].removesuffix(" g").removeprefix("<"))
    low, high = control_range_of_fat(declared, context.rule("nutrition_tolerance_fat"))
    stands = f"declared fat stands for {plain(low)} to {plain(high)} g in a control"
    if product.per_100g is not None:
        return f"analysis on the product's card; {stands}"
    shares = [f"{_grams(line)} g {line.name} x {plain(line.per_100g.fat)} %" for line in lines if line.per_100g.fat]
    fat = plain(round_half_up(made.per_100g["fat"], 2))
    salt = plain(round_half_up(made.per_100g["salt"], 2))
    total = f"({' + '.join(shares)}) / {plain(context.finished)} g" if shares else "none"
    return f"fat {total} = {fat} g; salt = all sodium x {plain(context.figure('salt_from_sodium'))} = {salt} g; {stands}"
