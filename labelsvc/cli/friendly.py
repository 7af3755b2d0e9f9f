"""A friendly command for each kind of fact, made from the fields in ``facts``: the same fact as ``record`` takes.

Parts of a list are written with ``=``: ``--piece "pork neck=1200 g"``, ``--mix "N261125024=30 g"``.
"""

from __future__ import annotations

import types
import typing
from collections.abc import Callable
from typing import Any, Literal, Union, get_args, get_origin

import click
import msgspec

from labelsvc import facts
from labelsvc.cli.options import kept_photo, read_json, record_asking, recording, show_json
from labelsvc.errors import InputError
from labelsvc.operations.recording import Recorded, sentence

# Fields given without a name, in order; one with a star takes several.
_ARGUMENTS: dict[str, tuple[str, ...]] = {
    "supplier": ("name",), "customer": ("name",), "ingredient": ("name",), "product": ("name",), "recipe": ("name",),
    "workshop": ("name",), "receive": ("kind", "name"), "cut": ("from",), "cure": ("tub", "pieces*"), "take_out": ("pieces*",),
    "string": ("piece", "weight"), "weigh": ("piece", "weight"), "release": ("lot",), "sell": ("packs*",),
    "give": ("to", "packs*"), "return": ("from", "packs*"), "dispose": ("lot",), "hold": ("lots*",), "lift": ("lots*",),
    "complaint": ("text",), "salt_again": ("pieces*",), "coat": ("what", "pieces*"), "turn": ("tub",),
    "move": ("lot", "place"), "split": ("from",),
    "check": ("lot",), "count": ("lot", "weight"), "incident": ("what",), "clean": ("thing",), "reserve": ("count",),
    "figure": ("rule",),
    "correct": ("fact",), "answer_complaint": ("complaint",), "open_case": ("what", "lots*"), "tell": ("case", "customer"),
    "case_step": ("case", "what"), "publish": ("case", "lots*"), "unpublish": ("case", "lots*"), "close_case": ("case",),
}  # fmt: skip
# Fields whose parts are objects: option name, and the part's fields in the order in which they are written between "=".
_PARTS: dict[tuple[str, str], tuple[str, tuple[str, ...]]] = {
    ("ingredient", "components"): ("component", ("name", "percent", "function", "e_number")),
    ("recipe", "lines"): ("line", ("ingredient", "percent_of_green")),
    ("cut", "pieces"): ("piece", ("product", "weight", "marker", "count")),
    ("cure", "mix"): ("mix", ("lot", "weight")),
    ("salt_again", "mix"): ("mix", ("lot", "weight")),
    ("coat", "mix"): ("mix", ("lot", "weight")),
    ("split", "pieces"): ("piece", ("weight", "marker", "tare", "count")),
    ("take_out", "pieces"): ("pieces", ("code", "weight")),
    ("pack", "from"): ("from", ("piece", "rest", "trim")),
    ("pack", "packs"): ("pack", ("weight",)),
}
_SINGULAR = {
    "allergens": "allergen", "markets": "market", "languages": "language", "lots": "lot", "countries": "country",
    "treatments": "treatment", "things": "thing", "classes": "class_in", "photos": "photo", "holds": "hold",
}  # fmt: skip
_AS_JSON = (
    "per_100g",
    "names",
    "meat",
    "control",
    "small_maker",
    "display_panel",
)  # objects that are written down once, on a card
_HELP = {
    "address": "Postal address.",
    "address_in_eu": "Name and address of whoever answers for it in the EU, where the workshop is outside.",
    "address_in_gb": "Name and address of whoever answers for it in Great Britain, where the workshop is outside.",
    "additive": 'An additive: "name=function=E number".',
    "allergen": "The allergen that the label does not name.",
    "allergens": "An allergen by the name of the law; repeat.",
    "answer": "What they said, or were told.",
    "approval_number": "The approval number the authority gave.",
    "asked": "The search that led to it, in words.",
    "base_url": "Where the batch records are on the web.",
    "bone_percent": "Bone in the meat as weighed, g per 100 g.",
    "bone": "Weight of the bone.",
    "business": "Whether it is a business.",
    "by": "Who decides.",
    "carcass_number": "Kill or carcass number.",
    "case_gtin": "GTIN-14 of a shipping case of it; beginning 9 where its weight varies.",
    "category": "meat, fat, spice, herb, water ...",
    "class": "The class of the law, such as non_heat_treated.",
    "code": "The lot code on the label.",
    "components": "A part of a premix or compound; repeat.",
    "collagen_percent": "Collagen in its protein, g per 100 g of protein.",
    "contact": "How to reach them, day and night.",
    "control": "What keeps a vacuum or gas pack safe, as JSON: what, value, record.",
    "cooking": "What the label says about cooking.",
    "count": "How many.",
    "countries": "A country it is sold in, such as FR; repeat.",
    "country": "Country code, such as FR.",
    "customer": "Who bought it.",
    "cut": "The cut, such as neck.",
    "decision": "What was found, and what is done about it.",
    "date_kind": "best_before or use_by.",
    "display_panel": "Shape and measures of the pack for the US, as JSON: shape, height_cm, width_cm, around_cm, surface_cm2.",
    "document": "Delivery note or invoice.",
    "eaten": "Eaten as is, or cooked first.",
    "face_cm2": "Largest face of the pack in square centimetres.",
    "fat_percent": "Fat, g per 100 g.",
    "food": "Number of the food in the open composition table.",
    "expressed_as": "Of a residue: the substance the report gives it as, such as nitrite ion.",
    "classes": 'The class in a market, where it differs: "eu=non_heat_treated"; repeat.',
    "rule": "The id of the rule, as the list of rules shows it.",
    "source": "Where the figure was read: instrument, article, edition.",
    "unit": "The unit of the rule, such as mg/kg.",
    "fact": "The number of the fact.",
    "food_name": "The name of the food on the label.",
    "form": "prepacked, direct, loose or bulk; for an ingredient its exempt form.",
    "from": "Where it comes from.",
    "gain_tolerance_percent": "Gain of a weigh-in that is taken without asking.",
    "gtin": "The product's own GTIN.",
    "herd_mark": "Herd mark, as read.",
    "holds": "The fact whose hold ends, by its number; repeat. All holds if left out.",
    "how": "destroyed, own_use or sample.",
    "identity": "Ear tag, tattoo or delivery number, exactly as read.",
    "inedible": "casing, rind or netting that is not eaten; repeat.",
    "in_store": "Weight or price in the till's number, by country: gb_price, de_price, de_weight, se_price ...",
    "in_store_item": "The shop's own item number for it; by itself if left out.",
    "ingredient": "The ingredient by name.",
    "instead": "The whole fact as it should have been, as JSON.",
    "is_preparation": "A meat preparation, no meat product.",
    "kept": "ambient, chilled or frozen.",
    "kill_date": "Day of slaughter.",
    "kind": "animal, part or ingredient.",
    "known_since": "When it came to be known: a day or time; the clock runs from it.",
    "known_as": "How well the animal is known: individual, group, delivery, not known.",
    "language": "Language of the label.",
    "languages": "A language of its labels; repeat.",
    "leftover": "What was scraped off.",
    "lines": "An ingredient with its percent of the green weight; repeat.",
    "loss_base": "Loss is a percentage of the hang or green weight.",
    "lot": "The lot.",
    "lots": "The lots.",
    "date_place": "Where on the pack the date is stamped, such as: see base of pack.",
    "market": "Market of the label: eu, gb or us.",
    "markets": "A market it is made for; repeat.",
    "may_contain": "An allergen to warn of, as decided; repeat.",
    "meat": "The meat it is cut from, as JSON: food or per_100g, fat_percent ...",
    "method": "How it is cured.",
    "minimum_days": "Shortest time of hanging.",
    "mix": "An ingredient lot with its weight, or of a spice so many spoons (LOT=2 tsp); repeat.",
    "name": "Its name.",
    "names": "Its names on labels by language, as JSON.",
    "on_stock": "mark or safe_handling: what stands on the empty stock already; repeat.",
    "origin": "Country of the animal, such as FR.",
    "origin_claim": "The country that the label names or shows.",
    "packed_in": "air, vacuum or gas.",
    "outcome": "What came of it.",
    "packs": "The packs.",
    "perishable": "Whether it soon becomes dangerous, kept as the label says.",
    "per_100g": "Composition per 100 g, as JSON.",
    "photos": "A photo of the paper or the thing: a JPEG, PNG or PDF file; repeat.",
    "piece": "The piece.",
    "pieces": "The pieces.",
    "place": "Room or rack.",
    "planned_out": "Day it is to come out.",
    "planned_packing": "Day it is to be packed.",
    "price_per_kg": "Price of a kilogram in the shop's currency, for numbers with the price inside.",
    "product": "The product.",
    "protected_name": "The protected name the workshop may use.",
    "protein_percent": "Meat protein, g per 100 g.",
    "public": "Sold over the counter.",
    "reached": "Whether they were reached.",
    "reason": "Why.",
    "recipe": "The recipe.",
    "risk": "What the danger is, said in every language.",
    "salt_percent": "Salt in this very bag, percent.",
    "sodium_nitrite_percent": "Sodium nitrite in this very bag, percent: the dose follows it.",
    "potassium_nitrite_percent": "Potassium nitrite in this very bag, percent.",
    "sodium_nitrate_percent": "Sodium nitrate in this very bag, percent.",
    "potassium_nitrate_percent": "Potassium nitrate in this very bag, percent.",
    "bag": "Open to air or sealed.",
    "skin_on": "Cured with its rind.",
    "session": "The packing session.",
    "shelf_life_days": "Days from packing to the date on the label.",
    "slaughterhouse": "Approval number of the slaughterhouse.",
    "slicer": "The slicer.",
    "small_maker": "What lets a small maker leave out the nutrition table, as JSON: staff, turnover_eur, local.",
    "so2_mg_per_kg": "Sulphites as mg/kg of SO2.",
    "species": "The animal species.",
    "standing": "approved, registered, us_inspected, us_retail_exempt or not_for_sale.",
    "still_had": "Weight of what they still had.",
    "storage": "How to keep it, as the label says.",
    "supplier": "Who delivered it.",
    "supplier_lot": "The supplier's lot number.",
    "tare": "Weight of string, net and casing.",
    "tag": "A tag printed ahead that hangs on it: its number leads to the piece from now on.",
    "target_loss_percent": "Loss at which it is ready to be looked at.",
    "temperature_c": "Temperature at receipt, degrees Celsius.",
    "text": "What the buyer says.",
    "timezone": "Such as Europe/Paris.",
    "to": "Who gets it.",
    "trichinella": 'tested, controlled_housing, unknown or frozen; freezing counts only with its figures: {"status": "frozen",'
    ' "thickness_cm": "15", "temperature_c": "-25", "start": "2026-03-02T08:00", "end": "2026-03-12T09:00"}.',
    "trim": "Weight of the trim.",
    "things": "A bowl or machine it touched; repeat.",
    "treatments": "smoked, defrosted or formed; repeat.",
    "thing": "Slicer, tub, bowl, table or machine.",
    "allergen_clean": "Cleaned so that no allergen is left.",
    "unused": "Mix that touched no meat; it is destroyed.",
    "value": "What was measured, such as 0.91.",
    "what": "What happened, or what was measured.",
    "tub": "The tub.",
    "weight": "Weight with its unit.",
    "weight_is": "gross (with string) or net.",
    "words": "What is said.",
}
_HELP_OF = {  # where a field of one kind means something else
    ("tell", "how"): "By telephone, in person, by letter ...",
    ("tell", "by"): "Who called.",
    ("workshop", "contact"): "How buyers reach the workshop: shown on the page behind the QR.",
}


def command(name: str) -> click.Command:
    """Return the command that records one kind of fact."""
    kind = name.replace("-", "_")
    shape = facts.KINDS[kind]
    parameters = [_parameter(kind, field, typing.get_type_hints(shape)[field.name]) for field in msgspec.structs.fields(shape)]
    if kind == "correct":
        parameters.append(click.Option(["--take-back"], is_flag=True, help="It never happened."))
    summary = " ".join((shape.__doc__ or "").replace("``", "").split())
    recorder = _recorder(kind)
    shared: list[click.Parameter] = list(reversed(recorder.__click_params__))  # type: ignore[attr-defined]
    # A weight such as "-5 g" is an answer that is refused by name, not an option.
    settings = {"ignore_unknown_options": kind in _ARGUMENTS, "help_option_names": ["-h", "--help"]}
    return click.Command(name, params=[*parameters, *shared], callback=recorder, help=summary, context_settings=settings)


def _parameter(kind: str, field: msgspec.structs.FieldInfo, annotation: Any) -> click.Parameter:
    name = field.encode_name
    positions = {position.rstrip("*"): position for position in _ARGUMENTS.get(kind, ())}
    if name in positions:
        several = positions[name].endswith("*")
        return click.Argument(
            [f"{name}_"], nargs=-1 if several else 1, required=True, metavar=name.upper() + ("..." if several else "")
        )
    option, fields = _PARTS.get((kind, name), (_SINGULAR.get(name, name), ()))
    flag = f"--{option.replace('_', '-')}"
    if annotation is bool and field.default:
        flag += f"/--no-{option.replace('_', '-')}"  # what is so unless it is said otherwise
    choices = [choice for part in _options(annotation) if get_origin(part) is Literal for choice in get_args(part)]
    return click.Option(
        [flag, f"{name}_"],
        multiple=name == "classes" or any(get_origin(part) is tuple for part in _options(annotation)),
        is_flag=annotation is bool,
        type=click.Choice(choices) if choices else str if annotation is not bool else bool,
        default=field.default if annotation is bool else None,
        required=field.default is msgspec.NODEFAULT and field.default_factory is msgspec.NODEFAULT and name != "instead",
        metavar=f'"{"=".join(fields)}"' if fields else None,
        help=_HELP_OF.get((kind, name)) or _HELP[name],
    )


def _options(annotation: Any) -> tuple[Any, ...]:
    return get_args(annotation) if get_origin(annotation) in (Union, types.UnionType) else (annotation,)


def _recorder(kind: str) -> Callable[..., None]:
    @recording
    def recorder(
        database: str, as_json: bool, yes: bool, who: str, once: str, at: str | None, take_back: bool = False, **values: Any
    ) -> None:
        given = {name[:-1]: _value(kind, name[:-1], value) for name, value in values.items() if value not in (None, ())}
        if kind == "correct":
            given["fact"] = _number(given["fact"])
            given["instead"] = _instead(given.get("instead"), take_back)
        if at is not None:
            given["at"] = at
        if "photos" in given:
            given["photos"] = [kept_photo(database, file, who) for file in given["photos"]]
        done = record_asking(database, kind, given, who=who, yes=yes, may_ask=not as_json, once=once)
        show_json(done.as_json()) if as_json else _tell(kind, done, given)

    return recorder


def _value(kind: str, name: str, value: Any) -> Any:
    if (kind, name) in _PARTS:
        fields = _PARTS[kind, name][1]
        parts = [part for text in value for part in _part(text, fields, name)]
        return [_with_additive(part) for part in parts] if name == "components" else parts
    if name == "additive":
        return dict(zip(("name", "function", "e_number"), (word.strip() for word in value.split("=")), strict=False))
    if name == "classes":
        return {market.strip(): named.strip() for market, _, named in (text.partition("=") for text in value)}
    if name in _AS_JSON or (name == "trichinella" and str(value).lstrip().startswith("{")):
        return read_json(value, name)
    return list(value) if isinstance(value, tuple) else value


def _part(text: str, fields: tuple[str, ...], name: str) -> list[dict[str, str]]:
    """Read ``a=b=c`` into the part's fields; ``5 x 100 g`` means five parts of 100 g."""
    words = [word.strip() for word in text.split("=")]
    if len(words) > len(fields):
        raise InputError(name, f'"{"=".join(fields)}"', text)
    if fields == ("weight",) and " x " in text:
        times, _, weight = text.partition(" x ")
        if times.strip().isdigit() and 1 <= int(times) <= 1000:
            return [{"weight": weight.strip()}] * int(times)
    return [{field: word for field, word in zip(fields, words, strict=False) if word}]


def _with_additive(part: dict[str, Any]) -> dict[str, Any]:
    """A component with a function is an additive: its class word and E number stand on the label."""
    function, e_number = part.pop("function", None), part.pop("e_number", None)
    if function is None:
        return part
    return {**part, "additive": {"name": part["name"], "function": function, **({"e_number": e_number} if e_number else {})}}


def _number(text: str) -> int:
    if not text.isdigit():
        raise InputError("fact", "the number of a fact", text)
    return int(text)


def _instead(text: str | None, take_back: bool) -> Any:
    if take_back == (text is not None):
        raise InputError(
            "instead", "either --instead with the fact as it should have been, or --take-back", "both" if take_back else "neither"
        )
    return None if text is None else read_json(text, "instead")


def _tell(kind: str, done: Recorded, given: dict[str, Any]) -> None:
    """Say what was recorded and what a person would do next."""
    click.echo(f"Recorded as fact {done.fact}.{' Codes: ' + ', '.join(done.codes) if done.codes else ''}")
    for issue in done.notes:
        click.echo(f"Note: {sentence(issue)}")
    for one in done.later:
        click.echo(f"Since then fact {one.fact} ({one.kind}) does not fit: {sentence(one.issue)}")
    following = {
        "cut": "Next: put the pieces in the cure: labelsvc cure TUB PIECE... --method dry --mix LOT=WEIGHT",
        "string": f"Next: print the tag: labelsvc tag {given.get('piece')} --output tag.pdf",
        "release": f"Next: pack it: labelsvc pack --from {given.get('lot')} --pack WEIGHT ...",
        "pack": f"Next: print the labels: labelsvc sale-label {done.codes[0] if done.codes else ''} --output labels.pdf",
        "complaint": f"Next: trace it: labelsvc trace {given.get('code', 'CODE')}",
        "open_case": f"Next: see whom to tell: labelsvc case {done.fact}",
    }
    if kind in following:
        click.echo(following[kind])
