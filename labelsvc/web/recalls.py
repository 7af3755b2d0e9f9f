"""Recall: a reason in the trade's words sets how far the search reaches; it says so, and one press widens it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, cast

from flask import Blueprint, render_template, request, url_for

from labelsvc.errors import InputError
from labelsvc.operations.recalling import Reach, Suspicion
from labelsvc.operations.recalling import recall as search
from labelsvc.web import moments, station
from labelsvc.web.api import REACHES, day
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
    "slicing": Reason("A germ at slicing", ("lot",), "slicer", "A slicer carries a germ from one piece to the next."),
    "cure": Reason("Too much or too little cure", ("lot", "ingredient"), "tub", "What lay in one tub shared one mix."),
    "foreign": Reason(
        "Glass, metal, plastic", ("lot", "place", "from", "to"), "slicer", "It may have fallen where it was packed."
    ),
    "animal": Reason("Something about the animal", ("lot", "supplier", "from", "to"), "mass", "Everything that was made of it."),
    "fridge": Reason("A fridge or room was warm", ("place", "from", "to"), "mass", "Everything that was in there on those days."),
    "other": Reason(
        "Something else", ("lot", "supplier", "ingredient", "place", "from", "to"), "mass", "Everything that was made of it."
    ),
}
SAID: dict[str, str] = {
    "mass": "what it went into, by weight",
    "tub": "what it went into, and everything that was in a tub with that",
    "slicer": "what it went into, and everything packed in a session or on a slicer with that",
    "room": "what it went into, and everything that hung in a room with that",
}
LABELS = {
    "lot": "Code, marker or number",
    "supplier": "Supplier",
    "ingredient": "Ingredient",
    "place": "Fridge, room, tub or session",
    "from": "From day",
    "to": "To day",
    "undeclared": "Allergen",
}
_GONE = ("used up", "destroyed", "own use", "sample", "mixed")  # nothing of it is anywhere any more
_CARDS = {"supplier": "supplier", "ingredient": "ingredient"}


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
            answer = search(station.ledger(), _suspicion(asked, reach))
        except InputError as error:
            problem, beside, status = error.message, error.field, status_of(error)
    page = render_template(
        "recall.html",
        reason=reason,
        chosen=chosen,
        asked=asked,
        reach=reach,
        said=SAID.get(reach, ""),
        wider=_wider(reach, asked, chosen),
        answer=answer,
        there=[one for one in answer["affected"] if one["state"] not in _GONE] if answer else [],
        gone=[one for one in answer["affected"] if one["state"] in _GONE] if answer else [],
        problem=problem,
        beside=beside,
        labels=LABELS,
        choices={field: moments.names(kind) for field, kind in _CARDS.items() if field in reason.fields},
        hold_reason=f"recall: {reason.words.lower()}",
    )
    return page if status == 200 else (page, status)


def _suspicion(asked: dict[str, str], reach: str) -> Suspicion:
    if reach not in REACHES:
        raise InputError("reach", f"one of {', '.join(REACHES)}", reach)
    return Suspicion(
        tuple(word.strip() for word in asked["lot"].replace("\n", ",").split(",") if word.strip()),
        asked["supplier"] or None, asked["ingredient"] or None, day("from", asked["from"]), day("to", asked["to"]),
        asked["place"] or None, asked["undeclared"] or None, cast(Reach, reach),
    )  # fmt: skip


def _wider(reach: str, asked: dict[str, str], chosen: str) -> list[dict[str, str]]:
    """Return the other reaches as links, in the words of what they add."""
    given: dict[str, Any] = {name: value for name, value in asked.items() if value}
    return [
        {"words": SAID[other], "href": url_for("recalls.recall", **{**given, "reason": chosen, "reach": other})}
        for other in REACHES
        if other != reach
    ]
