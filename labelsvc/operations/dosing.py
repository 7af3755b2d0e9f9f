"""The grams to weigh out for pieces: by a recipe, from the very containers, on the scale that is there, with the working."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any, cast

from labelsvc import facts
from labelsvc.curing.advice import CAUTION
from labelsvc.curing.amounts import Ingoing, amounts_on, shown
from labelsvc.curing.by_recipe import Asked, Part, grams_asked
from labelsvc.curing.cure import Cure
from labelsvc.curing.dose import compute_dose
from labelsvc.curing.ingoing import remarks_on_mix
from labelsvc.curing.mix import PERCENT_FIELDS, Bag, MixLine, brings_curing_agent
from labelsvc.curing.salts import SODIUM_NITRITE
from labelsvc.curing.scale import on_scale, remarks_on_scale, worst_of
from labelsvc.curing.too_little import check_too_little
from labelsvc.curing.working import working_of
from labelsvc.errors import BlockedError, InputError
from labelsvc.ledger import read
from labelsvc.ledger.asof import AsOf
from labelsvc.ledger.database import Connection, Ledger
from labelsvc.ledger.derive.bench import card_key
from labelsvc.ledger.derive.dosing import mix_line
from labelsvc.ledger.derive.lawful import class_checked, law_on
from labelsvc.ledger.state import LotState, PutOn
from labelsvc.operations.making import figure_of
from labelsvc.rules.finding import Finding
from labelsvc.rules.load import MARKETS
from labelsvc.shape import read_shape
from labelsvc.units import Mass, grams_text, plain, round_half_up

HUNDREDTH = Mass(Decimal("0.01"))  # of a gram: what a scale for curing salt shows, where no other is named


@dataclass(frozen=True)
class Bench:
    """What is at the bench: the recipe's lines with their containers, the scale, and the day.

    Args:
        recipe: the card.
        parts: each line with its container, where one was scanned.
        step: of the scale, or None where nobody said.
        on: the day whose law counts.
        connection: where products and figures stand.
    """

    recipe: facts.Recipe
    parts: tuple[Part, ...]
    step: Mass | None
    on: dt.date
    connection: Connection

    def asked(self, piece: LotState, green: Mass) -> list[Asked]:
        """Return the grams of each line for so much meat, to the step of the scale; rounding passes no limit of the piece."""
        exact = grams_asked(green, self.parts)
        is_over = bool(self.stops(piece, amounts_on(green, [one.line for one in exact])))

        def is_allowed(lines: Sequence[MixLine]) -> bool:
            return is_over or not self.stops(piece, amounts_on(green, lines))

        lines = on_scale([one.line for one in exact], self.step or HUNDREDTH, is_allowed)
        return [replace(one, line=line) for one, line in zip(exact, lines, strict=True)]

    def law(self, piece: LotState, ingoing: Ingoing) -> list[list[Finding]]:
        """Return what each market of the piece's product says to an amount."""
        product = AsOf(self.connection, read.END_OF_TIME).card("product", piece.product or "")
        if not isinstance(product, facts.Product):
            return []
        entered = figure_of(self.connection)
        return [law_on(ingoing, one, product, [self.on], method="dry", figure_of=entered) for one in product.markets]

    def stops(self, piece: LotState, ingoing: Ingoing) -> list[Finding]:
        """Return what stops an amount: nothing where one market of its product allows it."""
        found = [[one for one in said if one.severity == "stop" and one.exceeded] for said in self.law(piece, ingoing)]
        return found[0] if found and all(found) else []


def grams_to_weigh(
    ledger: Ledger,
    recipe: str,
    pieces: Sequence[str],
    *,
    on: dt.date,
    containers: Sequence[str] = (),
    scale_step: str | None = None,
) -> dict[str, Any]:
    """Return what to weigh out for pieces by a recipe: percent of each piece's green weight.

    Args:
        ledger: where.
        recipe: its name.
        pieces: codes or markers.
        on: the day whose law counts.
        containers: the bags it is taken from: from one of another strength than the card as much as brings the same nitrite.
        scale_step: the step of the scale, such as "0.1 g".

    Returns:
        ``{recipe, pieces: [{code, name, green_grams, weigh, dose, said, findings, working}], together, cautions}``; a line of
        ``weigh`` is ``{ingredient, weight, percent_of_green, container?, why?}``.

    Raises:
        InputError: no such recipe, not a piece, or not a container of the recipe.
        BlockedError: the recipe would put a piece over a limit in every market of its product.
    """
    step = None if scale_step is None else Mass.parse(scale_step, "scale_step")
    if step is not None and step.grams <= 0:
        raise InputError("scale_step", "a step above 0 g", str(scale_step))
    with ledger.reading() as connection:
        card = AsOf(connection, read.END_OF_TIME).card("recipe", recipe)
        if not isinstance(card, facts.Recipe):
            raise InputError("recipe", "the name of a recorded recipe", recipe)
        bags = _bags(connection, card, containers)
        parts = tuple(_part(connection, line.ingredient, line.percent_of_green, bags) for line in card.lines)
        bench = Bench(card, parts, step, on, connection)
        found = [_piece_named(connection, text, f"pieces[{place}]") for place, text in enumerate(pieces)]
        told = [_for_piece(bench, piece, place, bags) for place, piece in enumerate(found)]
        whole = Mass.from_milligrams(sum(piece.green_milligrams for piece in found))
        return {
            "recipe": card.name,
            "pieces": told,
            "together": _weigh(bench.asked(found[0], whole), bags) if found else [],
            "cautions": [CAUTION] if any(brings_curing_agent(part.bag or part.card) for part in parts) else [],
        }


def _piece_named(connection: Connection, text: str, field: str) -> LotState:
    piece = read.find(connection, text, field).state
    if piece.kind != "piece":
        raise InputError(field, "a piece", f"{piece.code}, of kind {piece.kind}")
    return piece


def _bags(connection: Connection, recipe: facts.Recipe, containers: Sequence[str]) -> dict[str, LotState]:
    wanted = {card_key(line.ingredient) for line in recipe.lines}
    bags: dict[str, LotState] = {}
    for place, text in enumerate(containers):
        lot = read.find(connection, text, f"containers[{place}]").state
        if lot.kind != "ingredient" or card_key(lot.ingredient or "") not in wanted:
            expected = f"a container of {', '.join(line.ingredient for line in recipe.lines)}"
            raise InputError(f"containers[{place}]", expected, f"{lot.code}, {lot.name}")
        bags[card_key(lot.ingredient or "")] = lot
    return bags


def _part(connection: Connection, name: str, percent: Decimal, bags: dict[str, LotState]) -> Part:
    card = cast("facts.Ingredient | None", AsOf(connection, read.END_OF_TIME).card("ingredient", name))
    bag = bags.get(card_key(name))
    return Part(percent, mix_line(PutOn(name, 0), card), mix_line(PutOn(name, 0, bag.strength), card) if bag else None)


def _for_piece(bench: Bench, piece: LotState, place: int, bags: dict[str, LotState]) -> dict[str, Any]:
    green = Mass.from_milligrams(piece.green_milligrams)
    asked = bench.asked(piece, green)
    lines = [one.line for one in asked]
    ingoing = amounts_on(green, lines)
    stops = bench.stops(piece, ingoing)
    if stops:
        field = f"pieces[{place}]"
        raise BlockedError(f"{field}: no grams for {piece.code}: {stops[0].message}", [one.as_json() for one in stops], field)
    law = [one for said in bench.law(piece, ingoing) for one in said]
    findings = [
        *remarks_on_mix(lines),
        *law,
        *check_too_little(ingoing, bench.on),
        *_of_scale(bench, piece, green, lines, ingoing),
    ]
    weighed = tuple(line for line in lines if line.weight.grams)
    return {
        "code": piece.code,
        "name": piece.name,
        "green_grams": grams_text(piece.green_milligrams),
        "weigh": _weigh(asked, bags),
        "dose": ingoing.as_json(),
        "said": ingoing.in_words(),
        "findings": [one.as_json() for one in dict.fromkeys(findings)],
        "working": working_of(Cure("dry", green, weighed, Mass(sum((one.weight.grams for one in weighed), Decimal(0)))))
        if weighed
        else [],
        **_worst(bench, green, lines),
    }


def _worst(bench: Bench, green: Mass, lines: Sequence[MixLine]) -> dict[str, Any]:
    if bench.step is None or any(line.is_unchecked for line in lines):
        return {}
    low, high = (shown(one.as_salt(SODIUM_NITRITE)) for one in worst_of(lines, green, bench.step))
    return {"worst": {"nitrite_ppm_low": low, "nitrite_ppm_high": high}}


def _of_scale(bench: Bench, piece: LotState, green: Mass, lines: Sequence[MixLine], ingoing: Ingoing) -> list[Finding]:
    target = amounts_on(green, [one.line for one in grams_asked(green, bench.parts)]).as_salt(SODIUM_NITRITE)
    if bench.step is None or not target:
        return []
    worst = worst_of(lines, green, bench.step)
    return remarks_on_scale(lambda amount: bool(bench.stops(piece, amount)), ingoing, worst, target)


def _weigh(asked: Sequence[Asked], bags: dict[str, LotState]) -> list[dict[str, str]]:
    return [
        {
            "ingredient": one.line.name,
            "weight": f"{_two_places(one.line.weight)} g",
            "percent_of_green": plain(one.percent),
            **({"container": bags[card_key(one.line.name)].code} if card_key(one.line.name) in bags else {}),
            **({"why": one.why} if one.why else {}),
        }
        for one in asked
    ]


def _two_places(weight: Mass) -> str:
    """At least two places, as a scale for curing salt shows them; more where its step is finer."""
    shown_places = str(round_half_up(weight.grams, 2))
    return shown_places if Decimal(shown_places) == weight.grams else plain(weight.grams)


def grams_for_targets(
    ledger: Ledger, piece: str, container: str, targets: Mapping[str, str], *, on: dt.date, scale_step: str | None = None
) -> dict[str, Any]:
    """Return what to weigh out for a piece to reach targets, from one container of curing salt.

    Args:
        ledger: where.
        piece: its code or marker.
        container: the bag of curing salt; its own strength counts.
        targets: nitrite_ppm, salt_percent, sugar_percent, as far as they are wanted.
        on: the day whose law counts.
        scale_step: the step of the scale, such as "0.1 g".

    Returns:
        ``{code, name, green_grams, container, weigh, worst, working, markets: [{market, class, findings}], cautions}``.

    Raises:
        InputError: not a piece, not a curing salt, no target.
        BlockedError: the grams would be over a limit in every market of the product.
    """
    with ledger.reading() as connection:
        lot, bag = _piece_named(connection, piece, "piece"), read.find(connection, container, "container").state
        card = AsOf(connection, read.END_OF_TIME).card("product", lot.product or "")
        premix = _premix(connection, bag)
        if not isinstance(card, facts.Product):
            raise InputError("piece", "a piece of a recorded product", f"{lot.code}, {lot.product}")
        answer = compute_dose({
            **_lawful_class(card),
            "on": on.isoformat(),
            "green_weight": f"{grams_text(lot.green_milligrams)} g",
            "premix": premix,
            "skin_on": card.skin_on,
            "targets": dict(targets),
            **({"scale_step": scale_step} if scale_step else {}),
        })  # fmt: skip
        ingoing = _brought_in(answer["weigh"], premix, Mass.from_milligrams(lot.green_milligrams))
        law = [law_on(ingoing, one, card, [on], method="dry", figure_of=figure_of(connection)) for one in card.markets]
    stops = [[one.as_json() for one in said if one.severity == "stop" and one.exceeded] for said in law]
    if stops and all(stops):
        raise BlockedError(f"piece: no grams for {lot.code}: {stops[0][0]['message']}", stops[0], "piece")
    by_law = {one["rule"] for one in answer["ingoing"]["findings"]}
    beside = [one for one in answer["findings"] if one["rule"] not in {*by_law, "curing.caution"}]
    beside += [one.as_json() for one in check_too_little(ingoing, on)]
    markets = [
        {"market": one, "class": card.class_in(one), "findings": [*(each.as_json() for each in said), *beside]}
        for one, said in zip(card.markets, law, strict=True)
    ]
    told = {name: answer[name] for name in ("weigh", "worst", "ingoing", "working")}
    head = {"code": lot.code, "name": lot.name, "green_grams": grams_text(lot.green_milligrams), "container": bag.code}
    return {**head, **told, "markets": markets, "cautions": [CAUTION] if "nitrite_ppm" in targets else []}


def _lawful_class(product: facts.Product) -> dict[str, str]:
    """The first market that we know, and the class that the product is checked as there."""
    market = next((one.lower() for one in product.markets if one.lower() in MARKETS), "eu")
    return {"market": market, "class": class_checked(product, market)}


def _brought_in(weigh: Sequence[Mapping[str, str]], premix: Mapping[str, str], green: Mass) -> Ingoing:
    """What the grams to weigh bring in: each line of them is the curing salt, plain salt or sugar."""
    bag = read_shape(Bag, premix, "premix", strict=True)
    weights = [(one["name"], Mass.parse(one["weight"])) for one in weigh]
    lines = [bag.line(weight) if name == bag.name else MixLine.from_components(name, weight) for name, weight in weights]
    return amounts_on(green, lines)


def _premix(connection: Connection, bag: LotState) -> dict[str, str]:
    """The container as the contract ``dose`` takes it."""
    if bag.kind != "ingredient":
        raise InputError("container", "a container of curing salt", f"{bag.code}, of kind {bag.kind}")
    card = cast("facts.Ingredient | None", AsOf(connection, read.END_OF_TIME).card("ingredient", bag.ingredient or ""))
    line = mix_line(PutOn(bag.ingredient or bag.name, 0, bag.strength), card)
    contents = {substance.name: percent for substance, percent in line.contents}
    if "sodium nitrite" not in contents:
        raise InputError("container", "a curing salt whose sodium nitrite is stated", f"{bag.code}, {bag.name}")
    stated = {field: plain(contents[name]) for field, name in PERCENT_FIELDS.items() if name in contents}
    return {"name": line.name, **{field: percent for field, percent in stated.items() if field != "potassium_nitrite_percent"}}
