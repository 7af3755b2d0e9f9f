"""The ledger's vocabulary: each kind of fact is what a person saw or did, never what follows from it.

Reading this package teaches the whole program. A fact holds absolute weights, codes and times. Postings, balances, states and
findings are derived from the facts in the order they happened (``ledger/derive``), so a correction or a late entry changes
them all at once. Weights are strings with a unit, percentages bare decimals, days ISO 8601.
"""

from __future__ import annotations

from labelsvc.errors import InputError
from labelsvc.facts.cards import (
    Control,
    Country,
    Customer,
    DisplayPanel,
    Ingredient,
    Meat,
    Product,
    Recipe,
    SmallMaker,
    Supplier,
    Workshop,
)
from labelsvc.facts.making import (
    Coat,
    Cure,
    Cut,
    MixLine,
    Move,
    Receive,
    Release,
    Reserve,
    SaltAgain,
    Split,
    String,
    TakeOut,
    Trichinella,
    Turn,
    Weigh,
    trichinella_status,
)
from labelsvc.facts.recalling import CaseStep, CloseCase, OpenCase, Publish, Tell, Unpublish
from labelsvc.facts.selling import Dispose, Give, Pack, Return, Sell
from labelsvc.facts.watching import (
    RANGES,
    RESIDUES,
    AnswerComplaint,
    Check,
    Clean,
    Complaint,
    Correct,
    Count,
    Figure,
    Hold,
    Incident,
    IssueLabel,
    Lift,
    Measured,
    ReprintLabel,
    VoidLabel,
)
from labelsvc.shape import Shape, read_shape

KINDS: dict[str, type[Shape]] = {
    "workshop": Workshop,
    "supplier": Supplier,
    "customer": Customer,
    "ingredient": Ingredient,
    "product": Product,
    "recipe": Recipe,
    "figure": Figure,
    "receive": Receive,
    "reserve": Reserve,
    "cut": Cut,
    "cure": Cure,
    "salt_again": SaltAgain,
    "coat": Coat,
    "turn": Turn,
    "move": Move,
    "take_out": TakeOut,
    "split": Split,
    "string": String,
    "weigh": Weigh,
    "check": Check,
    "release": Release,
    "pack": Pack,
    "sell": Sell,
    "give": Give,
    "return": Return,
    "dispose": Dispose,
    "count": Count,
    "hold": Hold,
    "lift": Lift,
    "incident": Incident,
    "clean": Clean,
    "complaint": Complaint,
    "answer_complaint": AnswerComplaint,
    "open_case": OpenCase,
    "tell": Tell,
    "case_step": CaseStep,
    "publish": Publish,
    "unpublish": Unpublish,
    "close_case": CloseCase,
    "issue_label": IssueLabel,
    "reprint_label": ReprintLabel,
    "void_label": VoidLabel,
    "correct": Correct,
}
__all__ = [
    "CARDS",
    "KINDS",
    "PERSONAL",
    "RANGES",
    "RESIDUES",
    "AnswerComplaint",
    "CaseStep",
    "Check",
    "Clean",
    "CloseCase",
    "Coat",
    "Complaint",
    "Control",
    "Correct",
    "Count",
    "Country",
    "Cure",
    "Customer",
    "Cut",
    "DisplayPanel",
    "Dispose",
    "Figure",
    "Give",
    "Hold",
    "Incident",
    "Ingredient",
    "IssueLabel",
    "Lift",
    "Measured",
    "Meat",
    "MixLine",
    "Move",
    "OpenCase",
    "Pack",
    "Product",
    "Publish",
    "Receive",
    "Recipe",
    "Release",
    "ReprintLabel",
    "Reserve",
    "Return",
    "SaltAgain",
    "Sell",
    "SmallMaker",
    "Split",
    "String",
    "Supplier",
    "TakeOut",
    "Tell",
    "Trichinella",
    "Turn",
    "Unpublish",
    "VoidLabel",
    "Weigh",
    "Workshop",
    "read",
    "shape_of",
    "trichinella_status",
]
# What of a fact is personal, the name it is kept under first: sealed as a key only, the text can be erased. An answer is kept
# under the name of whoever complained.
PERSONAL: dict[str, tuple[str, ...]] = {
    "supplier": ("name", "address", "contact"),
    "receive": ("supplier",),
    "customer": ("name", "address", "contact"),
    "sell": ("customer",),
    "give": ("to",),
    "return": ("from",),
    "tell": ("customer", "answer"),
    "complaint": ("contact", "text"),
    "answer_complaint": ("answer",),
}
# A card says what a thing is, until a later fact of the same name says otherwise.
CARDS = ("workshop", "supplier", "customer", "ingredient", "product", "recipe", "figure")


def read(kind: str, given: object) -> Shape:
    """Return the checked body of a fact.

    Args:
        kind: one of ``KINDS``.
        given: the JSON object as Python values.

    Raises:
        InputError: an unknown kind or field, a missing field, a float, or a value that cannot be; names the field.
    """
    return read_shape(shape_of(kind), given, kind)


def shape_of(kind: str) -> type[Shape]:
    """Return the shape of a kind of fact.

    Raises:
        InputError: no such kind.
    """
    if kind not in KINDS:
        raise InputError("kind", f"one of {', '.join(KINDS)}", kind)
    return KINDS[kind]
