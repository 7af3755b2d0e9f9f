"""Puts a content into a layout: text wrapped and shrunk, symbols sized, everything on the printer's dots.

Text is never cut, never smaller than its minimum and never over another element: it shrinks in whole dots of height, then
takes the condensed face, then it is an error that says which element does not fit and by how many mm.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from functools import lru_cache

from labelsvc.errors import DoesNotFitError, LayoutError
from labelsvc.labels.content import LabelContent, Run
from labelsvc.labels.layout import Align, Boxes, Column, Element, Layout, Picture, Rule, Symbol, Text
from labelsvc.labels.marks import Grid, Pattern, Placed, Rect, RectMark, SymbolMark, TextMark
from labelsvc.labels.paragraph import Paragraph, Room, Scale, fit, stacked, steps
from labelsvc.labels.sizing import size_symbol
from labelsvc.labels.wrap import words

Runs = tuple[Run, ...]
_CAPTION_GAP = 0.45  # of the caption's capitals: enough that it belongs to what follows and does not touch it
_HEAD_INSET_MM = 0.4  # of the heads over pencil boxes, from the rules under them
_INK = re.compile("#+")  # cells of a drawing that are black, side by side
_FRAME_GAP_MM = 0.8  # between a frame and its words


def place(layout: Layout, content: LabelContent, patterns: Mapping[str, Pattern], *, grid: Grid, language: str) -> Placed:
    """Place one label.

    Args:
        layout: where things go.
        content: what they say.
        patterns: the encoded symbol of each symbol element that has content.
        grid: the printer's dots.
        language: of the layout's own captions.

    Returns:
        The marks in reading order.

    Raises:
        LayoutError: an element without content that needs it, content without an element, a missing glyph, or something
            that does not fit at its minimum; names the element and how many mm.
    """
    _refuse_unplaced(layout, content)
    return _Placing(layout, content, patterns, grid, language).label()


def _refuse_unplaced(layout: Layout, content: LabelContent) -> None:
    for name in content.elements:
        if name not in layout.elements and name not in layout.leaves_out and content.runs(name) and not _taker(layout):
            raise LayoutError(f"{layout.file} {name}", f"one of {', '.join(layout.elements)}", content.text(name))


def _taker(layout: Layout) -> str | None:
    """Return the column that takes the words no element of the layout is named for, or None."""
    return next((name for name, column in layout.columns.items() if column.takes_others), None)


class _Placing:
    """The marks of one label while it is placed."""

    def __init__(self, layout: Layout, content: LabelContent, patterns: Mapping[str, Pattern], grid: Grid, language: str) -> None:
        self.layout, self.content, self.patterns, self.grid, self.language = layout, content, patterns, grid, language
        self.texts: list[TextMark] = []
        self.rects: list[RectMark] = []
        self.symbols: list[SymbolMark] = []
        self.notes: list[str] = []
        asked = content.minimum_x_height_mm
        self.least_x_mm = layout.minimum_x_height_mm if asked is None else float(asked)

    def label(self) -> Placed:
        stacked: set[str] = set()
        for name, element in self.layout.elements.items():
            if not isinstance(element, Text) or element.column is None:
                self._place(name, element)
            elif element.column not in stacked:
                stacked.add(element.column)
                self._column(element.column)
        layout, hole = self.layout, self.layout.hole
        x, y, radius = (0.0, 0.0, 0.0) if hole is None else (*hole.centre_mm, hole.radius_mm)
        scale = self.grid.dots_per_mm
        return Placed(
            layout.width_mm,
            layout.height_mm,
            self.grid,
            tuple(self.texts),
            tuple(self.rects),
            tuple(self.symbols),
            None if hole is None else (x * scale, y * scale, radius * scale),
            tuple(self.notes),
            self.least_x_mm,
            layout.print_rotation,
        )

    def _place(self, name: str, element: Element) -> None:
        if isinstance(element, Rule):
            self.rects.append(RectMark(name, (self.grid.box(element.box_mm),)))
        elif isinstance(element, Picture):
            self.rects.append(RectMark(name, self._picture(name, element)))
        elif isinstance(element, Boxes):
            self._pencil_boxes(name, element)
        elif not self._is_empty(name, element):
            if isinstance(element, Symbol):
                self._symbol(name, element)
            else:
                self._text(name, element)

    def _picture(self, name: str, element: Picture) -> tuple[Rect, ...]:
        """Return the cells of a drawing as runs of ink, in the middle of its box."""
        x, y, width, height = self.grid.box(element.box_mm)
        across, down = len(element.rows[0]), len(element.rows)
        cell = min(width // across, height // down)
        if cell < 1:
            expected = f"a box of at least {self.grid.mm(across):.1f} x {self.grid.mm(down):.1f} mm for its cells"
            raise DoesNotFitError(self._field(name), expected, str(list(element.box_mm)))
        left, top = x + (width - cell * across) // 2, y + (height - cell * down) // 2
        return tuple(
            (left + cell * run.start(), top + cell * number, cell * len(run.group()), cell)
            for number, row in enumerate(element.rows)
            for run in _INK.finditer(row)
        )

    def _runs(self, name: str, element: Text) -> tuple[Run, ...]:
        """Return what an element says: the content's words, or the layout's own fixed ones."""
        fixed = element.says.get(self.language) or element.says.get("en", "")
        return self.content.runs(name) or ((Run(fixed),) if fixed else ())

    def _is_empty(self, name: str, element: Text | Symbol) -> bool:
        if self._runs(name, element) if isinstance(element, Text) else self.content.runs(name):
            return False
        if element.empty == "error":
            raise LayoutError(self._field(name), "words" if isinstance(element, Text) else "data to encode", "none")
        return True

    def _field(self, name: str) -> str:
        return f"{self.layout.file} {name}"

    def _column(self, name: str) -> None:
        column = self.layout.columns[name]
        named = {**self.layout.in_column(name), **self._others(name, column)}
        members = [item for item in named.items() if not self._is_empty(*item)]
        if not members:
            return
        x, y, width, height = self.grid.box(column.box_mm)
        gap = self.grid.dots(column.gap_mm)
        paragraphs = tuple(self._paragraph(member, element) for member, element in members)
        room = Room(width, height, gap, self.grid, self.layout.file)
        self.texts += stacked(paragraphs, self._scale(column, [member for member, _ in members]), room, (x, y))

    def _others(self, name: str, column: Column) -> dict[str, Text]:
        """Return elements for the words that the layout does not name, where the column takes them."""
        known = {*self.layout.elements, *self.layout.leaves_out}
        others = [other for other in self.content.elements if other not in known] if column.takes_others else []
        return {other: Text("runs", 0, column=name, empty="skip") for other in others}

    def _text(self, name: str, element: Text) -> None:
        assert element.box_mm is not None  # the layout was checked: it stands in a box, not in a column
        box = self.grid.box(element.box_mm)
        if element.frame_mm:
            box = self._frame(name, element, box)
        if element.caption_cap_mm:
            used = self._caption_line(name, self._caption(name, element), element.caption_cap_mm, box, element.align)
            box = (box[0], box[1] + used, box[2], box[3] - used)
        x, y, width, height = box
        room = Room(width, height, 0, self.grid, self.layout.file)
        self.texts += stacked((self._paragraph(name, element),), self._scale(element, [name]), room, (x, y), element.vertical)

    def _paragraph(self, name: str, element: Text) -> Paragraph:
        runs = self._runs(name, element)
        if element.kind == "text" and any(run.emphasised for run in runs):
            raise LayoutError(self._field(name), "plain text, because its kind is text", "runs with emphasis")
        caption = "" if element.caption_cap_mm else self._caption(name, element)
        form = (element.face == "bold", element.one_line, element.align)
        return _paragraph(name, runs, caption, *form, self._field(name))

    def _scale(self, part: Text | Column, names: Sequence[str]) -> Scale:
        grid = self.grid
        asked = max((float(self.content.smallest_mm.get(name, 0)) for name in names), default=0.0)
        least_x, least_figure = grid.at_least(self.least_x_mm), grid.at_least(asked)
        sizes = part.x_height_mm or part.cap_height_mm
        assert sizes is not None  # the layout was checked: one of the two is there
        largest, smallest = grid.at_most(sizes.largest), grid.at_least(sizes.smallest)
        return Scale("x" if part.x_height_mm else "cap", largest, smallest, least_x, least_figure)

    def _frame(self, name: str, element: Text, box: Rect) -> Rect:
        rule = max(1, self.grid.dots(element.frame_mm))
        self.rects.append(RectMark(name, _outline(box, rule)))
        inset = rule + self.grid.dots(_FRAME_GAP_MM)
        x, y, width, height = box
        return x + inset, y + inset, width - 2 * inset, height - 2 * inset

    def _caption(self, name: str, element: Text | Boxes) -> str:
        own = element.caption.get(self.language) or element.caption.get("en", "")
        return self.content.captions.get(name, own)

    def _caption_line(self, name: str, caption: str, cap_mm: float, box: Rect, align: Align) -> int:
        """Set a caption in its one size at the top of a box and return how many dots it takes of the height."""
        if not caption:
            return 0
        _refuse_missing((Run(caption, True),), self._field(name))
        x, y, width, height = box
        cap = self.grid.at_least(cap_mm)
        paragraph = Paragraph(name, (_one_word(words([Run(caption, True)])),), align)
        (block,) = fit(
            (paragraph,),
            Scale("cap", cap, cap, self.grid.at_least(self.least_x_mm)),
            Room(width, height, 0, self.grid, self.layout.file),
        )
        self.texts += block.marks(x, y, width)
        return block.ascent + round(_CAPTION_GAP * cap)

    def _pencil_boxes(self, name: str, element: Boxes) -> None:
        x, y, width, height = self.grid.box(element.box_mm)
        heads = self._caption(name, element).split("|", 1 if element.divided_at else 0)
        parts = [(0.0, element.divided_at), (element.divided_at, 1.0)] if len(heads) == 2 else [(0.0, 1.0)]
        cell = width / element.across
        used = 0
        for column in range(element.across):
            for head, (begin, end) in zip(heads, parts, strict=True):
                left = x + round((column + begin) * cell) + self.grid.dots(_HEAD_INSET_MM)
                room = (left, y, x + round((column + end) * cell) - left, height)
                used = self._caption_line(name, head, element.caption_cap_mm, room, "left")
        below = (x, y + used, width, height - used)
        self.rects.append(RectMark(name, _ruled(below, element, max(1, self.grid.dots(element.rule_mm)))))

    def _symbol(self, name: str, element: Symbol) -> None:
        mark = size_symbol(name, element, self.patterns[name], self.grid, self._field(name))
        self.symbols.append(mark)
        height = self.grid.mm(mark.bars[2] if element.turned else mark.bars[3])
        if len(mark.pattern.rows) == 1 and height < element.wanted_bar_height_mm:
            self.notes.append(f"{name}: bars {height:.1f} mm high, {element.wanted_bar_height_mm:g} mm are wanted")


@lru_cache(maxsize=256)  # the next label of a product says most things again
def _paragraph(name: str, runs: Runs, caption: str, is_bold: bool, one_line: bool, align: Align, field: str) -> Paragraph:
    """Return what an element says, all of it bold where its face is, with the caption before it."""
    if is_bold:
        runs = tuple(Run(run.text, True) for run in runs)
    if caption:
        runs = (Run(f"{caption} "), *runs)
    _refuse_missing(runs, field)
    text = words(runs)
    return Paragraph(name, (_one_word(text),) if one_line else text, align)


def _refuse_missing(runs: Runs, field: str) -> None:
    for faces in steps():
        for run in runs:
            faces.of(run).refuse_missing(run.text, field)


def _one_word(text: Sequence[tuple[Run, ...]]) -> tuple[Run, ...]:
    """Join words so that no line breaks between them."""
    joined: list[Run] = []
    for word in text:
        if joined:
            joined.append(Run(" ", joined[-1].emphasised and word[0].emphasised))
        joined += word
    return tuple(joined)


def _outline(box: Rect, rule: int) -> tuple[Rect, ...]:
    x, y, width, height = box
    inner = height - 2 * rule
    return (
        (x, y, width, rule),
        (x, y + height - rule, width, rule),
        (x, y + rule, rule, inner),
        (x + width - rule, y + rule, rule, inner),
    )


def _ruled(box: Rect, element: Boxes, rule: int) -> tuple[Rect, ...]:
    """Return the rules of a grid of boxes, and the thin rule that parts each box."""
    x, y, width, height = box
    lefts = [x + round(i * (width - rule) / element.across) for i in range(element.across + 1)]
    tops = [y + round(i * (height - rule) / element.down) for i in range(element.down + 1)]
    rects = [(left, y, rule, height) for left in lefts] + [(x, top, width, rule) for top in tops]
    if element.divided_at:
        cell = lefts[1] - lefts[0]
        rects += [(left + round(element.divided_at * cell), y, max(1, rule // 2), height) for left in lefts[:-1]]
    return tuple(rects)
