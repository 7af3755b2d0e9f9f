"""Goods in and cutting: an animal, part or ingredient becomes a lot, and an animal becomes pieces, trim and bone."""

from __future__ import annotations

from decimal import Decimal
from typing import cast

from labelsvc.curing.salts import SALT
from labelsvc.curing.trichinella import check_trichinella, status_at_receipt
from labelsvc.errors import InputError
from labelsvc.facts import Cut, Ingredient, Product, Receive, Supplier
from labelsvc.ledger.derive.bench import Bench, card_key, percent_of
from labelsvc.ledger.derive.dosing import mix_line
from labelsvc.ledger.derive.lawful import holds_of_stock
from labelsvc.ledger.state import BONE, COUNT, TRIM, End, LotState, PutOn
from labelsvc.rules.load import PRACTICE, rules_of
from labelsvc.units import grams_text, plain

CUT_TOLERANCE_PERCENT = 2  # scales of a cutting room disagree by as much (common practice, no source); more is a slip


def receive(bench: Bench) -> None:
    """Supplier to lot."""
    body = cast(Receive, bench.fact.body)
    supplier = bench.card(Supplier, body.supplier, "supplier")
    ingredient = _ingredient_of(bench, body)
    if ingredient and body.strength:
        _compare_with_card(bench, body, ingredient)
    lot = bench.begin(
        bench.fact.codes[0],
        kind=body.kind,
        name=body.name,
        phase="received",
        made_milligrams=body.weight.milligrams,
        supplier=supplier.name,
        species=body.species,
        ingredient=ingredient.name if ingredient else None,
        strength=body.strength,
        held_for=holds_of_stock(bench, ingredient, body) if ingredient else (),
        count=body.count,
        origins=(body.origin or "",) if body.kind != "ingredient" else (),
        trichinella=None if body.kind == "ingredient" else status_at_receipt(body.trichinella, bench.fact.day),
        aliases=_numbers_on(body),
    )
    bench.flow((End("supplier", supplier.name), -body.weight.milligrams), (lot, body.weight.milligrams))
    for finding in check_trichinella(body.species or "", lot.trichinella, "as_is", "", bench.fact.day) if body.species else ():
        if finding.exceeded:
            bench.issue(
                "note", "trichinella", f"a result for {body.species}, before any of it is sold to be eaten as it is",
                str(lot.trichinella).replace("_", " "), "Correct this receipt when the result is there.",
            )  # fmt: skip


def _compare_with_card(bench: Bench, body: Receive, card: Ingredient) -> None:
    """Tell where a bag is not as strong as its card, and ask once where it is far from it: a misplaced point is ten doses."""
    on_card = {part.name: percent for part, percent in mix_line(PutOn(card.name, 1), card).contents}
    rules = rules_of(PRACTICE, bench.fact.day)
    share, times = (rules[f"practice.{name}"].value or Decimal(1) for name in ("bag_against_card", "bag_far_from_card"))
    for name, percent in body.strength:
        usual = on_card.get(name)
        if usual and name != SALT.name and abs(percent - usual) * 100 > usual * share:
            is_far = percent * times <= usual or percent >= usual * times
            field = f"{name.replace(' ', '_')}_percent"
            bench.issue(
                "ask" if is_far else "note", field, f"about the {plain(usual)} % of the card {card.name}", f"{plain(percent)} %",
                "Read the bag again, and where the point stands: the dose follows what is entered here.",
            )  # fmt: skip


def _ingredient_of(bench: Bench, body: Receive) -> Ingredient | None:
    if body.kind != "ingredient":
        if body.ingredient is not None:
            raise InputError("ingredient", f"no ingredient where the kind is {body.kind}", body.ingredient)
        return None
    field = "name" if body.ingredient is None else "ingredient"
    return bench.card(Ingredient, body.ingredient or body.name, field)


def _numbers_on(body: Receive) -> tuple[str, ...]:
    """The numbers on the goods or their papers that lead to the lot when typed or scanned."""
    identity = tuple(body.identity.values()) if isinstance(body.identity, dict) else (body.identity,)
    numbers = (*identity, body.herd_mark, body.carcass_number, body.supplier_lot)
    return tuple(dict.fromkeys(number for number in numbers if number))


def cut(bench: Bench) -> None:
    """Animal or part to pieces, trim and bone; what was not weighed stays with the animal."""
    body = cast(Cut, bench.fact.body)
    source = bench.lot_of(body.from_, "from", "animal", "part")
    bench.not_held(source, "from")
    weights = [piece.weight.milligrams for piece in body.pieces]
    trim, bone = (part.milligrams if part else 0 for part in (body.trim, body.bone))
    taken = sum(weights) + trim + bone
    _check_taken(bench, source, taken)
    pieces = [_begin_piece(bench, source, code, place) for place, code in enumerate(bench.fact.codes[: len(body.pieces)])]
    bench.flow((source, -taken), *zip(pieces, weights, strict=True), (TRIM, trim), (BONE, bone))


def _check_taken(bench: Bench, source: LotState, taken: int) -> None:
    gap = taken - source.milligrams
    if gap <= 0:
        return
    level = "ask" if gap * 100 <= source.made_milligrams * CUT_TOLERANCE_PERCENT else "refuse"
    bench.issue(
        level, "pieces", f"pieces, trim and bone of at most the {grams_text(source.milligrams)} g left of {source.code}",
        f"{grams_text(taken)} g, {percent_of(gap, source.made_milligrams)} % of the whole too much",
    )  # fmt: skip
    bench.flow((COUNT, -gap), (source, gap))


def _begin_piece(bench: Bench, source: LotState, code: str, place: int) -> LotState:
    given = cast(Cut, bench.fact.body).pieces[place]
    product = bench.card(Product, given.product, f"pieces[{place}].product")
    species = source.species or product.species
    is_other = card_key(species) != card_key(product.species)
    if is_other:
        bench.issue(
            "ask", f"pieces[{place}].product", f"a product made of {species}", f"{product.name}, made of {product.species}"
        )
    return bench.begin(
        code,
        kind="piece",
        name=product.name,
        phase="green",
        product=product.name,
        species=species if is_other else product.species,
        parent=source.code,
        made_milligrams=given.weight.milligrams,
        green_milligrams=given.weight.milligrams,
        is_weighed=True,
        weighed_on=bench.fact.day,
        trichinella=source.trichinella,
        origins=source.origins,
        held_for=source.held_for,
        count=given.count,
        aliases=bench.marker(given.marker, code, f"pieces[{place}].marker"),
    )


def reserve(bench: Bench) -> None:
    """Codes for blank markers: they are given out, and no lot yet."""
    for code in bench.fact.codes:
        bench.reserve(code)
