"""A paper as data: what stands on it, in order; and how it is drawn as a PDF, in one look of our own.

Nothing on a paper is computed here. An exercise and a draft say so in a band on every page.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any
from xml.sax.saxutils import escape

from reportlab.lib.colors import HexColor
from reportlab.lib.enums import TA_RIGHT
from reportlab.lib.pagesizes import A4, LETTER
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.platypus import Flowable, KeepTogether, Paragraph, SimpleDocTemplate, Spacer, Table, TableStyle

from labelsvc.exchange.chain_picture import Box, Chain, picture

__all__ = ["Box", "Chain", "Faces", "Heading", "Lines", "Pairs", "Paper", "Rows", "Said", "draw_paper"]
_INK, _SOFT, _LINE, _DANGER = HexColor("#17120f"), HexColor("#574b42"), HexColor("#bdb1a0"), HexColor("#a30d12")
_MARGIN, _FOOT = 18 * mm, 16 * mm
_POSTER = 1.6  # times the size of a letter (our own choice: 16 points are read from two metres)
_PADDING = 12.0  # points left and right of a cell's words together
_LETTER = 5.0  # points that a letter of a table takes at most, on the average of a word
_KEPT_ROWS = 12  # rows of a table that are kept on one page with their heading


@dataclass(frozen=True)
class Faces:
    """The names of the two typefaces, as reportlab has them: whoever asks for a paper has registered them."""

    regular: str
    bold: str


@dataclass(frozen=True)
class Heading:
    """A heading within the paper."""

    text: str


@dataclass(frozen=True)
class Said:
    """A paragraph; the headline of a poster is large."""

    text: str
    is_strong: bool = False
    is_large: bool = False


@dataclass(frozen=True)
class Pairs:
    """What is known, as name and value; an empty value says that it is not known."""

    lines: Sequence[tuple[str, str]]


@dataclass(frozen=True)
class Rows:
    """A table.

    Args:
        head: the headings of its columns.
        rows: as many texts each.
        numbers: the places of the columns that are figures.
        empty: what stands there where there are no rows.
    """

    head: Sequence[str]
    rows: Sequence[Sequence[str]]
    numbers: Sequence[int] = ()
    empty: str = "Nothing."


@dataclass(frozen=True)
class Lines:
    """Lines to be filled in by hand."""

    captions: Sequence[str]


Block = Heading | Said | Pairs | Rows | Lines | Chain


@dataclass(frozen=True)
class Paper:
    """One paper.

    Args:
        title: what it is.
        sender: name and address of the workshop.
        day: of the paper.
        blocks: what stands on it.
        band: on top of every page (MOCK, DRAFT, URGENT), or nothing.
        is_letter: US Letter rather than A4.
        language: of its words.
        is_poster: whether it is hung up and read from two metres: no title of its own, everything larger.
    """

    title: str
    sender: str
    day: str
    blocks: Sequence[Block]
    band: str = ""
    is_letter: bool = False
    language: str = "en"
    is_poster: bool = False


def draw_paper(paper: Paper, faces: Faces) -> bytes:
    """Return the paper as a PDF; the same paper is always the same file.

    Args:
        paper: what stands on it.
        faces: what it is set in.
    """
    out = io.BytesIO()
    document = SimpleDocTemplate(
        out, pagesize=LETTER if paper.is_letter else A4, invariant=1, title=paper.title, author=paper.sender, lang=paper.language,
        leftMargin=_MARGIN, rightMargin=_MARGIN, topMargin=(26 if paper.band else 18) * mm, bottomMargin=22 * mm,
    )  # fmt: skip

    def on_page(canvas: Any, _document: Any) -> None:
        _frame(canvas, paper, faces)

    document.build(list(_flowables(paper, faces, document.width)), onFirstPage=on_page, onLaterPages=on_page)
    return out.getvalue()


def _frame(canvas: Any, paper: Paper, faces: Faces) -> None:
    width, height = canvas._pagesize
    if paper.band:
        canvas.setFillColor(_DANGER)
        canvas.rect(0, height - 16 * mm, width, 16 * mm, stroke=0, fill=1)
        canvas.setFillColor(HexColor("#ffffff"))
        canvas.setFont(faces.bold, 18)
        canvas.drawString(_MARGIN + 6, height - 11 * mm, paper.band)
    canvas.setFillColor(_SOFT)
    canvas.setFont(faces.regular, 8)
    canvas.drawString(_MARGIN + 6, _FOOT - 4 * mm, f"{paper.sender}  ·  {paper.title}  ·  {paper.day}"[:150])
    canvas.drawRightString(width - _MARGIN, _FOOT - 4 * mm, str(canvas.getPageNumber()))


def _style(face: str, size: float, **more: Any) -> ParagraphStyle:
    return ParagraphStyle(f"{face}{size}", fontName=face, fontSize=size, leading=size * 1.3, textColor=_INK, **more)


def _text(text: str, style: ParagraphStyle) -> Paragraph:
    return Paragraph(escape(text).replace("\n", "<br/>"), style)


def _flowables(paper: Paper, faces: Faces, width: float) -> list[Flowable]:
    found: list[Flowable] = []
    if not paper.is_poster:
        found.append(_text(paper.title, _style(faces.bold, 20, spaceAfter=2)))
        found.append(_text(f"{paper.sender}. {paper.day}", _style(faces.regular, 9, spaceAfter=10)))
    pen = _Pen(faces, width, _POSTER if paper.is_poster else 1)
    waiting: list[Flowable] = []  # a heading stays with what follows it
    for block in paper.blocks:
        if isinstance(block, Heading):
            waiting = [_text(block.text, _style(faces.bold, 12.5, spaceBefore=8, spaceAfter=4))]
            continue
        drawn = pen.drawn(block)
        if isinstance(block, Rows) and len(block.rows) > _KEPT_ROWS:
            found += [*waiting, *drawn]  # longer than what may be kept on one page
        else:
            found.append(KeepTogether([*waiting, *drawn]))
        waiting = []
    return [*found, *waiting]


class _Pen:
    """Draws blocks in one width and size."""

    def __init__(self, faces: Faces, width: float, scale: float) -> None:
        self._faces, self._width = faces, width
        both = (faces.regular, faces.bold)
        self._plain, self._strong = (_style(face, 10 * scale, spaceAfter=6 * scale) for face in both)
        self._large = _style(faces.bold, 24 * scale, spaceAfter=14)
        self._cell, self._head = (_style(face, 8.5 * scale) for face in both)
        self._figure, self._figure_head = (_style(face, 8.5 * scale, alignment=TA_RIGHT) for face in both)

    def drawn(self, block: Said | Pairs | Rows | Lines | Chain) -> list[Flowable]:
        """Return a block as reportlab draws it."""
        if isinstance(block, Said):
            style = self._large if block.is_large else self._strong if block.is_strong else self._plain
            return [_text(block.text, style)]
        if isinstance(block, Chain):
            return [picture(block, self._width, self._faces.regular, self._faces.bold), Spacer(0, 3 * mm)]
        if isinstance(block, Pairs):
            cells = [[_text(name, self._head), _text(value or "not known", self._cell)] for name, value in block.lines]
            return [_table(cells, [self._width * 0.3, self._width * 0.7])]
        if isinstance(block, Lines):
            lines = [[_text(caption, self._head), ""] for caption in block.captions]
            return [_table(lines, [self._width * 0.42, self._width * 0.58], [11 * mm] * len(lines))]
        return [self._rows(block) if block.rows else _text(block.empty, self._plain)]

    def _rows(self, block: Rows) -> Flowable:
        numbers = set(block.numbers)
        head = [_text(name, self._figure_head if place in numbers else self._head) for place, name in enumerate(block.head)]
        rows = [
            [_text(cell, self._figure if place in numbers else self._cell) for place, cell in enumerate(row)]
            for row in block.rows
        ]
        return _table([head, *rows], _widths(block, self._width), repeat=1)


def _widths(block: Rows, width: float) -> list[float]:
    """Give each column its longest word, so that no day or code is broken, and share out the rest by their usual length."""
    columns = list(zip(block.head, *block.rows, strict=True))
    usual = [3 + min(40, sum(map(len, one)) / len(one)) for one in columns]
    longest = [_PADDING + _LETTER * min(30, max(len(word) for cell in one for word in cell.split() or [""])) for one in columns]
    rest = width - sum(longest)
    if rest < 0:
        return [width * one / sum(longest) for one in longest]
    return [least + rest * share / sum(usual) for least, share in zip(longest, usual, strict=True)]


def _table(cells: list[list[Any]], widths: list[float], heights: list[float] | None = None, repeat: int = 0) -> Table:
    table = Table(cells, colWidths=widths, rowHeights=heights, repeatRows=repeat, hAlign="LEFT", spaceAfter=4 * mm)
    style = [
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("LINEBELOW", (0, 0), (-1, -1), 0.4, _LINE),
        ("LEFTPADDING", (0, 0), (0, -1), 0),
    ]
    if repeat:
        style.append(("LINEBELOW", (0, 0), (-1, 0), 1, _INK))
    table.setStyle(TableStyle([*style, ("TOPPADDING", (0, 0), (-1, -1), 2.5), ("BOTTOMPADDING", (0, 0), (-1, -1), 3)]))
    return table
