"""Strung up, weighed, released."""

from __future__ import annotations

from typing import cast

import msgspec

from labelsvc.curing.trichinella import check_trichinella
from labelsvc.facts import Move, Product, Release, Split, String, Weigh
from labelsvc.ledger.derive.bench import Bench, percent_of
from labelsvc.ledger.derive.weighing import post_weight
from labelsvc.ledger.state import DRIP, DRYING, LotState
from labelsvc.units import grams_text, share_out


def string(bench: Bench) -> None:
    """Set hang weight and tare; the tare is no posting. Taking the piece out of the tub is implied."""
    body = cast(String, bench.fact.body)
    piece = bench.lot_of(body.piece, "piece", "piece")
    _may_be_strung(bench, piece)
    product = bench.card(Product, piece.product or "", "piece")
    tare = body.tare if body.tare is not None else product.tare
    tare_milligrams = tare.milligrams if tare else 0
    net = body.weight.milligrams - (tare_milligrams if body.weight_is == "gross" else 0)
    if net <= 0:
        bench.issue("refuse", "weight", f"more than the tare of {grams_text(tare_milligrams)} g", str(body.weight))
        net = piece.milligrams
    post_weight(bench, piece, net, "weight", loss_to=DRYING if piece.is_weighed else DRIP)
    bench.change(
        piece,
        phase="hanging",
        tub=None,
        place=body.place,
        strung_on=bench.fact.day,
        hang_milligrams=net,
        tare_milligrams=tare_milligrams,
        things=(*piece.things, *body.things),
    )
    bench.hang_tag(body.tag, piece, "tag")


def _may_be_strung(bench: Bench, piece: LotState) -> None:
    if piece.phase == "hanging":
        bench.issue(
            "conflict", "piece", "a piece that does not hang yet", f"{piece.code}, strung on {piece.strung_on}",
            "Weigh it instead, or correct the earlier stringing.",
        )  # fmt: skip
    elif piece.phase == "green":
        bench.issue("ask", "piece", "a piece that was in the cure", f"{piece.code}, which was never cured")
    elif piece.phase not in ("in cure", "out of cure"):
        bench.issue("conflict", "piece", "a piece out of the cure", f"{piece.code}, which is {piece.phase}")


def weigh(bench: Bench) -> None:
    """Post the loss since the last weight to drying; while the piece is in the tub, to drip and brine."""
    body = cast(Weigh, bench.fact.body)
    piece = bench.lot_of(body.piece, "piece", "piece")
    if piece.phase not in ("green", "in cure", "out of cure", "hanging"):
        bench.issue("conflict", "piece", "a piece that is still whole", f"{piece.code}, which is {piece.phase}")
    net = body.weight.milligrams - piece.tare_milligrams
    if net <= 0:
        bench.issue("refuse", "weight", f"more than the tare of {grams_text(piece.tare_milligrams)} g", str(body.weight))
        net = piece.milligrams
    post_weight(bench, piece, net, "weight", loss_to=DRYING if piece.is_weighed else DRIP)


def move(bench: Bench) -> None:
    """Another room or rack; while the piece is in cure, another tub."""
    body = cast(Move, bench.fact.body)
    lot = bench.lot(body.lot, "lot")
    units = bench.units_of(body.lot, "lot") if lot.units else [lot]
    moved = [each for each in units if each.holder is None and each.milligrams] or units  # what has left stays where it is
    for each in moved:
        if each.holder is not None or each.milligrams == 0:
            bench.issue("conflict", "lot", "a lot that is here", f"{each.code}, which is {each.phase}")
        bench.change(each, **({"tub": body.place} if each.phase == "in cure" else {"place": body.place}))


def split(bench: Bench) -> None:
    """Children with their shares of everything; of a counted lot the rest keeps its code, of a piece the rest is the loss."""
    body = cast(Split, bench.fact.body)
    parent = bench.lot_of(body.from_, "from", "piece")
    weights = [part.weight.milligrams for part in body.pieces]
    parts = sum(part.count or 1 for part in body.pieces)
    _may_be_split(bench, parent, parts)
    balance = parent.milligrams
    children = [_begin_child(bench, parent, place, sum(weights)) for place in range(len(weights))]
    if parent.count is None or parts >= parent.count:
        post_weight(bench, parent, sum(weights), "pieces", loss_to=DRYING if parent.is_weighed else DRIP)
    else:
        bench.cover(parent, sum(weights), "pieces", "ask")
        _keep_rest(bench, parent, sum(weights), balance, parts)
    bench.flow((bench.now(parent), -sum(weights)), *zip(children, weights, strict=True))


def _may_be_split(bench: Bench, parent: LotState, parts: int) -> None:
    bench.not_held(parent, "from", while_lacking=True)
    if parent.phase not in ("green", "in cure", "out of cure", "hanging"):
        bench.issue("conflict", "from", "a piece that is still whole", f"{parent.code}, which is {parent.phase}")
    if parent.count is not None and parts > parent.count:
        bench.issue("ask", "pieces", f"at most the {parent.count} pieces of {parent.code}", f"{parts} pieces")


def _begin_child(bench: Bench, parent: LotState, place: int, whole: int) -> LotState:
    part = cast(Split, bench.fact.body).pieces[place]
    weight = part.weight.milligrams
    pieces = cast(Split, bench.fact.body).pieces
    weights = [one.weight.milligrams for one in pieces]
    is_part = parent.count is not None and sum(one.count or 1 for one in pieces) < parent.count
    rest = max(parent.milligrams - whole, 0) if is_part else 0

    def share(milligrams: int) -> int:
        return share_out(milligrams, [*weights, rest])[place]

    return bench.begin(
        bench.fact.codes[place],
        **{name: getattr(parent, name) for name in _INHERITED},
        parent=parent.code,
        made_milligrams=weight,
        green_milligrams=share(parent.green_milligrams),
        put_on_milligrams=share(parent.put_on_milligrams),
        put_on=tuple(msgspec.structs.replace(one, milligrams=share(one.milligrams)) for one in parent.put_on),
        hang_milligrams=share(parent.hang_milligrams),
        tare_milligrams=part.tare.milligrams if part.tare else 0,
        weighed_on=bench.fact.day,
        is_weighed=True,
        count=part.count,
        aliases=bench.marker(part.marker, bench.fact.codes[place], f"pieces[{place}].marker", parent.code),
    )


# What a child has from the piece it was part of, beside its shares.
_INHERITED = (
    "kind", "name", "phase", "product", "species", "method", "cured_on", "planned_out", "planned_packing",
    "temperature_c", "bag",
    "strung_on", "tub", "place",
    "released_by", "released_on", "held_for", "trichinella", "origins", "things", "best_before", "is_portioned",
    "measured", "decided",
)  # fmt: skip
_SHARED = ("green_milligrams", "put_on_milligrams", "hang_milligrams")


def _keep_rest(bench: Bench, parent: LotState, taken: int, balance: int, parts: int) -> None:
    split = [part.weight.milligrams for part in cast(Split, bench.fact.body).pieces]
    left = max(balance - taken, 0)
    shares = {name: share_out(getattr(parent, name), [*split, left])[-1] for name in _SHARED}
    kept = tuple(msgspec.structs.replace(one, milligrams=share_out(one.milligrams, [*split, left])[-1]) for one in parent.put_on)
    bench.change(parent, count=(parent.count or parts) - parts, put_on=kept, **shares)


def release(bench: Bench) -> None:
    """Record the decision on a piece, or on all packs of a pack lot."""
    body = cast(Release, bench.fact.body)
    lot = bench.lot_of(body.lot, "lot", "piece", "pack")
    bench.not_held(lot, "lot")
    if lot.kind == "piece":
        _check_ready(bench, lot)
    units = bench.units_of(body.lot, "lot") if lot.units else []
    for released in (lot, *units):
        bench.change(released, released_by=body.by, released_on=bench.fact.day)


def _check_ready(bench: Bench, piece: LotState) -> None:
    """Tell what the decision does not rest on: neither loss nor days prove that a piece is safe."""
    product = bench.card(Product, piece.product or "", "lot")
    if piece.phase in ("green", "in cure"):
        bench.issue("ask", "lot", "a piece out of the cure", f"{piece.code}, which is {piece.phase}")
    for market in product.markets:
        for finding in check_trichinella(
            piece.species or product.species, piece.trichinella, product.eaten, market, bench.fact.day
        ):
            bench.issue("note", "lot", f"meat cleared of Trichinella for {market}", f"{piece.code}: {finding.message}")
    loss = percent_of(base_milligrams(piece, product) - piece.milligrams, base_milligrams(piece, product))
    target = product.target_loss_percent
    if target is not None and loss < target:
        bench.issue("note", "lot", f"a loss of {target} % of the {product.loss_base} weight", f"{loss} %")
    days = (bench.fact.day - (piece.strung_on or bench.fact.day)).days
    if product.minimum_days is not None and days < product.minimum_days:
        bench.issue("note", "lot", f"at least {product.minimum_days} days of hanging", f"{days} days")


def base_milligrams(piece: LotState, product: Product) -> int:
    """Return the weight that the product's loss is a percentage of: hang weight without string, or green weight."""
    return piece.green_milligrams if product.loss_base == "green" else piece.hang_milligrams
