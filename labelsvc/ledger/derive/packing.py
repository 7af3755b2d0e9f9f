"""Packing: one session makes one pack lot of these pieces; the difference since the last weigh-in posts itself."""

from __future__ import annotations

import datetime as dt
from typing import cast

from labelsvc import choices
from labelsvc.codes.lot_code import LotCode
from labelsvc.declaration.context import words_in
from labelsvc.declaration.words import allergen_key, words_of
from labelsvc.errors import InputError
from labelsvc.facts import Pack, Product
from labelsvc.ledger.derive.bench import Bench, card_key, percent_of
from labelsvc.ledger.derive.lawful import holds_of_packs, no_rules_for
from labelsvc.ledger.state import COUNT, DRYING, TRIM, HeldFor, LotState
from labelsvc.rules.load import MARKETS, rules_of
from labelsvc.units import grams_text, share_out

# More lost since the last weigh-in than this asks whether a rest was forgotten (common practice, no source).
UNEXPLAINED_PERCENT = 25
MOST_GAIN_PERCENT = 10  # of what was there: more is another piece or a slip of the scale (common practice, no source)


def pack(bench: Bench) -> None:
    """Pieces to units as one flow; rest stays, trim goes, the remainder is drying, or a count difference if negative."""
    body = cast(Pack, bench.fact.body)
    pieces = [_taken(bench, i) for i in range(len(body.from_))]
    trims = [taken.trim.milligrams if taken.trim else 0 for taken in body.from_]
    rests = [taken.rest.milligrams if taken.rest else 0 for taken in body.from_]
    weights = [unit.weight.milligrams for unit in body.packs]
    for piece, trim in zip(pieces, trims, strict=True):
        bench.flow((bench.cover(piece, trim, "from", "refuse"), -trim), (TRIM, trim))
    _post_difference(bench, pieces, rests, sum(weights))
    given = _shares_of(bench, pieces, rests, sum(weights))
    units = _begin_units(bench, pieces)
    bench.flow(*((piece, -share) for piece, share in zip(pieces, given, strict=True)), *zip(units, weights, strict=True))
    for piece in pieces:
        into = (*bench.now(piece).packed_into, bench.fact.codes[0])
        bench.change(piece, is_portioned=True, packed_into=into)


def _taken(bench: Bench, place: int) -> LotState:
    body = cast(Pack, bench.fact.body)
    field = f"from[{place}].piece"
    piece = bench.lot_of(body.from_[place].piece, field, "piece")
    if piece.code in [bench.lot(other.piece, field).code for other in body.from_[:place]]:
        raise InputError(field, "each piece once", body.from_[place].piece)
    if piece.milligrams == 0:
        bench.issue("conflict", field, "a piece of which something is left", f"{piece.code}, which is {piece.phase}")
    bench.not_held(piece, field)
    if piece.phase in ("green", "in cure"):
        bench.issue("ask", field, "a piece out of the cure", f"{piece.code}, which is {piece.phase}")
    if piece.released_by is None:
        bench.issue(
            "note", field, "a released piece", f"{piece.code}, not released", "Its packs cannot be sold before a release."
        )
    return piece


def _post_difference(bench: Bench, pieces: list[LotState], rests: list[int], packed: int) -> None:
    """Post what the pieces lost since they were last weighed, shared by what is there of each beyond its rest."""
    there = [max(bench.now(piece).milligrams - rest, 0) for piece, rest in zip(pieces, rests, strict=True)]
    loss = sum(bench.now(piece).milligrams for piece in pieces) - sum(rests) - packed
    if loss == 0:
        return
    shares = share_out(loss, there if any(there) else [1] * len(pieces))
    whole = sum(bench.now(piece).milligrams for piece in pieces)
    if loss < 0:
        _ask_about_gain(bench, pieces, -loss, whole, packed)
        for piece, share in zip(pieces, shares, strict=True):
            bench.flow((COUNT, share), (piece, -share))
        return
    if loss * 100 > whole * UNEXPLAINED_PERCENT:
        bench.issue(
            "ask", "from", f"packs, rest and trim near the {grams_text(whole)} g that were there",
            f"{grams_text(whole - loss)} g", f"{percent_of(loss, whole)} % would count as drying: is something left of a piece?",
        )  # fmt: skip
    for piece, share in zip(pieces, shares, strict=True):
        bench.flow((bench.now(piece), -share), (DRYING, share))


def _ask_about_gain(bench: Bench, pieces: list[LotState], gain: int, whole: int, packed: int) -> None:
    tolerance = max(bench.card(Product, piece.product or "", "from").gain_tolerance_percent for piece in pieces)
    level = "note" if gain * 100 <= whole * tolerance else "ask" if gain * 100 <= whole * MOST_GAIN_PERCENT else "refuse"
    bench.issue(
        level, "packs", f"packs, rest and trim of at most the {grams_text(whole)} g there are",
        f"{grams_text(whole + gain)} g", f"The packs alone weigh {grams_text(packed)} g.",
    )  # fmt: skip


def _shares_of(bench: Bench, pieces: list[LotState], rests: list[int], packed: int) -> list[int]:
    """How much of the packs came from each piece: what is left of it now beyond its rest."""
    left = [bench.now(piece).milligrams - rest for piece, rest in zip(pieces, rests, strict=True)]
    return left if min(left) >= 0 and sum(left) == packed else share_out(packed, [max(part, 1) for part in left])


def _begin_units(bench: Bench, pieces: list[LotState]) -> list[LotState]:
    body = cast(Pack, bench.fact.body)
    product = _product_of(bench, pieces)
    _compare_with_card(bench, body, product)
    lot = LotCode.parse(bench.fact.codes[0])
    released = [piece for piece in pieces if piece.released_by]
    _check_language(bench, body)
    known = dict(
        kind="pack",
        name=product.name,
        product=product.name,
        species=product.species,
        phase="in stock",
        packed_on=bench.fact.day,
        best_before=_durable_until(bench, product, pieces),
        session=body.session,
        slicer=body.slicer,
        things=body.things,
        country=body.country,
        may_contain=None if body.may_contain is None else tuple(allergen_key(one, "may_contain") for one in body.may_contain),
        market=body.market,
        language=body.language,
        form=choices.form_of_sale(body.form),
        released_by=released[0].released_by if len(released) == len(pieces) else None,
        released_on=max(piece.released_on or bench.fact.day for piece in pieces) if len(released) == len(pieces) else None,
        held_for=_holds(bench, pieces, product),
        trichinella=_weakest(pieces),
        origins=tuple(sorted({origin for piece in pieces for origin in piece.origins or ("",)})),
        made_from=tuple(piece.code for piece in pieces),
    )
    bench.begin(str(lot), units=len(body.packs), **known)
    return [
        bench.begin(f"{lot}/{number}", parent=str(lot), made_milligrams=unit.weight.milligrams, **known)
        for number, unit in enumerate(body.packs, start=1)
    ]


def _compare_with_card(bench: Bench, body: Pack, product: Product) -> None:
    """Say where packs are for a market that the card does not name, or that we have no rules for: it may be a slip of a key."""
    if body.market.lower() not in MARKETS:
        message = no_rules_for(body.market).message
        bench.issue("note", "market", f"a market of {', '.join(MARKETS)}", body.market, f"{message}.")
    elif product.markets and body.market.lower() not in [one.lower() for one in product.markets]:
        bench.issue("note", "market", f"a market of the card {product.name}, {' or '.join(product.markets)}", body.market)


def _check_language(bench: Bench, body: Pack) -> None:
    """Refuse a language that no label of the market could be printed in."""
    language, market = body.language.lower(), body.market.lower()
    words_of(language)
    if market in MARKETS:
        try:
            words_in(rules_of(market, bench.fact.day), language)
        except InputError as error:
            bench.issue("refuse", error.field, error.expected, error.got)


def _holds(bench: Bench, pieces: list[LotState], product: Product) -> tuple[HeldFor, ...]:
    """What holds a piece holds its packs; the law is asked again for the market and day of the packing."""
    body = cast(Pack, bench.fact.body)
    own = {f"{held.fact} {held.reason}": held for piece in pieces for held in piece.held_for if held.finding is None}
    legal = holds_of_packs(bench, pieces, product, body.market, bench.fact.day)
    for held in legal:
        bench.issue("note", "market", f"meat that may be sold in {body.market}", held.reason, "The packs are held.")
    return (*own.values(), *legal)


def _weakest(pieces: list[LotState]) -> str | None:
    """The least that is known of any of the pieces: one unknown makes the pack unknown."""
    order = ("unknown", "frozen_too_little", "frozen_unchecked", "frozen", "controlled_housing", "tested", None)
    return min((piece.trichinella for piece in pieces), key=order.index)


def _product_of(bench: Bench, pieces: list[LotState]) -> Product:
    named = cast(Pack, bench.fact.body).product
    products = dict.fromkeys(card_key(piece.product or "") for piece in pieces)
    if named is None and len(products) > 1:
        raise InputError("product", "the product of the mixed packs", "nothing", f"The pieces are {' and '.join(products)}.")
    return bench.card(Product, named or pieces[0].product or "", "product")


def _durable_until(bench: Bench, product: Product, pieces: list[LotState]) -> dt.date:
    """A date never grows: what was packed before keeps its earlier date."""
    dates = [piece.best_before for piece in pieces if piece.best_before]
    return min([bench.fact.day + dt.timedelta(days=product.shelf_life_days), *dates])
