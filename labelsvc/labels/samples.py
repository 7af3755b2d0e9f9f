"""Contents to look at a layout with: an everyday one and the longest, from the samples beside the layouts.

Stars stand around what is emphasised. An element that a layout neither has nor takes in is left away here, because one
sample serves all layouts of a purpose; a real content is never shortened.
"""

from __future__ import annotations

import tomllib
from decimal import Decimal
from pathlib import Path
from typing import Literal

from labelsvc.codes.gs1 import parse_human_readable
from labelsvc.labels.case_symbols import case_words
from labelsvc.labels.content import LabelContent, Run, Words
from labelsvc.labels.layout import Layout

FOLDER = "samples"  # beside the shipped layouts
Which = Literal["sample", "worst"]


def sample_content(layout: Layout, shipped: Path, which: Which) -> LabelContent:
    """Return a content for the preview of a layout.

    Args:
        layout: the layout; its purpose decides what it says.
        shipped: the folder of shipped layouts.
        which: the everyday ``sample``, or the ``worst`` there is.
    """
    # the sample of this very layout, else of its purpose in its market, else of its purpose
    names = (layout.name, f"{layout.purpose}_{'_'.join(layout.markets)}", layout.purpose)
    files = [shipped / FOLDER / f"{name}.toml" for name in names]
    file = next((one for one in files if one.is_file()), files[-1])
    said = tomllib.loads(file.read_text(encoding="utf-8"))
    least = said.get("least", {})
    texts = {**said[which], **_case(said[which].get("case"), layout)}
    wanted = {name: words(text) for name, text in texts.items() if name in layout.elements}
    minimum = least.get("minimum_x_height_mm")
    heights = {name: Decimal(height) for name, height in least.items() if name != "minimum_x_height_mm"}
    return LabelContent(
        wanted,
        minimum_x_height_mm=None if minimum is None else max(Decimal(minimum), Decimal(str(layout.minimum_x_height_mm))),
        smallest_mm=heights if which == "worst" else {},
    )


def _case(elements: str | None, layout: Layout) -> dict[str, str]:
    """Return the symbols of a case, in bars or a matrix as the layout has room, from its elements with their brackets."""
    if elements is None:
        return {}
    return case_words(parse_human_readable(elements, "case"), layout, layout.dots_per_mm)[0]


def words(text: str) -> Words:
    """Return a text as runs where stars stand around what is emphasised.

    >>> words("pepper, *mustard* seed")
    (Run(text='pepper, ', emphasised=False), Run(text='mustard', emphasised=True), Run(text=' seed', emphasised=False))
    """
    parts = text.split("*")
    if len(parts) == 1:
        return text
    return tuple(Run(part, place % 2 == 1) for place, part in enumerate(parts) if part)
