"""Cards: who we are, whom we deal with, what we make and what goes on it. A card holds until a later one of its name."""

from __future__ import annotations

from typing import Any

from flask import Blueprint, abort, flash, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from labelsvc.curing.limits import classes_of
from labelsvc.declaration.foods import foods
from labelsvc.operations import looking
from labelsvc.operations.recording import Recorded
from labelsvc.rules.load import MARKETS
from labelsvc.web import moments, station
from labelsvc.web.forms import Field, Form, Rows, flat

pages = Blueprint("cards", __name__)

_STANDINGS = (
    ("registered", "Registered, sells at retail"),
    ("approved", "Approved, with a mark"),
    ("us_inspected", "US inspected"),
    ("us_retail_exempt", "US retail exempt"),
    ("not_for_sale", "Not for sale"),
)
_YES_NO = (("true", "A business"), ("false", "A private person"))
_OR_NOT = (("", "Not answered"), ("true", "Yes"), ("false", "No"))
_CONTROLS = (
    ("", "Nothing recorded"),
    ("water_activity", "Water activity"),
    ("ph", "pH"),
    ("water_phase_salt", "Salt in the water phase"),
    ("heated", "Heated to 90 °C for 10 minutes"),
    ("proven", "Proven for this product"),
)
_PERSON = (
    Field("name", "Name"),
    Field("address", "Address", "long", required=False),
    Field("contact", "How to reach them", required=False, hint="Day and night: this is whom you call in a recall."),
    Field("business", "They are", "choice", choices=_YES_NO, value="true"),
)
_FOODS = (("", "Not from the table"), *((number, f"{name} ({number})") for number, name in foods()))
_NUTRIENTS = (
    ("fat", "fat", "g"),
    ("saturates", "saturates", "g"),
    ("carbohydrate", "carbohydrate", "g"),
    ("sugars", "sugars", "g"),
    ("fibre", "fibre", "g"),
    ("protein", "protein", "g"),
    ("sodium_mg", "sodium", "mg"),
)
_PER_100G = tuple(
    Field(f"per_100g.{name}", f"In 100 g: {words}", "decimal", required=False, unit=unit) for name, words, unit in _NUTRIENTS
)
_LANGUAGES = (("en", "English"), ("fr", "French"), ("de", "German"), ("it", "Italian"), ("es", "Spanish"))
_NAMES = tuple(
    Field(f"names.{language}", f"On labels in {words}", required=False, hint="Where it is another word.")
    for language, words in _LANGUAGES
)
_COMPOSITION = (
    *_NAMES,
    Field("food", "Composition: as this food", "choice", required=False, choices=_FOODS, hint="USDA table, numbers cited."),
    *_PER_100G,
)
_MAKER = (
    Field("address_in_eu", "Who answers for it in the EU", "long", required=False, hint="Only if you are outside it."),
    Field("address_in_gb", "Who answers for it in Great Britain", "long", required=False, hint="Only if you are outside."),
    Field("small_maker.staff", "People at work", "count", required=False, hint="A small maker may need no nutrition table."),
    Field("small_maker.turnover_eur", "Turnover a year", "decimal", required=False, unit="euro"),
    Field("small_maker.local", "Sold to consumers and local shops only", "choice", required=False, choices=_OR_NOT),
    Field("small_maker.pounds_a_year", "Of one product a year, for the US", "decimal", required=False, unit="lb"),
)
_SHAPES = (("", "Not said"), ("rectangle", "Flat sides"), ("cylinder", "Round, such as a jar"), ("other", "Another shape"))
_FOR_THE_LABEL = (
    *_NAMES,
    Field("date_kind", "Date", "choice", choices=(("best_before", "Best before"), ("use_by", "Use by"))),
    Field("perishable", "Kept as the label says, does it soon become dangerous?", "choice", required=False, choices=_OR_NOT),
    Field("kept", "Kept", "choice", required=False,
          choices=(("", "Not said"), ("chilled", "In the fridge"), ("frozen", "Frozen"), ("ambient", "Without cooling"))),
    Field("packed_in", "The pack holds", "choice", required=False,
          choices=(("", "Not said"), ("air", "Air"), ("vacuum", "Nothing: vacuum"), ("gas", "A gas"))),
    Field("control.what", "What keeps it safe over 10 days without air", "choice", required=False, choices=_CONTROLS),
    Field("control.value", "Measured", "decimal", required=False),
    Field("control.record", "Where that is written down", required=False),
    Field("face_cm2", "Largest face of the pack", "decimal", required=False, unit="cm²"),
    Field("display_panel.shape", "Shape of the pack, for the US", "choice", required=False, choices=_SHAPES),
    Field("display_panel.height_cm", "Its height", "decimal", required=False, unit="cm"),
    Field("display_panel.width_cm", "Its width, of a rectangle", "decimal", required=False, unit="cm"),
    Field("display_panel.around_cm", "Around it, of a cylinder", "decimal", required=False, unit="cm"),
    Field("display_panel.surface_cm2", "Its surface, of another shape", "decimal", required=False, unit="cm²"),
    Field("treatments", "Treated", "list", required=False, hint="smoked, defrosted, formed: with commas between."),
    Field("inedible", "Not eaten", "list", required=False, hint="casing, rind, netting: with commas between."),
    Field("on_stock", "On the empty stock already", "list", required=False, hint="mark, safe_handling: with commas between."),
    Field("countries", "Countries of sale", "list", required=False, hint="Two capitals each, with commas between."),
    Field("origin_claim", "Country that the label names or shows", required=False, hint="Leave empty if it shows none."),
    Field("protected_name", "Protected name you may use", required=False),
    Field("date_place", "Where the date is stamped", required=False, hint="Only if not on the label, such as: see base of pack."),
    Field("meat.food", "Composition of the meat: as this food", "choice", required=False, choices=_FOODS),
    Field("meat.fat_percent", "Fat in the meat", "decimal", required=False, unit="%"),
    Field("meat.collagen_percent", "Collagen in its protein", "decimal", required=False, unit="%"),
    Field("meat.bone_percent", "Bone in the piece", "decimal", required=False, unit="%"),
    *_PER_100G,
)  # fmt: skip
_CLASSES = (
    *(Field(f"classes.{market}", f"Class in {market.upper()}, where it differs", required=False, suggest="classes")
      for market in MARKETS),
    Field("skin_on", "Cured with its rind", "flag", required=False, hint="It takes up hardly any cure."),
)  # fmt: skip
_UNDER_MORE = (*_MAKER, *_COMPOSITION, *_FOR_THE_LABEL, *_CLASSES)
FORMS: dict[str, Form] = {
    "workshop": Form(
        "workshop",
        "The workshop",
        (
            Field("name", "Name", hint="As it stands on every label."),
            Field("address", "Postal address", "long"),
            Field("country", "Country", hint="Two capitals, such as FR."),
            Field("timezone", "Time zone", hint="Such as Europe/Paris."),
            Field("standing", "Standing", "choice", choices=_STANDINGS, hint="What the authority lets you do."),
            Field("contact", "How buyers reach you", required=False, hint="Telephone or mail: shown on the page behind the QR."),
            Field("approval_number", "Approval number", required=False, hint="As the authority gave it; approved standing only."),
            Field("base_url", "Web address of the QR", required=False, hint="Such as https://labels.example.com"),
            *_MAKER,
        ),
        "Keep it",
    ),
    "supplier": Form("supplier", "Supplier", _PERSON, "Keep it"),
    "customer": Form("customer", "Customer", _PERSON, "Keep it"),
    "ingredient": Form(
        "ingredient",
        "Ingredient",
        (
            Field("name", "Name", hint="As its container says."),
            Field("category", "Kind", required=False, suggest="categories"),
            Field("allergens", "Allergens", "list", required=False, hint="By the names of the law, with commas between."),
            Field("additive.function", "If it is an additive: what it does", required=False, hint="Such as: preservative."),
            Field("additive.name", "Its name as an additive", required=False),
            Field("additive.e_number", "Its E number", required=False),
            *_COMPOSITION,
            Field("so2_mg_per_kg", "Sulphur dioxide", "decimal", required=False, unit="mg/kg", hint="Of wine or vinegar."),
            Rows(
                "components",
                "What a premix or compound is made of",
                (
                    Field("name", "Part"),
                    Field("percent", "Percent", "decimal", unit="%"),
                    Field("additive.function", "If an additive: what it does", required=False),
                    Field("additive.name", "Its name", required=False),
                    Field("additive.e_number", "E number", required=False),
                ),
                "One more part",
                start=2,
                hint="For curing salt: salt and sodium nitrite with the percent on the bag.",
            ),
        ),
        "Keep it",
    ),
    "product": Form(
        "product",
        "Product",
        (
            Field("name", "Name in the workshop"),
            Field("food_name", "Name of the food on the label", required=False),
            Field("species", "Animal", hint="Such as: pig, cattle, duck."),
            Field("cut", "Cut", hint="Such as: neck, round, breast."),
            Field(
                "class", "Class of the law", suggest="classes", hint="Such as: non_heat_treated. More, Class of the law, helps."
            ),
            Field("eaten", "Eaten", "choice", choices=(("cooked", "Must be cooked first"), ("as_is", "As it is"))),
            Field("target_loss_percent", "Ready at a loss of", "decimal", required=False, unit="%"),
            Field("loss_base", "Of the", "choice", choices=(("hang", "Hang weight"), ("green", "Green weight"))),
            Field("minimum_days", "Hangs at least", "count", required=False, unit="days"),
            Field("tare", "String, net and casing", "weight", required=False, unit="g"),
            Field("markets", "Sold in", "list", value="eu", hint="eu, gb, us: with commas between."),
            Field("languages", "Languages of the label", "list", value="en", hint="en, fr, de, it, es."),
            Field("shelf_life_days", "Keeps from packing", "count", unit="days"),
            Field("storage", "How to keep it", hint="As the label says it."),
            Field("cooking", "How to cook it", required=False),
            Field("gtin", "GTIN of your own", required=False),
            *_FOR_THE_LABEL,
            *_CLASSES,
        ),
        "Keep it",
    ),
    "recipe": Form(
        "recipe",
        "Recipe",
        (
            Field("name", "Name"),
            Rows(
                "lines",
                "By percent of the green weight",
                (
                    Field("ingredient", "Ingredient", "card", card="ingredient"),
                    Field("percent_of_green", "Percent", "decimal", unit="%"),
                ),
                "One more ingredient",
                start=4,
            ),
        ),
        "Keep it",
    ),
}
NOUNS = {
    "workshop": "The workshop",
    "supplier": "Suppliers",
    "customer": "Customers",
    "ingredient": "Ingredients",
    "product": "Products",
    "recipe": "Recipes",
}


@pages.get("/cards")
def overview() -> str:
    """Show all cards."""
    found = {kind: looking.cards(station.ledger(), kind) for kind in FORMS}
    return render_template("cards.html", found=found, nouns=NOUNS)


@pages.route("/cards/<kind>", methods=["GET", "POST"])
def card(kind: str) -> moments.Answer:
    """Write a card, or what it says from now on."""
    if kind not in FORMS:
        abort(404)
    form = FORMS[kind]
    name = request.args.get("name", "")

    def act(given: dict[str, Any], confirmed: bool) -> Recorded:
        if "business" in given:
            given = {**given, "business": given["business"] == "true"}
        return moments.recording(kind)({**given, **_not_shown(kind, form, given)}, confirmed)

    def done(recorded: Recorded, given: dict[str, Any]) -> Response:
        flash(f"{form.title} {given['name']}: kept.", "did")
        return redirect(url_for("cards.overview"))

    return moments.moment(
        form, done, act=act, start=_stands(kind, form, name), about=name, late=_late(form),
        suggestions={
            "categories": ["meat", "fat", "spice", "herb", "water", "premix", "casing", "netting", "nitrate source"],
            "classes": list(dict.fromkeys(one for market in MARKETS for one in classes_of(market))),
        },
    )  # fmt: skip


def _late(form: Form) -> list[str]:
    """The fields that stand under "More", unless the page was asked for to fill one of them in."""
    return [] if request.args.get("open") else [part.name for part in form.parts if part in _UNDER_MORE]


def _stands(kind: str, form: Form, name: str) -> dict[str, str]:
    cards = looking.cards(station.ledger(), kind)
    mine = [one for one in cards if kind == "workshop" or str(one["name"]) == name]
    if not mine:
        return {"name": name}
    values = flat(mine[-1], form)
    return {**values, "business": "true" if mine[-1].get("business", True) else "false"} if "business" in _names(form) else values


def _not_shown(kind: str, form: Form, given: dict[str, Any]) -> dict[str, Any]:
    """Return what the card says that its form does not show: writing it anew must not lose that."""
    shown, name = _names(form), str(given.get("name", ""))
    mine = next((one for one in looking.cards(station.ledger(), kind) if kind == "workshop" or str(one["name"]) == name), {})
    kept = {}
    for field, value in mine.items():
        inner = [one.partition(".")[2] for one in shown if one.startswith(f"{field}.")]
        if field not in shown and not inner:
            kept[field] = value
        elif inner and field in given and isinstance(value, dict):
            kept[field] = {**{name: one for name, one in value.items() if name not in inner}, **given[field]}
    return kept


def _names(form: Form) -> list[str]:
    return [part.name for part in form.parts]
