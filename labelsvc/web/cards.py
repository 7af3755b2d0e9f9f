"""Cards: who we are, whom we deal with, what we make and what goes on it. A card holds until a later one of its name."""

from __future__ import annotations

from typing import Any

from flask import Blueprint, abort, flash, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from labelsvc.operations import looking
from labelsvc.operations.recording import Recorded
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
_PERSON = (
    Field("name", "Name"),
    Field("address", "Address", "long", required=False),
    Field("contact", "How to reach them", required=False, hint="Day and night: this is whom you call in a recall."),
    Field("business", "They are", "choice", choices=_YES_NO, value="true"),
)
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
            Field("approval_number", "Approval number", required=False),
            Field("contact", "How buyers reach you", required=False, hint="Telephone or mail: shown on the page behind the QR."),
            Field("base_url", "Web address of the QR", required=False, hint="Such as https://labels.example.com"),
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
            Field("class", "Class of the law", suggest="classes", hint="Such as: non_heat_treated."),
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
        return moments.recording(kind)({**_not_shown(kind, form, str(given.get("name", ""))), **given}, confirmed)

    def done(recorded: Recorded, given: dict[str, Any]) -> Response:
        flash(f"{form.title} {given['name']}: kept.", "did")
        return redirect(url_for("cards.overview"))

    return moments.moment(
        form, done, act=act, start=_stands(kind, form, name), about=name,
        suggestions={
            "categories": ["meat", "fat", "spice", "herb", "water", "premix"],
            "classes": ["non_heat_treated", "heat_treated", "dry_cured_bacon", "dry_cured_ham", "dry_cured", "comminuted"],
        },
    )  # fmt: skip


def _stands(kind: str, form: Form, name: str) -> dict[str, str]:
    cards = looking.cards(station.ledger(), kind)
    mine = [one for one in cards if kind == "workshop" or str(one["name"]) == name]
    if not mine:
        return {"name": name}
    values = flat(mine[-1], form)
    return {**values, "business": "true" if mine[-1].get("business", True) else "false"} if "business" in _names(form) else values


def _not_shown(kind: str, form: Form, name: str) -> dict[str, Any]:
    """Return what the card says that its form does not show: writing it anew must not lose that."""
    own = {part.partition(".")[0] for part in _names(form)}
    mine = [one for one in looking.cards(station.ledger(), kind) if str(one["name"]) == name]
    return {field: value for field, value in mine[-1].items() if field not in own} if mine else {}


def _names(form: Form) -> list[str]:
    return [part.name for part in form.parts]
