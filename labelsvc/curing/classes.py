"""Which class of the law a product falls in, by plain questions, with the cautious class where one is left open.

The rows stand in ``classes.toml``. In the United States the authority sets the class; what is said here is where to begin.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import cache
from importlib import resources
from typing import Any, Literal

from labelsvc.curing.limits import classes_of
from labelsvc.errors import InputError
from labelsvc.rules.load import MARKETS
from labelsvc.shape import Shape, read_shape

AUTHORITY_DECIDES = "In the United States the authority sets the class of a product: ask the inspector before it is sold"
TRADITION = "A named traditional class holds only for a product made by the words of its row; in doubt take non_heat_treated"


class ClassQuestions(Shape, frozen=True):
    """What the contract ``class`` asks; what is not answered counts as the cautious answer."""

    market: str
    belly: bool | None = None
    chopped: bool | None = None
    heated: Literal["no", "yes", "sterilised"] | None = None
    way: Literal["dry", "dry_excess", "pumped", "immersion"] | None = None
    named: Literal["none", "dry_cured_bacon", "dry_cured_ham", "jamon_lomo_cecina"] | None = None
    matured_days: int | None = None
    sold: bool | None = None

    def __post_init__(self) -> None:
        if self.market not in MARKETS:
            raise InputError("market", f"one of {', '.join(MARKETS)}", self.market)

    def answers(self, row: Mapping[str, Any]) -> bool:
        """Tell whether all answers of a row are these; an open question answers none but that for a belly."""
        mine = {
            "belly": "no" if self.belly is False else "yes",  # open: taken for a belly, whose class is stricter
            "chopped": "yes" if self.chopped else "no",
            "heated": self.heated or "no",
            "way": (self.way or "").removesuffix("_excess"),
            "named": self.named or "none",
            "sold": "no" if self.sold is False else "yes",
        }
        return all(self._days(value) if name == "matured" else mine[name] == value for name, value in row["answers"].items())

    def _days(self, least: str) -> bool:
        return self.matured_days is not None and self.matured_days >= int(least)


def compute_class(request: Mapping[str, Any]) -> dict[str, Any]:
    """Answer which class a product falls in.

    Args:
        request: the JSON object of a ``ClassQuestions``.

    Returns:
        ``{market, class, why, remarks, classes}``: the class, what it rests on, what to know, and all classes of the market.

    Raises:
        InputError: a market we have no rules for, or an answer that is none.

    >>> compute_class({"market": "us", "belly": True, "way": "dry"})["class"]
    'dry_cured_bacon'
    """
    asked = read_shape(ClassQuestions, request, "class", strict=True)
    row = next(row for row in _rows() if asked.market in row["market"].split() and asked.answers(row))
    return {
        "market": asked.market,
        "class": row["class"],
        "why": row["why"],
        "remarks": _remarks(asked),
        "classes": list(classes_of(asked.market)),
    }


def _remarks(asked: ClassQuestions) -> list[str]:
    remarks = [AUTHORITY_DECIDES] if asked.market == "us" else [TRADITION]
    if asked.market == "us" and asked.belly is None and asked.sold is not False:
        remarks.append("Whether it is belly was not said: it is taken for one")
    if asked.market != "us" and asked.heated is None:
        remarks.append("Whether it is heated was not said: it is taken as not heated")
    if (asked.named or "none") != "none" and asked.matured_days is None:
        remarks.append("How long it matures was not said: it is not taken for a named product")
    return remarks


@cache
def _rows() -> tuple[dict[str, Any], ...]:
    text = (resources.files("labelsvc.curing") / "classes.toml").read_text(encoding="utf-8")
    return tuple(tomllib.loads(text)["row"])
