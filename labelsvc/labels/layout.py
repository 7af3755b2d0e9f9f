"""A label layout: what stands where on one size of label, in millimetres from the top left corner.

An element stands in a box of its own, or is stacked with others in a column by priority; the texts of a column shrink
together and an empty one takes no room. Keys are explained at the fields below; a key that is not there is an error.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

import msgspec

from labelsvc.labels.marks import SymbolKind

Box = tuple[float, float, float, float]
"""x, y, width and height in mm."""
Purpose = Literal[
    "hanging_tag", "marker", "tub_card", "sale_label", "counter_card", "hold_tag", "container_label", "case_label", "badge"
]  # fmt: skip
FaceName = Literal["regular", "bold"]  # their condensed siblings are the last step before a text does not fit
Align = Literal["left", "centre", "right"]


class Sizes(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """The height a text begins with and the least it may shrink to, in mm."""

    largest: float
    smallest: float

    def __post_init__(self) -> None:
        if not 0 < self.smallest <= self.largest:
            raise ValueError(f"smallest above 0 and not above largest, got {self.smallest} and {self.largest}")


class Modules(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """The width of a symbol's module in mm: the least allowed, the one wanted, the most allowed."""

    smallest: float
    target: float
    largest: float

    def __post_init__(self) -> None:
        if not 0 < self.smallest <= self.target <= self.largest:
            raise ValueError(f"smallest, target and largest in rising order, got {self.smallest}, {self.target}, {self.largest}")


class Hole(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A punched hole: nothing is printed within its radius and margin."""

    centre_mm: tuple[float, float]
    diameter_mm: float
    margin_mm: float

    @property
    def radius_mm(self) -> float:
        """Radius of the keep-out, margin included."""
        return self.diameter_mm / 2 + self.margin_mm


class Edges(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """What stays free along each edge in mm, where a printer grips or a roll is cut."""

    top: float
    right: float
    bottom: float
    left: float


class Column(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A box in which elements are stacked by priority; its texts shrink together.

    Exactly one of ``x_height_mm`` and ``cap_height_mm`` says how tall they are. A column that ``takes_others`` is also given,
    last, the words of a content that no element of the layout is named for: a new particular is printed, never dropped.
    """

    box_mm: Box
    gap_mm: float
    x_height_mm: Sizes | None = None
    cap_height_mm: Sizes | None = None
    takes_others: bool = False


class Text(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """Words: ``text`` is one plain text, ``runs`` has emphasised stretches.

    ``says`` are fixed words by language, for what the stock says whatever the content (``NOT FOR SALE``).
    ``caption`` is by language; it stands above the words in its own size (``caption_cap_mm``) or, without that, before them.
    ``one_line`` forbids breaking it; ``frame_mm`` draws a frame of that thickness.
    """

    kind: Literal["text", "runs"]
    priority: int
    box_mm: Box | None = None
    column: str | None = None
    face: FaceName = "regular"
    x_height_mm: Sizes | None = None
    cap_height_mm: Sizes | None = None
    align: Align = "left"
    vertical: Literal["top", "middle", "bottom"] = "top"
    one_line: bool = False
    says: dict[str, str] = {}
    caption: dict[str, str] = {}
    caption_cap_mm: float | None = None
    frame_mm: float = 0
    empty: Literal["skip", "error"] = "error"


class Symbol(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A code to scan; its box holds the quiet zones too.

    ``turned`` lets the bars lie across a tall box like the rungs of a ladder. ``bar_height_mm`` is the least height of the
    bars, ``wanted_bar_height_mm`` the one below which a note is kept. ``matrix_module_mm`` is for ``code128_or_gs1_128``: how
    wide a module is where bars do not hold the data and a GS1 QR code stands in their place.
    """

    kind: Literal["symbol"]
    priority: int
    symbol: SymbolKind
    box_mm: Box
    module_mm: Modules
    matrix_module_mm: Modules | None = None
    turned: bool = False
    bar_height_mm: float = 0
    wanted_bar_height_mm: float = 0
    align: Align = "centre"
    empty: Literal["skip", "error"] = "error"


class Boxes(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """Empty boxes for the pencil; ``divided_at`` is where a thin rule parts each one, as a share of its width.

    A caption stands over each box; one with a bar in it (``DATE|g``) is set over the two parts.
    """

    kind: Literal["boxes"]
    priority: int
    box_mm: Box
    across: int
    down: int
    rule_mm: float
    divided_at: float = 0
    caption: dict[str, str] = {}
    caption_cap_mm: float = 1.6


class Rule(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A black rule that fills its box."""

    kind: Literal["rule"]
    priority: int
    box_mm: Box


class Picture(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A small drawing of square cells: each text is a row, ``#`` is ink and ``.`` none; as large as whole dots let it be."""

    kind: Literal["picture"]
    priority: int
    box_mm: Box
    rows: tuple[str, ...]


Element = Text | Symbol | Boxes | Rule | Picture


@dataclass(frozen=True)
class Layout:
    """A checked label layout.

    Args:
        file: its name, for errors.
        digest: SHA-256 of the file's text, hexadecimal: an issued label keeps it.
        title: what the label is called.
        purpose: what it is for; it decides what the label says and which layouts may stand in for it.
        width_mm: of the stock.
        height_mm: of the stock.
        edges: nothing is printed nearer to an edge.
        dots_per_mm: of the printer the layout was made for; another may be given when it is drawn.
        minimum_x_height_mm: no words on it are smaller, unless the content asks for another minimum.
        hole: the punched hole, or None.
        columns: boxes in which elements are stacked.
        elements: by name, in order of priority.
        markets: it is made for these (``us`` ...); for any where there are none.
        leaves_out: elements it has no room for and says nothing of; the law decides which of them it may leave out.
        print_rotation: degrees by which the page is turned clockwise for the printer, where the roll runs another way.
    """

    file: str
    digest: str
    title: str
    purpose: Purpose
    width_mm: float
    height_mm: float
    edges: Edges
    dots_per_mm: float
    minimum_x_height_mm: float
    hole: Hole | None
    columns: Mapping[str, Column]
    elements: Mapping[str, Element]
    markets: tuple[str, ...] = ()
    leaves_out: tuple[str, ...] = ()
    print_rotation: int = 0

    @property
    def name(self) -> str:
        """Its name without the ending of the file: what a command and a fact call it."""
        return self.file.removesuffix(".toml")

    @property
    def area_cm2(self) -> float:
        """Area of the label."""
        return self.width_mm * self.height_mm / 100

    def symbols(self) -> Iterator[tuple[str, Symbol]]:
        """Yield name and element of each code to scan."""
        for name, element in self.elements.items():
            if isinstance(element, Symbol):
                yield name, element

    def in_column(self, column: str) -> dict[str, Text]:
        """Return the elements stacked in a column, in order of priority."""
        return {name: part for name, part in self.elements.items() if isinstance(part, Text) and part.column == column}
