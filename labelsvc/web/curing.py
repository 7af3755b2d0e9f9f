"""Into the tub: first the grams to weigh out for each piece by a recipe, then what was weighed out, by ingredient lot."""

from __future__ import annotations

import re
from typing import Any

from flask import Blueprint, flash, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from labelsvc.errors import InputError
from labelsvc.ledger.derive.bench import card_key
from labelsvc.operations import looking
from labelsvc.operations.batch import grams_to_weigh
from labelsvc.operations.looking import Standing
from labelsvc.operations.recording import Recorded
from labelsvc.web import moments, station
from labelsvc.web.forms import Field, Form, Rows
from labelsvc.web.tubs import tell_doses

pages = Blueprint("curing", __name__)

METHODS = (
    ("dry", "Dry, weighed for the piece"),
    ("dry_excess", "Dry, in excess salt"),
    ("brine", "Brine"),
    ("immersion_equilibrium", "Brine to equilibrium"),
    ("immersion_pickup", "Brine, by pick-up"),
    ("pumped", "Pumped"),
    ("comminuted", "Ground meat"),
)
CAUTION = "Weigh curing salt on a scale that shows hundredths of a gram. Nitrite is poisonous in small amounts."


@pages.get("/cure")
def weigh_out() -> str | tuple[str, int]:
    """Choose pieces and a recipe; show the grams to weigh out."""
    pieces = _pieces_asked()
    recipe = request.args.get("recipe", "")
    here = looking.standings(station.ledger())
    answer, problem, status = None, "", 200
    if pieces and recipe:
        try:
            answer = grams_to_weigh(station.ledger(), recipe, pieces)
        except InputError as error:
            problem, status = error.message, 400
    page = render_template(
        "weigh_out.html",
        green=[one for one in here if one.lot.phase == "green" and not one.lot.is_held],
        recipes=moments.names("recipe"),
        chosen=pieces,
        recipe=recipe,
        answer=answer,
        problem=problem,
    )
    return page if status == 200 else (page, status)


@pages.route("/cure/tub", methods=["GET", "POST"])
def cure() -> moments.Answer:
    """Record what was weighed out and put on the pieces in a tub."""
    pieces, recipe = _pieces_asked(), request.args.get("recipe", "")
    here = looking.standings(station.ledger())
    together = grams_to_weigh(station.ledger(), recipe, pieces)["together"] if recipe and pieces else []
    start = {"pieces": "\n".join(pieces), "recipe": recipe, "method": "dry", **_mix_start(together, here)}
    stock = [(one.lot.code, f"{one.lot.name}, {one.here} g") for one in here if one.lot.kind == "ingredient"]
    return moments.moment(
        form_for(together), _done, start=start, template="cure.html", about=recipe, caution=CAUTION,
        suggestions={"stock": stock, "tubs": looking.tubs_in(here)},
    )  # fmt: skip


def _done(recorded: Recorded, given: dict[str, Any]) -> Response:
    tell_doses(given["pieces"])
    flash(f"In the cure: {len(given['pieces'])} in {given['tub']}.", "did")
    return redirect(url_for("today.today"))


def form_for(together: list[dict[str, str]]) -> Form:
    """Return the form of a cure, each ingredient of a recipe with the grams to weigh out above its row."""
    wanted = tuple(f"{line['ingredient']}: {line['weight']}" for line in together)
    return Form(
        "cure",
        "Into the tub",
        (
            Field("tub", "Tub", suggest="tubs"),
            Field("pieces", "Pieces", "codes", hint="Codes or markers, one a line."),
            Field("method", "How", "choice", choices=METHODS),
            Rows(
                "mix",
                "Weighed out, for all pieces together",
                (
                    Field("lot", "Container", "lot", suggest="stock", carried=True),
                    Field("weight", "Grams on the scale", "weight", unit="g"),
                ),
                "One more ingredient",
                start=max(2, len(together)),
                titles=wanted,
            ),
            Field("recipe", "Recipe", "card", required=False, card="recipe"),
            Field("planned_out", "To come out on", "day", required=False),
            Field("planned_packing", "To be packed on", "day", required=False, hint="The limits of that day are checked too."),
        ),
        "Record the cure",
    )


def _mix_start(together: list[dict[str, str]], here: list[Standing]) -> dict[str, str]:
    """The newest container of each ingredient stands there already; the grams are what the scale shows."""
    found: dict[str, str] = {}
    for place, line in enumerate(together):
        mine = [one.lot.code for one in here if card_key(one.lot.ingredient or "") == card_key(line["ingredient"])]
        found[f"mix-{place}-lot"] = mine[-1] if mine else ""
    return found


def _pieces_asked() -> list[str]:
    asked = [word for text in request.args.getlist("pieces") for word in re.split(r"[\n,;]+", text)]
    return list(dict.fromkeys(word.strip() for word in asked if word.strip()))
