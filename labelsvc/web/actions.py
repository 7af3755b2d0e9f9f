"""What can be done: with one lot, by how far it is, what is likely first; and everything the menu does not name."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from flask import Blueprint, render_template, url_for

from labelsvc.operations.looking import Standing
from labelsvc.web.guard import may_open

pages = Blueprint("actions", __name__)

_WHOLE = ("green", "in cure", "out of cure", "hanging")
_LEFT = ("sold", "given away")


@dataclass(frozen=True)
class Action:
    """One thing that may be done with a lot.

    Args:
        words: on the link.
        page: where it is done.
        field: the name under which the lot is handed on.
        fits: whether it can be done with the lot as it stands.
        is_likely: whether it is shown at once, or under "More".
        more: what else the address says.
    """

    words: str
    page: str
    field: str
    fits: Callable[[Standing], bool]
    is_likely: Callable[[Standing], bool]
    more: tuple[tuple[str, str], ...] = ()


def _always(_one: Standing) -> bool:
    return True


def _never(_one: Standing) -> bool:
    return False


def _is_here(one: Standing) -> bool:
    return bool(one.lot.milligrams or one.lot.units) and one.lot.holder is None


def _is_free(one: Standing) -> bool:
    return _is_here(one) and not one.lot.is_held


def _in_cure(one: Standing) -> bool:
    return one.lot.phase == "in cure" and one.lot.kind == "piece"


def _is_stock(one: Standing) -> bool:
    return one.lot.kind == "ingredient"


ACTIONS = (
    Action("Labels", "labels.of_lot", "code", lambda one: one.lot.kind in ("piece", "pack", "ingredient"), _is_stock),
    Action("Trace both ways", "lots.trace", "code", _always, _always),
    Action(
        "It came back", "selling.other", "packs", lambda one: one.lot.phase in _LEFT, _always, (("what", "return"),)
    ),
    Action("Salt again", "tubs.salt_again", "pieces", lambda one: _in_cure(one) and _is_free(one), _always),
    Action(
        "Wash or coat it", "coating.coat", "pieces",
        lambda one: one.lot.kind == "piece" and one.lot.phase in _WHOLE and _is_free(one) and not one.lot.is_portioned, _never,
    ),
    Action("Take it out", "tubs.take_out", "pieces", _in_cure, _always),
    Action(
        "Weigh it",
        "hanging.weigh",
        "piece",
        lambda one: one.lot.phase == "hanging" and bool(one.lot.milligrams) and one.next_step != "weigh",
        _always,
    ),
    Action(
        "Split it", "cutting.split", "from",
        lambda one: one.lot.kind == "piece" and one.lot.phase in _WHOLE and _is_free(one) and not one.lot.is_portioned,
        lambda one: one.lot.count is not None,
    ),
    Action(
        "String over several rails", "rails.string", "from",
        lambda one: one.lot.count is not None and one.lot.phase in ("green", "in cure", "out of cure") and _is_free(one), _always,
    ),
    Action("Move it", "watching.move", "lot", _is_here, lambda one: one.lot.phase == "hanging"),
    Action("Check it", "watching.check", "lot", _is_here, lambda one: one.lot.phase in ("hanging", "out of cure")),
    Action("Count it", "watching.count", "lot", lambda one: _is_here(one) and not one.lot.units, _is_stock),
    Action("Complaint", "complaints.complaint", "code", _always, lambda one: one.lot.kind == "pack"),
    Action("Hold it", "lots.hold", "lots", lambda one: not one.lot.is_held, lambda one: not _is_stock(one)),
    Action("Something happened to it", "incidents.incident", "lots", _is_here, _never),
    Action("Used or thrown away", "selling.other", "lot", _is_free, _never, (("what", "dispose"),)),
)  # fmt: skip

# What the menu does not name: page, what else the address says, words, and one line on what it is for.
MORE: tuple[tuple[str, dict[str, Any], str, str], ...] = (
    ("incidents.incident", {}, "Incident", "Power cut, fall, mould, pest, glass, a lost tag: holds what it touched."),
    ("curing.dose", {}, "Grams for a wanted dose", "For one piece, by ppm and percent, without a recipe."),
    ("tubs.salt_again", {}, "Salt again", "More of a mix on pieces in the cure."),
    ("coating.coat", {}, "Wash, coat, case or net", "What goes on a piece after the cure: an ingredient like any other."),
    ("tubs.turn", {}, "Turn a tub", "Turned or restacked."),
    ("tubs.take_out", {}, "Take out of the tub", "Out and drained, to be strung later."),
    ("cutting.split", {}, "Split", "A piece cut through, or codes for pieces of a lot of several."),
    ("watching.move", {}, "Move", "To another room, rack or tub."),
    ("watching.check", {}, "Check", "pH, water activity, salt, a laboratory result."),
    ("watching.count", {}, "Count stock", "What is there, on the scale."),
    ("watching.clean", {}, "Cleaned", "Slicer, tub or table; allergen-clean or not."),
    ("lawbook.product_class", {}, "Class of the law", "Plain questions that say which class a product falls in."),
    ("lawbook.rules", {}, "Rules", "The limits of the law in force, how each is known, and your own figures."),
    ("personal.overview", {}, "Personal data", "What is kept of buyers, how long the law asks for it, and erasing it."),
    ("layouts.shelf", {}, "Label layouts", "Every label as it looks; copy one, change a number, see what comes of it."),
    ("printers.overview", {}, "Printers", "Which there are, how each is; a tag or label goes to it by the press that records."),
    ("markers.reserve", {}, "Printed ahead", "Blank markers and hanging tags whose codes wait for their pieces."),
    ("lots.hold", {}, "Hold", "Nothing of it is packed, sold or given away until someone decides."),
    ("selling.other", {"what": "give"}, "Give away", "And whom to tell if something is wrong with it."),
    ("selling.other", {"what": "return"}, "It came back", "A shop's packs are held, a consumer's are destroyed."),
    ("selling.other", {"what": "dispose"}, "Used or thrown away", "Eaten here, taken as a sample, destroyed."),
    ("habits.habits", {}, "Rules of thumb", "What a spoon, equal volumes, or days by habit can mean in grams and ppm."),
)


@pages.get("/more")
def more() -> str:
    """Show everything that the menu does not name."""
    return render_template(
        "more.html", more=[(url_for(page, **said), words, line) for page, said, words, line in MORE if may_open(page, **said)]
    )


def actions_of(one: Standing) -> dict[str, list[dict[str, str]]]:
    """Return what can be done with a lot: ``likely`` and ``more``, each with address and words."""
    found: dict[str, list[dict[str, str]]] = {"likely": [], "more": []}
    for action in ACTIONS:
        said: dict[str, Any] = {action.field: one.lot.code, **dict(action.more)}
        if action.fits(one) and may_open(action.page, **said):
            if action.words == "It came back":
                said["from"] = one.lot.holder
            found["likely" if action.is_likely(one) else "more"].append(
                {"href": url_for(action.page, **said), "words": action.words}
            )
    return found
