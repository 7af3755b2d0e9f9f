"""Everything a label must say of one pack, each thing with the rule that asks for it, and what stands in the way.

Regulation (EU) No 1169/2011, Articles 9, 13 and 16; Directive 2011/91/EU; for the US 9 CFR 317.2.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any

from labelsvc.declaration import keeping, languages, naming, operator, origin, panel, statements
from labelsvc.declaration.context import Context, context_for
from labelsvc.declaration.dates import DateLine, date_line, is_lot_code_needed
from labelsvc.declaration.declare import Declaration
from labelsvc.declaration.line import Line
from labelsvc.declaration.nutrition import NutritionLine
from labelsvc.declaration.packing import Packing
from labelsvc.declaration.particulars import (
    display_panel_cm2,
    figure_height_mm,
    is_list_needed,
    is_net_quantity_needed,
    lot_line,
    net_quantity,
    panel_figure_height_mm,
    x_height_mm,
)
from labelsvc.declaration.saying import Particular, Said, particular
from labelsvc.facts import Product, Workshop
from labelsvc.rules.finding import Finding
from labelsvc.units import Mass, plain, ratio, round_half_up, round_up


@dataclass(frozen=True)
class Made:
    """What the pack was made of, as far as its label needs it.

    Args:
        declaration: ingredients and allergens of this pack, quantities of the average.
        weight: of the product that the declaration was made for.
        finished: weight of the product that came of ``lines``.
        lines: what went in with its composition.
        unknown: why no nutrition can be computed; empty where it can.
        rests_on: how many pieces the average rests on.
    """

    declaration: Declaration
    weight: Mass
    finished: Mass
    lines: Sequence[NutritionLine] = ()
    unknown: Sequence[str] = ()
    rests_on: int = 1


@dataclass(frozen=True)
class Label:
    """What a label says.

    Args:
        said: its particulars in the order in which they are read.
        findings: what was found on the way; one that stops and is exceeded forbids the label.
        smallest_mm: by element, the least height of its capitals and figures; of the origin, of its small x.
        x_height_mm: least height of a small x, or None where no face is known.
    """

    said: tuple[Particular, ...]
    findings: tuple[Finding, ...]
    smallest_mm: Mapping[str, Decimal]
    x_height_mm: Decimal | None

    def text(self, element: str) -> str:
        """Return what stands in an element, sentences one after the other."""
        first, *more = [one.text for one in self.said if one.element == element] or [""]
        return ". ".join(text.rstrip(".") for text in (first, *more)) if more else first

    def as_json(self) -> dict[str, Any]:
        """Return it as JSON values."""
        return {
            "particulars": [one.as_json() for one in self.said],
            "smallest_mm": {name: plain(height) for name, height in self.smallest_mm.items()},
            "x_height_mm": None if self.x_height_mm is None else plain(self.x_height_mm),
            "findings": [one.as_json() for one in self.findings],
        }


def label_of(product: Product, workshop: Workshop, packing: Packing, made: Made) -> Label:
    """Return what the label of a pack says.

    Args:
        product: its card.
        workshop: who makes it.
        packing: the pack and where it is sold.
        made: what it was made of.

    Raises:
        InputError: an unknown market or language, or a date before the packing day.
    """
    context = context_for(packing.market, packing.language, packing.on, made.finished.grams)
    parts: list[Said] = [
        naming.name_said(product, packing, context, has_added_water=_has_added_water(made.declaration)),
        _net_said(product, packing, context),
        keeping.date_said(product, packing, context),
        _list_said(product, made, context),
        (keeping.storage_said(product, context), keeping.handling_found(product, context)),
        (_sentences(product, made.declaration, context), operator.standing_found(workshop, context)),
        statements.safe_handling_said(product, context),
        statements.may_contain_said(packing, made.declaration.allergens, context),
        origin.origin_said(product, packing, workshop, context),
        panel.nutrition_said(product, workshop, packing, context, made.lines, made.unknown),
        operator.operator_said(workshop, packing, context),
        operator.mark_said(workshop, product, packing, context),
        (_lot_said(product, packing, context), languages.language_found(packing, workshop, context)),
        ([], languages.card_found(product, context)),
        ([], _self_service_found(packing, workshop, context)),
    ]
    said = _with_need([one for part, _ in parts for one in part], product, packing, context)
    found = [one for _, part in parts for one in part]
    found += languages.unconfirmed_found(_phrases(said, product, made.declaration), context)
    return Label(
        tuple(said), (*made.declaration.findings, *found), _smallest(said, product, packing, context), _least_x(product, packing)
    )


def _net_said(product: Product, packing: Packing, context: Context) -> Said:
    text = net_quantity(packing.weight, context.language, context.market, packs=packing.packs)
    needed = is_net_quantity_needed(
        loses_weight=product.packed_in in (None, "air"), by_piece_or_weighed_before_buyer=packing.sold_as == "loose"
    )
    working = f"{plain(packing.weight.grams)} g on the scale, rounded down" if needed else "not needed: weighed before the buyer"
    return [particular("net_quantity", text, context.rule("net_quantity"), f"{working}{_short_weight(packing, context)}")], []


def _short_weight(packing: Packing, context: Context) -> str:
    """Say how much a pack may be short of a declared quantity: for information, no licence to fill less."""
    rule = context.rules.get(f"{context.market}.labelling.short_weight")
    row = next((row for row in rule.table if packing.weight.grams <= row["up_to_g"]), None) if rule else None
    if row is None:
        return ""
    least = Decimal(row["grams"]) if "grams" in row else packing.weight.grams * Decimal(row["percent"]) / 100
    doubt = " (from memory)" if rule is not None and rule.known == "unconfirmed" else ""
    return f"; tolerable negative error of packs of equal nominal weight {plain(round_up(least, 1))} g{doubt}"


def _list_said(product: Product, made: Made, context: Context) -> Said:
    declaration = made.declaration
    order = "; ".join(f"{line.name} {_grams(line.weight)}" for line in declaration.lines)
    share = f"weights at use for {_grams(made.weight.grams)} of finished product: {order}"
    said = [particular("ingredients", declaration.ingredient_list, context.rule("ingredient_order"), share)]
    if declaration.quantity_statement and not declaration.quantities_in_list:
        said.append(particular("quantity_statement", declaration.quantity_statement, context.rule("quantity_grams"), _sums(made)))
    if declaration.contains:
        working = "every ingredient lot in or on the piece, washes, coatings, casings and netting included"
        said.append(particular("allergens", declaration.contains, context.rule("allergens"), working))
    return said, []


def _grams(grams: Decimal) -> str:
    """Grams for the working: to a tenth, what weighs less than a gram to a milligram."""
    return f"{plain(round_half_up(grams, 1 if grams >= 1 else 3))} g"


def _sums(made: Made) -> str:
    """The formula of the declared quantities with its numbers."""
    each = [
        f"{one.name} {plain(round_half_up(Decimal(one.exact), 2))} g in 100 g, printed {one.value}"
        for one in made.declaration.quantities
    ]
    pieces = f"average of {made.rests_on} piece{'s' if made.rests_on > 1 else ''}"
    weights = {line.name: line.weight for line in made.declaration.lines}
    own = [
        f"{_grams(weights[one.name])} / {_grams(made.weight.grams)} x 100 = "
        f"{plain(round_half_up(100 * ratio(weights[one.name], made.weight.grams), 2))} g of {one.name}"
        for one in made.declaration.quantities
        if one.name in weights
    ]
    return f"{pieces}; {'; '.join(each)}; this lot: {'; '.join(own)}; one figure or their sum is over 100 %, so grams"


def _sentences(product: Product, declaration: Declaration, context: Context) -> list[Particular]:
    rule = context.rule("uncured" if context.market == "us" else "treatment_in_name")
    in_name = context.words["statements"]["added_water"]
    said = [particular("statements", text, rule) for text in declaration.statements if text != in_name]
    said += keeping.atmosphere_said(product, context)
    return [*said, *naming.inedible_said(product, context)]


def _has_added_water(declaration: Declaration) -> bool:
    return any(one.rule.endswith(".added_water_in_name") and one.exceeded for one in declaration.findings)


def _lot_said(product: Product, packing: Packing, context: Context) -> list[Particular]:
    if packing.lot is None:
        return []
    return [particular("lot_line", lot_line(packing.lot), context.rule("lot"), _why_a_lot(product, packing, context))]


def _why_a_lot(product: Product, packing: Packing, context: Context) -> str:
    if context.market == "us":
        return ""
    if packing.sold_as != "prepacked":
        return "the law asks for none where it is not prepacked; it is printed for a recall"
    line = _date_line(product, packing, context)
    if line is not None and not is_lot_code_needed(line, context.market, packing.on):
        return "the law asks for none beside a date with day and month; it is printed for a recall"
    return "needed: the date shows no day"


def _date_line(product: Product, packing: Packing, context: Context) -> DateLine | None:
    if packing.best_before is None:
        return None
    return date_line(product.date_kind, packing.on, packing.best_before, context.language, context.market)


def _with_need(said: list[Particular], product: Product, packing: Packing, context: Context) -> list[Particular]:
    """Mark what the form of sale or a tiny pack may do without; the statement of allergens is needed where no list stands."""
    waived = _waived(said, product, packing, context)
    has_list = "ingredients" not in waived
    # the list itself tells the allergens; only the US sets a sentence behind it
    printed = [one for one in said if one.element != "allergens" or not has_list or context.market == "us"]
    return [replace(one, is_needed=one.element not in waived) for one in printed]


def _waived(said: list[Particular], product: Product, packing: Packing, context: Context) -> set[str]:
    elements = {one.element for one in said}
    if context.market == "us" or packing.sold_as == "bulk":
        return set()
    if packing.sold_as != "prepacked":
        row = next(row for row in context.rule("not_prepacked").table if row["form"] == packing.sold_as)
        return elements - set(row["elements"])
    face = product.face_cm2
    if face is not None and not is_list_needed(face, context.market, packing.on):
        return elements - set(context.rule("small_pack_elements").table[0]["elements"])
    return set()


def _self_service_found(packing: Packing, workshop: Workshop, context: Context) -> list[Finding]:
    """Say what more a pack made for direct sale needs where it lies out for self-service, which no fact tells."""
    rule = context.rules.get(f"{context.market}.labelling.direct_self_service")
    country = packing.country or workshop.country
    row = next((row for row in rule.table if country in row["countries"]), None) if rule else None
    if rule is None or row is None or packing.sold_as != "direct":
        return []
    without = " and ".join(one.replace("_", " ") for one in row["without"])
    message = f"{rule.title}. Does it lie out for self-service? Then print the whole label; only {without} may be left away."
    return [rule.found(country, message, exceeded=False)]


def _smallest(said: Sequence[Particular], product: Product, packing: Packing, context: Context) -> dict[str, Decimal]:
    if packing.market == "us":  # there the area of the display panel decides; where its measures are missing, that of the label
        if product.display_panel is None:
            return {}
        panel = display_panel_cm2(product.display_panel, packing.market, packing.on)
        return {"net_quantity": panel_figure_height_mm(panel, packing.market, packing.on)}
    heights = {"net_quantity": figure_height_mm(packing.weight, packing.market, packing.on)}
    if packing.origin_x_height_mm is not None and any(one.element == "origin" for one in said):
        heights["origin"] = origin.origin_height_mm(packing.origin_x_height_mm, context)
    return heights


def _least_x(product: Product, packing: Packing) -> Decimal | None:
    if packing.market == "us" or product.face_cm2 is None:
        return None
    return x_height_mm(product.face_cm2, packing.market, packing.on)


_ALWAYS = {"quantity_statement": ("quantity",), "nutrition": ("nutrition",)}


def _phrases(said: Sequence[Particular], product: Product, declaration: Declaration) -> list[str]:
    """The keys of the phrases that stand on the label, to tell which of them are known from memory only."""
    elements = {one.element for one in said}
    keys = [key for element in elements for key in _ALWAYS.get(element, ())]
    keys += [f"functions.{function}" for function in _functions(declaration.lines)]
    keys += ["statements.may_contain"] if "may_contain" in elements else []
    keys += ["origin"] if "origin" in elements else []
    keys += [f"statements.{part}" for part in (*product.inedible, *product.treatments)]
    keys += ["statements.protective_atmosphere"] if product.packed_in == "gas" else []
    keys += ["statements.refrigerated"] if product.storage == "refrigerated" else []
    cook = ["statements.cook"] if product.cooking is None else []
    return [*keys, *(cook if product.eaten == "cooked" else ["statements.ready_to_eat"])]


def _functions(lines: Sequence[Line]) -> set[str]:
    """The classes of the additives in a list, those in a mixture included."""
    return {line.function for line in lines if line.function}.union(*(_functions(line.parts) for line in lines))
