"""Into the tub: first the grams to weigh out for each piece by a recipe, then what was weighed out, by ingredient lot."""

from __future__ import annotations

import re
from typing import Any

from flask import Blueprint, flash, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from labelsvc.curing.advice import CAUTION
from labelsvc.errors import LabelsvcError
from labelsvc.ledger.derive.bench import card_key
from labelsvc.operations import looking
from labelsvc.operations.dosing import grams_for_targets, grams_to_weigh
from labelsvc.operations.looking import Standing
from labelsvc.operations.recording import Recorded
from labelsvc.web import moments, station
from labelsvc.web.errors import status_of
from labelsvc.web.forms import Field, Form, Rows
from labelsvc.web.tubs import BY_THE_SPOON, tell_doses

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


@pages.get("/cure")
def weigh_out() -> str | tuple[str, int]:
    """Choose pieces and a recipe; show the grams to weigh out."""
    pieces, recipe = _asked("pieces"), request.args.get("recipe", "")
    here = looking.standings(station.ledger())
    answer, problem = None, None
    if pieces and recipe:
        try:
            answer = _grams(recipe, pieces)
        except LabelsvcError as error:
            problem = error
    page = render_template(
        "weigh_out.html",
        green=[one for one in here if one.lot.phase == "green" and not one.lot.is_held],
        recipes=moments.names("recipe"),
        stock=_stock(here),
        asked={"pieces": pieces, "recipe": recipe, "containers": _asked("containers"), "scale_step": _step()},
        answer=answer,
        problem=problem,
        findings=getattr(problem, "findings", ()),
    )
    return page if problem is None else (page, status_of(problem))


@pages.get("/dose")
def dose() -> str | tuple[str, int]:
    """Show the grams that bring one piece to wanted nitrite, salt and sugar, from one bag of curing salt."""
    here = looking.standings(station.ledger())
    asked = {name: request.args.get(name, "").strip() for name in ("piece", "container", *_TARGETS)}
    targets = {name: asked[name].replace(",", ".") for name in _TARGETS if asked[name]}
    answer, problem = None, None
    if asked["piece"] and asked["container"]:
        try:
            today = looking.today(station.ledger(), station.now())
            answer = grams_for_targets(
                station.ledger(), asked["piece"], asked["container"], targets, on=today, scale_step=_step() or None
            )
        except LabelsvcError as error:
            problem = error
    page = render_template(
        "dose.html",
        pieces=[one for one in here if one.lot.kind == "piece" and one.lot.phase in ("green", "in cure")],
        stock=_stock(here),
        asked={**asked, "scale_step": _step()},
        answer=answer,
        problem=problem,
        findings=getattr(problem, "findings", ()),
    )
    return page if problem is None else (page, status_of(problem))


_BAGS = (("", "Not said"), ("open", "Open to air, or none"), ("sealed", "Sealed"))
_TARGETS = ("nitrite_ppm", "salt_percent", "sugar_percent")


def _grams(recipe: str, pieces: list[str]) -> dict[str, Any]:
    today = looking.today(station.ledger(), station.now())
    containers, step = _asked("containers"), _step() or None
    return grams_to_weigh(station.ledger(), recipe, pieces, on=today, containers=containers, scale_step=step)


def _step() -> str:
    """The step of the scale, in grams where no unit was typed."""
    text = request.args.get("scale_step", "").strip().replace(",", ".")
    return f"{text} g" if text and text[-1].isdigit() else text


def _stock(here: list[Standing]) -> list[tuple[str, str]]:
    return [
        (one.lot.code, f"{one.lot.name}, {one.here} g") for one in here if one.lot.kind == "ingredient" and not one.lot.is_held
    ]


@pages.route("/cure/tub", methods=["GET", "POST"])
def cure() -> moments.Answer:
    """Record what was weighed out and put on the pieces in a tub."""
    pieces, recipe = _asked("pieces"), request.args.get("recipe", "")
    here = looking.standings(station.ledger())
    together = _grams(recipe, pieces)["together"] if recipe and pieces else []
    start = {"pieces": "\n".join(pieces), "recipe": recipe, "method": "dry", **_mix_start(together, here)}
    return moments.moment(
        form_for(together), _done, start=start, template="cure.html", about=recipe, caution=CAUTION,
        suggestions={"stock": _stock(here), "tubs": looking.tubs_in(here)},
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
                hint=BY_THE_SPOON,
                titles=wanted,
            ),
            Field("recipe", "Recipe", "card", required=False, card="recipe"),
            Field("things", "Bowls and machines", "list", required=False, hint="What it was mixed in: with commas between."),
            Field("planned_out", "To come out on", "day", required=False),
            Field("planned_packing", "To be packed on", "day", required=False, hint="The limits of that day are checked too."),
            Field("temperature_c", "Temperature of the cure", "decimal", required=False, unit="°C"),
            Field("bag", "Bag", "choice", required=False, choices=_BAGS, hint="Without nitrite no sealed bag."),
        ),
        "Record the cure",
    )


def _mix_start(together: list[dict[str, str]], here: list[Standing]) -> dict[str, str]:
    """The newest container of each ingredient stands there already; the grams are what the scale shows."""
    found: dict[str, str] = {}
    for place, line in enumerate(together):
        mine = [one.lot.code for one in here if card_key(one.lot.ingredient or "") == card_key(line["ingredient"])]
        found[f"mix-{place}-lot"] = line.get("container") or (mine[-1] if mine else "")
    return found


def _asked(name: str) -> list[str]:
    asked = [word for text in request.args.getlist(name) for word in re.split(r"[\n,;]+", text)]
    return list(dict.fromkeys(word.strip() for word in asked if word.strip()))
