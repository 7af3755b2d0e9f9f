"""Recall: a reason in the trade's words sets how far the search reaches; it says so, and one press widens it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from flask import Blueprint, render_template, request, url_for

from labelsvc.errors import InputError
from labelsvc.operations.recalling import recall as search
from labelsvc.operations.searching import Reach
from labelsvc.web import moments, station
from labelsvc.web.api import REACHES, suspicion_of
from labelsvc.web.errors import status_of

pages = Blueprint("recalls", __name__)


@dataclass(frozen=True)
class Reason:
    """Why a recall is searched.

    Args:
        words: as the trade says it.
        fields: what the search starts from.
        reach: how far it goes at first.
        why: one line on what that means.
    """

    words: str
    fields: tuple[str, ...]
    reach: Reach
    why: str


REASONS: dict[str, Reason] = {
    "allergen": Reason("An allergen is not on the label", ("undeclared",), "mass", "Packs whose label does not name it."),
    "slicing": Reason(
        "A germ at slicing",
        ("lot", "place", "since_cleaning", "from", "to"),
        "slicer",
        "A slicer carries a germ from one piece to the next.",
    ),
    "cure": Reason(
        "Too much or too little cure",
        ("lot", "ingredient", "recipe", "recipe_version", "dose_above"),
        "tub",
        "What lay in one tub shared one mix.",
    ),
    "foreign": Reason(
        "Glass, metal, plastic", ("lot", "place", "from", "to"), "slicer", "It may have fallen where it was packed."
    ),
    "animal": Reason("Something about the animal", ("lot", "mark", "supplier", "from", "to"), "mass", "All that was made of it."),
    "fridge": Reason("A fridge or room was warm", ("place", "from", "to"), "mass", "Everything that was in there on those days."),
    "other": Reason(
        "Something else",
        (
            "lot",
            "mark",
            "supplier",
            "ingredient",
            "recipe",
            "recipe_version",
            "place",
            "since_cleaning",
            "from",
            "to",
            "customer",
            "undeclared",
            "rule",
            "dose_above",
        ),
        "mass",
        "Everything that was made of it. With several, only what fits all of them is the start.",
    ),
}
# Each reach in one sentence, and what it adds to the one before: every step holds all of the steps before it.
SAID: dict[str, str] = {
    "mass": "what it went into, by weight",
    "tub": "what it went into, and everything that was in a tub with that or with the pieces it was made of",
    "slicer": "what it went into, what was in a tub with that, and everything of the same packing session, or on the same slicer"
    " before its next cleaning",
    "room": "what it went into, what was in a tub, packing session or on a slicer with that, and what hung in the same room"
    " at the same time",
}
ADDS: dict[str, str] = {
    "mass": "",
    "tub": "what lay in the same tub",
    "slicer": "what was on the same slicer or in the same session",
    "room": "what hung in the same room",
}
LABELS = {
    "lot": "Code, marker or number",
    "supplier": "Supplier",
    "ingredient": "Ingredient",
    "place": "Fridge, room, tub, session or slicer",
    "from": "From day",
    "to": "To day",
    "undeclared": "Allergen not on the label",
    "customer": "Customer, or who was given it",
    "recipe": "Recipe",
    "recipe_version": "Version of the recipe",
    "mark": "Ear tag, herd mark or delivery number",
    "rule": "Rule that a label relied on",
    "dose_above": "Nitrite put on, above (ppm as sodium nitrite)",
    "since_cleaning": "Only since it was last cleaned",
}
MOST = 200  # lots that a page shows; more are counted and summed
_GONE = ("used up", "destroyed", "own use", "sample", "mixed")  # nothing of it is anywhere any more
_LEFT = ("sold", "given away")
_CARDS = {"supplier": "supplier", "ingredient": "ingredient", "recipe": "recipe"}


@pages.get("/recall")
def recall() -> str | tuple[str, int]:
    """Choose a reason, then search."""
    chosen = request.args.get("reason", "")
    if chosen not in REASONS:
        return render_template("recall_reasons.html", reasons=REASONS)
    reason = REASONS[chosen]
    asked = {name: request.args.get(name, "").strip() for name in LABELS}
    reach = request.args.get("reach", reason.reach)
    answer, problem, beside, status = None, "", "", 200
    if any(asked.values()):
        try:
            lots = [word.strip() for word in asked["lot"].replace("\n", ",").split(",") if word.strip()]
            answer = search(station.ledger(), suspicion_of({**asked, "reach": reach}, lots), MOST)
        except InputError as error:
            problem, beside, status = error.message, error.field, status_of(error)
    found = answer["affected"] if answer else []
    there = [one for one in found if one["state"] not in _GONE]
    page = render_template(
        "recall.html",
        reason=reason,
        chosen=chosen,
        asked=asked,
        reach=reach,
        said=SAID.get(reach, ""),
        wider=_beside(reach, asked, chosen, step=1),
        narrower=_beside(reach, asked, chosen, step=-1),
        answer=answer,
        there=there,
        gone=[one for one in found if one["state"] in _GONE],
        to_hold=answer.get("to_hold", [one["code"] for one in there if one["state"] not in _LEFT and not one["held"]])
        if answer
        else [],
        problem=problem,
        beside=beside,
        labels=LABELS,
        choices={field: moments.names(kind) for field, kind in _CARDS.items() if field in reason.fields},
        hold_reason=f"recall: {reason.words.lower()}",
        sought=_sought(asked, reach),
        whole=_whole(asked, reach),
    )
    return page if status == 200 else (page, status)


def _beside(reach: str, asked: dict[str, str], chosen: str, *, step: int) -> dict[str, str] | None:
    """Return the next wider or narrower reach as a link, in the words of what it adds or leaves out; None at the end."""
    place = REACHES.index(reach) + step if reach in REACHES else -1
    if not 0 <= place < len(REACHES):
        return None
    given: dict[str, Any] = {name: value for name, value in asked.items() if value}
    href = url_for("recalls.recall", **{**given, "reason": chosen, "reach": REACHES[place]})
    return {"adds": ADDS[REACHES[max(place, place - step)]], "href": href}


def _whole(asked: dict[str, str], reach: str) -> str:
    """Return where the same answer is whole, as data."""
    given: dict[str, Any] = {name: value for name, value in asked.items() if value}
    return url_for("api.recall", **{**given, "reach": reach})


def _sought(asked: dict[str, str], reach: str) -> str:
    """What was searched, in words that a case keeps for good: a customer's name must be able to go."""
    said = {name: "a certain one" if name == "customer" else value for name, value in asked.items() if value}
    return ", ".join([*(f"{LABELS[name].lower()} {value}" for name, value in said.items()), f"reach {reach}"])
