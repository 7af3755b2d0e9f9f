"""What a label will say, each thing with the rule that asks for it and how it came about, and what is missing before it may."""

from __future__ import annotations

from typing import Any

from flask import Blueprint, flash, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from labelsvc.operations import declaring, looking
from labelsvc.operations.recording import Recorded
from labelsvc.rules.finding import Finding
from labelsvc.web import moments, station
from labelsvc.web.forms import Field, Form
from labelsvc.web.packing import LANGUAGES, MARKETS

pages = Blueprint("declarations", __name__)

DECIDE = Form(
    "correct",
    "What was on the tub or machine before",
    (
        Field("may_contain", "Allergens to warn of", "list", required=False,
              hint="With commas between. Leave empty where none of them can be on these packs."),
        Field("reason", "Why", hint="Such as: cleaned and swabbed, the record was forgotten."),
    ),
    "Decide",
    "The decision stands in the packing with your name; the label warns of what you name here.",
    when=False,
)  # fmt: skip
# What each element is called on the page, in the order of a label.
ELEMENTS = {
    "food_name": "Name of the food",
    "net_quantity": "Net quantity",
    "date_line": "Date",
    "ingredients": "Ingredients",
    "allergens": "Allergens in one sentence",
    "quantity_statement": "Quantity of the meat",
    "storage": "Storage",
    "cooking": "Eaten as it is, or cooked",
    "statements": "Statement",
    "safe_handling": "Safe handling",
    "may_contain": "Allergens warned of",
    "origin": "Origin of the meat",
    "nutrition": "Nutrition",
    "operator": "Who answers for it",
    "mark": "Mark",
    "lot_line": "Lot",
}
# Where a finding is put right, by the end of its rule's id: the card, and what to do there.
_ON_CARD = {
    "date_kind": ("product", "Answer on the product's card"),
    "listeria_cannot_grow": ("product", "Answer on the product's card"),
    "chilled_pack_life": ("product", "Enter it on the product's card"),
    "storage": ("product", "Change it on the product's card"),
    "protected_name": ("product", "Change the product's card"),
    "treatment_in_name": ("product", "Change the product's card"),
    "country_ham": ("product", "Change the product's card"),
    "protein_fat_free": ("product", "Change the product's card"),
    "safe_handling": ("product", "Say so on the product's card"),
    "uncured": ("product", "Change the product's card"),
    "nutrition": ("product", "Enter it on the product's card"),
    "meat_limits": ("product", "Enter the meat on the product's card"),
    "origin": ("product", "Change the product's card"),
    "operator": ("workshop", "Enter it on the workshop's card"),
    "identification_mark": ("workshop", "Enter it on the workshop's card"),
}


@pages.get("/declaration/<path:code>")
def declaration(code: str) -> str:
    """Show what a label says and rests on."""
    asked = {name: request.args.get(name, "") for name in ("market", "language")}
    found = declaring.declared(station.ledger(), code, now=station.now(), **asked)
    return render_template(
        "declaration.html", found=found, lot=moments.lot_head(code), elements=ELEMENTS, where=lambda one: _where(one, found),
        markets=dict(MARKETS), languages=dict(LANGUAGES),
    )  # fmt: skip


@pages.get("/declaration")
def of_product() -> Response:
    """Lead to the declaration of the packs that a product was last packed into."""
    code = declaring.last_packed(station.ledger(), request.args.get("product", ""))
    return redirect(url_for("declarations.declaration", code=code))


@pages.route("/decide-allergens/<int:fact>", methods=["GET", "POST"])
def decide(fact: int) -> moments.Answer:
    """Decide whether the labels of a packing warn of what was on a tub or machine before."""
    _, stands = looking.fact_as_it_stands(station.ledger(), fact)
    code = request.args.get("code", "")

    def act(given: dict[str, Any], confirmed: bool) -> Recorded:
        instead = {**stands, "may_contain": given.get("may_contain", [])}
        body = {"fact": fact, "instead": instead, **({"reason": given["reason"]} if given.get("reason") else {})}
        return moments.recording("correct")(body, True)

    def done(recorded: Recorded, given: dict[str, Any]) -> Response:
        flash("Decided. Labels printed from now on say so.", "did")
        return redirect(url_for("declarations.declaration", code=code) if code else "/")

    return moments.moment(DECIDE, done, act=act, about=f"allergens {fact}", lot=moments.lot_found(code))


def _where(finding: Finding, found: declaring.Declared) -> dict[str, str] | None:
    """Return where a worker puts a finding right, or None where it is no matter of a card."""
    name = finding.rule.rpartition(".")[2]
    if name == "shared_equipment" and found.packing is not None and finding.exceeded:
        return {"href": url_for("declarations.decide", fact=found.packing, code=found.code), "words": "Decide"}
    if name not in _ON_CARD:
        return None
    kind, words = _ON_CARD[name]
    card = found.product if kind == "product" else ""
    return {"href": url_for("cards.card", kind=kind, name=card, open="all"), "words": words}
