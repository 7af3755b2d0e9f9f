"""Strung up, weighed, released."""

from __future__ import annotations

from typing import cast

from labelsvc.facts import Product, Release, String, Weigh
from labelsvc.ledger.derive.bench import Bench, percent_of
from labelsvc.ledger.derive.weighing import post_weight
from labelsvc.ledger.state import DRIP, DRYING, LotState
from labelsvc.units import grams_text


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
    )


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
    if piece.phase not in ("hanging", "out of cure"):
        bench.issue("note", "lot", "a piece that hangs", f"{piece.code}, which is {piece.phase}")
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
