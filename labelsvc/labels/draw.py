"""Draws placed labels as a PDF: one page a label, strictly black, vectors on whole printer dots, fonts embedded.

The same content gives the same bytes (no clock, no chance in the file). Rectangles are written as whole numbers of dots
inside one scaled coordinate system, so no rounding can move a bar off the grid.
"""

from __future__ import annotations

import io
import math
import threading
from collections.abc import Iterable, Sequence
from functools import cache, lru_cache

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas

from labelsvc.errors import LayoutError
from labelsvc.labels.content import LabelContent
from labelsvc.labels.fonts import FILES, Face, face, font_file
from labelsvc.labels.layout import Layout
from labelsvc.labels.marks import Grid, Placed, Rect, SymbolMark, TextMark
from labelsvc.labels.place import place
from labelsvc.labels.sheet import Page, Sheet, Spot, arrange, extent
from labelsvc.labels.symbols import encode

_REGISTERING = threading.Lock()
_POINTS_PER_MM = 72 / 25.4
_FIGURE_MODULES = 7  # one figure of an ean13 stands under the seven modules that carry it
_FIGURE_HEIGHT = 8.3  # modules: 2.75 mm at a module of 0.33 mm
_TextKey = tuple[str, str, float, float, int, float, float]  # words, face, em, place; height and dot of the label
_PDF_VERSION = (1, 6)  # the first that knows PrintScaling (ISO 32000-1, table 150)
_FIRST_FIGURE_LEFT = -10  # modules from the first guard bar: the first figure stands in the quiet zone, as the standard draws it


def render(
    layout: Layout, contents: Sequence[LabelContent], *, dots_per_mm: float | None = None, title: str, language: str
) -> bytes:
    """Return a PDF with one page a label.

    Args:
        layout: where things go.
        contents: what each label says.
        dots_per_mm: of the printer; the layout's own if None.
        title: of the document.
        language: of the document and of the layout's captions (``en``, ``de`` ...).

    Raises:
        LayoutError: something does not fit; names the element and how many mm.
        CodeError: a symbol cannot carry its data.
    """
    return draw(lay_out(layout, contents, dots_per_mm=dots_per_mm, language=language), title=title, language=language)


def lay_out(layout: Layout, contents: Iterable[LabelContent], *, dots_per_mm: float | None = None, language: str) -> list[Placed]:
    """Return the placed labels that ``draw`` draws and ``prove`` compares with; arguments and errors as of ``render``."""
    grid = Grid(layout.dots_per_mm if dots_per_mm is None else dots_per_mm)
    placed = []
    for content in contents:
        patterns = {
            name: encode(element.symbol, content.text(name), f"{layout.file} {name}")
            for name, element in layout.symbols()
            if content.runs(name)
        }
        placed.append(place(layout, content, patterns, grid=grid, language=language))
    return placed


def draw(labels: Iterable[Placed], *, title: str, language: str, sheet: Sheet | None = None, start: int = 1) -> bytes:
    """Return a PDF with one page for each placed label, or with sheets of them.

    Args:
        labels: at least one; without a sheet each page has its label's size.
        title: of the document.
        language: of the document.
        sheet: the sheet they stand on, or None.
        start: the first position on the first sheet.

    Raises:
        LayoutError: no label, ink in a symbol's quiet zone, or labels that are not the sheet's.
    """
    _register_fonts()
    out = io.BytesIO()
    canvas = Canvas(out, invariant=1, initialFontName=_font_name("regular"), lang=language, pdfVersion=_PDF_VERSION)
    canvas.setTitle(title)
    canvas.setCreator("labelsvc")
    canvas.setAuthor("")
    canvas.setSubject("")
    canvas.setViewerPreference("PrintScaling", "None")
    pages, written = 0, dict[_TextKey, str]()
    for page in arrange(labels, sheet, start):
        _page(canvas, page, written)
        pages += 1
    if not pages:
        raise LayoutError("contents", "at least one label", "none")
    canvas.save()
    return out.getvalue()


def font_name(face: str) -> str:
    """Return the name under which reportlab has a typeface of the labels, for other papers in the same face.

    Args:
        face: one of ``fonts.FILES``.
    """
    _register_fonts()
    return _font_name(face)


def _register_fonts() -> None:
    with _REGISTERING:
        _register_once()


@cache
def _register_once() -> None:
    """Give reportlab the font files once, under our own names, and see that each name leads to its own face.

    reportlab keeps the first file of a PostScript name and of a registered name without a word: bold would print regular.
    """
    seen: dict[bytes, str] = {}
    for name in FILES:
        font = TTFont(_font_name(name), str(font_file(name)), asciiReadable=0)
        pdfmetrics.registerFont(font)
        other = seen.setdefault(font.face.name, name)
        if other != name or pdfmetrics.getFont(_font_name(name)) is not font:
            raise LayoutError(f"typeface {name}", "a font file with a PostScript name of its own", f"that of {other}")


def _font_name(name: str) -> str:
    return f"label-{name}"


def _page(canvas: Canvas, page: Page, written: dict[_TextKey, str]) -> None:
    height = page.height_mm * _POINTS_PER_MM
    size = (page.width_mm * _POINTS_PER_MM, height)
    canvas.setPageSize(size if page.rotation in (0, 180) else size[::-1])  # reportlab asks for the size as it is seen
    canvas.setPageRotation(page.rotation)
    canvas.setFillGray(0)
    for spot, label in page.labels:
        _refuse_squeezed(label)
        if spot == Spot() and label.height_mm == page.height_mm:
            _label(canvas, label, written)
            continue
        canvas.saveState()
        canvas.transform(*_onto(spot, label, height))
        _label(canvas, label, written)
        canvas.restoreState()
    canvas.showPage()


def _onto(spot: Spot, label: Placed, page_height: float) -> tuple[float, ...]:
    """Return the matrix that takes a label to its spot, so that its dots fall on those of the page, in points."""
    dot, tall = _POINTS_PER_MM / label.grid.dots_per_mm, label.height_mm * _POINTS_PER_MM
    x, y = spot.x * dot, page_height - spot.y * dot
    if spot.turned:
        return 0, -1, 1, 0, x + extent(label)[1] * dot - tall, y
    return 1, 0, 0, 1, x, y - tall


def _label(canvas: Canvas, label: Placed, written: dict[_TextKey, str]) -> None:
    """Draw a label. reportlab's one private name that is used here is its list of operators.

    A path of whole numbers is exact, and five times faster than calls. A text that stood at the same place of an earlier label
    of the document has the same operators, because a document has one subset of each font; most labels of a batch differ in
    little.
    """
    height = label.height_mm * _POINTS_PER_MM
    dot = _POINTS_PER_MM / label.grid.dots_per_mm
    rects = [rect for mark in label.rects for rect in mark.rects] + [rect for mark in label.symbols for rect in mark.rects]
    if rects:
        operators = "\n".join([f"{x} {y} {width} {tall} re" for x, y, width, tall in rects])
        canvas._code.append(f"q {dot:.8f} 0 0 -{dot:.8f} 0 {height:.6f} cm\n{operators}\nf Q")
    for mark in [*label.texts, *(figure for symbol in label.symbols for figure in _figures(symbol))]:
        key = (mark.text, mark.face, mark.em, mark.x, mark.baseline, height, dot)
        code = written.get(key)
        if code is None:
            text = canvas.beginText(mark.x * dot, height - mark.baseline * dot)
            text.setFont(_font_name(mark.face), mark.em * dot)
            text.textOut(mark.text)
            code = written[key] = str(text.getCode())
        canvas._code.append(code)


def _figures(symbol: SymbolMark) -> list[TextMark]:
    """Return the readable line of an ean13: one figure in the left quiet zone, six under each half, each under its bars."""
    if symbol.pattern.kind != "ean13":
        return []
    regular, module = face("regular"), symbol.module
    x, y, _, height = symbol.bars
    em = _FIGURE_HEIGHT * module / regular.cap_height
    baseline = y + height + module + round(_FIGURE_HEIGHT * module)
    starts = [_FIRST_FIGURE_LEFT, *(3 + 7 * i for i in range(6)), *(50 + 7 * i for i in range(6))]
    return [
        TextMark(symbol.element, figure, regular.name, em, x + start * module + _centred(figure, regular, em, module), baseline)
        for figure, start in zip(symbol.pattern.data, starts, strict=True)
    ]


def _centred(figure: str, regular: Face, em: float, module: int) -> float:
    return (_FIGURE_MODULES * module - regular.width(figure) * em) / 2


def _refuse_squeezed(label: Placed) -> None:
    """Refuse a label with any ink in the quiet zone of a symbol, or a quiet zone beyond the edge, whatever placed it there."""
    width, height = (label.grid.dots(mm) for mm in (label.width_mm, label.height_mm))
    inked = [(mark.element, rect) for mark in label.rects for rect in mark.rects]
    inked += [(mark.element, mark.ink) for mark in label.symbols]
    inked += [(mark.element, _ink_of(mark)) for mark in label.texts]
    for symbol in label.symbols:
        for clear in symbol.clear:
            x, y, wide, tall = clear
            if x < 0 or y < 0 or x + wide > width or y + tall > height:
                raise LayoutError(symbol.element, "its quiet zone on the label", f"{clear} of {width} x {height} dots")
            for element, (left, top, across, down) in inked:
                if left < x + wide and x < left + across and top < y + tall and y < top + down:
                    raise LayoutError(symbol.element, "a quiet zone without ink", f"{element} in it")


@lru_cache(maxsize=1024)
def _ink_of(mark: TextMark) -> Rect:
    """Return the rectangle of whole dots around the ink of a text."""
    low, high = face(mark.face).reach(mark.text)
    left, top = math.floor(mark.x), math.floor(mark.baseline - high * mark.em)
    right = math.ceil(mark.x + face(mark.face).width(mark.text) * mark.em)
    return left, top, right - left, math.ceil(mark.baseline + low * mark.em) - top
