"""Random contents in every layout, market and language: placed legally, measured on the raster by an outsider, or a right error.

The outsider is the reader of the PDF with its own outlines, and numpy on the raster; neither knows how the label was placed.
LABELSVC_MANY=250 runs thousands; without it a few for each layout.
"""

import ctypes
import os
import random
from decimal import Decimal

import numpy as np
import pypdfium2
import pypdfium2.raw as pdfium
import pytest
from benchmarks.decoding import clean, varied
from hypothesis import given, settings
from hypothesis import strategies as st
from label_samples import SHELF

from labelsvc.errors import DoesNotFitError
from labelsvc.labels.content import LabelContent, Run
from labelsvc.labels.draw import draw, lay_out
from labelsvc.labels.layout import Layout, Rule, Symbol, Text
from labelsvc.labels.proof import prove
from labelsvc.labels.raster import rasters

MANY = int(os.environ.get("LABELSVC_MANY", "6"))
SAID = {  # letters and words of the language, with those that go highest, lowest and widest
    "en": "pork salt black pepper mustard seed preservative sodium nitrite keep refrigerated cooked WWW mmm gypsy",
    "de": "Schweinefleisch Konservierungsstoff Gewürze Übergewicht Öl Äpfel Natriumnitrit geräuchert Weißwurst",
    "fr": "porc sel épices céleri œuf à conserver au réfrigérateur À consommer dès l'achat Événement naïveté",
    "it": "suino sale spezie può contenere senape conservante nitrito città perché È finocchio",
    "es": "cerdo sal pimentón mostaza conservador nitrito sódico AÑEJO Ñora jamón ibérico código Ángel",
}
# least x-height and least figures of the market (Regulation (EU) 1169/2011 Annex IV and Art 13(3); Directive 76/211/EEC; for the
# US 1/16 inch and the first steps of 9 CFR 317.2(h)(3), from memory)
MARKETS = {
    "eu": (["1.2", "0.9"], ["2", "3", "4", "6"]),
    "gb": (["1.2", "0.9"], ["2", "3", "4", "6"]),
    "us": (["1.5875"], ["1.5875", "3.175"]),
}


@st.composite
def contents(draw_from: st.DrawFn, layout: Layout) -> tuple[LabelContent, str, float]:
    """Draw a content for a layout: words of a language for every text, symbols with random data, sizes of a market."""
    language = draw_from(st.sampled_from(sorted(SAID)))
    minima, figures = MARKETS[draw_from(st.sampled_from(sorted(MARKETS)))]
    chance = random.Random(draw_from(st.integers(0, 2**32)))
    long = draw_from(st.sampled_from([2, 6, 20, 60]))
    known = SAID[language].split()
    elements: dict[str, str | tuple[Run, ...]] = dict(varied(layout, chance).elements)
    for name, element in layout.elements.items():
        if not isinstance(element, Text) or element.says:
            continue
        count = chance.randint(1, 2) if element.one_line else chance.randint(1, long)
        chosen = [chance.choice(known) for _ in range(count)]
        if name == "net_quantity":
            chosen = [f"{chance.randint(1, 2000)}\u00a0g"]
        runs = tuple(Run(word + " ", chance.random() < 0.3) for word in chosen)
        elements[name] = runs if element.kind == "runs" else " ".join(chosen)
    least = Decimal(draw_from(st.sampled_from(minima)))
    heights = {"net_quantity": Decimal(draw_from(st.sampled_from(figures)))} if "net_quantity" in layout.elements else {}
    return LabelContent(elements, {}, least, heights), language, draw_from(st.sampled_from([8.0, 12.0, 11.811]))


def characters(pdf: bytes) -> tuple[str, np.ndarray]:
    """Return the characters of a page that have ink, and left, bottom, right and top of each in mm by the reader's outlines."""
    document = pypdfium2.PdfDocument(pdf)
    text = document[0].get_textpage()
    said, boxes = [], []
    edges = [ctypes.c_double() for _ in range(4)]
    for number in range(text.count_chars()):
        character = chr(pdfium.FPDFText_GetUnicode(text, number))
        if character.isspace() or not pdfium.FPDFText_GetCharBox(text, number, *edges):
            continue
        left, right, bottom, top = (edge.value * 25.4 / 72 for edge in edges)
        said.append(character)
        boxes.append((left, bottom, right, top))
    document.close()
    return "".join(said), np.array(boxes).reshape(-1, 4)


def inside_of_letters(boxes: np.ndarray) -> int:
    """Count pairs of characters that lie over each other; neighbours in a word may, as f and W do."""
    left, bottom, right, top = boxes.T
    wide = np.minimum(right[:, None], right) - np.maximum(left[:, None], left)
    tall = np.minimum(top[:, None], top) - np.maximum(bottom[:, None], bottom)
    return int(np.triu((wide > 0.05) & (tall > 0.05), 2).sum())


def ink_outside(layout: Layout, dots: np.ndarray, dots_per_mm: float) -> int:
    """Count dots of ink outside all boxes of the layout."""
    rest = dots == 0
    boxes = [element.box_mm for element in layout.elements.values() if element.box_mm is not None]
    for x, y, width, height in (*boxes, *(column.box_mm for column in layout.columns.values())):
        left, top = int(x * dots_per_mm) - 1, int(y * dots_per_mm) - 1
        rest[max(0, top) : int((y + height) * dots_per_mm) + 2, max(0, left) : int((x + width) * dots_per_mm) + 2] = False
    return int(rest.sum())


def lowest_x_mm(layout: Layout, said: str, boxes: np.ndarray, dots: np.ndarray, dots_per_mm: float) -> float:
    """Measure the lowest flat letter on the raster: rows of ink within the box that the reader gives for it."""
    lowest = 99.0
    for character, (left, bottom, right, top) in zip(said, boxes, strict=True):
        if character not in "xvwz":
            continue
        columns = slice(round(left * dots_per_mm), max(round(left * dots_per_mm) + 1, round(right * dots_per_mm)))
        rows = slice(round((layout.height_mm - top) * dots_per_mm) - 1, round((layout.height_mm - bottom) * dots_per_mm) + 1)
        ink = (dots[rows, columns] == 0).any(axis=1).sum() / dots_per_mm
        lowest = min(lowest, ink)
    return lowest


@pytest.mark.parametrize("name", SHELF.names())
def test_any_content_is_placed_legally_or_is_refused_with_the_right_words(name: str) -> None:
    layout = SHELF.layout(name)
    fitted = 0

    @given(contents(layout))
    @settings(max_examples=MANY, deadline=None, derandomize=True)
    def check(drawn: tuple[LabelContent, str, float]) -> None:
        nonlocal fitted
        content, language, dots_per_mm = drawn
        refused: DoesNotFitError | None = None
        try:
            placed = lay_out(layout, [content], dots_per_mm=dots_per_mm, language=language)
        except DoesNotFitError as error:
            refused = error
        if refused is not None:
            file, _, element = refused.field.partition(" ")
            assert file == layout.file
            assert element in layout.elements
            assert " mm too wide" in refused.got or " mm too high" in refused.got, refused.message
            return
        fitted += 1
        pdf = draw(placed, title=name, language=language)
        prove(pdf, placed)
        dots = clean(rasters(pdf, dots_per_mm)[0])
        said, boxes = characters(pdf)
        for element, part in layout.elements.items():
            if isinstance(part, Text):
                assert all(word in said for word in content.text(element).split()), element
        assert inside_of_letters(boxes) == 0
        assert ink_outside(layout, dots, dots_per_mm) == 0
        least = float(content.minimum_x_height_mm or 0)
        assert lowest_x_mm(layout, said, boxes, dots, dots_per_mm) >= least - 1e-6

    check()
    assert fitted or MANY < 20


def test_outsider_sees_what_is_wrong() -> None:
    # the measures of this module themselves: letters over each other, ink where no box is, and type that is too low
    assert inside_of_letters(np.array([[0, 0, 1, 1], [9, 9, 10, 10], [0.5, 0.5, 1.5, 1.5]])) == 1
    assert inside_of_letters(np.array([[0, 0, 1, 1], [9, 9, 10, 10], [1.0, 0, 2, 1]])) == 0
    layout = SHELF.layout("marker_strip_100x20")
    dots = np.full((160, 800), 255, np.uint8)
    dots[2, 2] = 0
    assert ink_outside(layout, dots, 8) == 1
    letter = np.full((160, 800), 255, np.uint8)
    letter[80:88, 80:86] = 0  # 8 rows of 0.125 mm
    assert lowest_x_mm(layout, "x", np.array([[10, 9, 10.75, 10]]), letter, 8) == 1.0
    assert not any(isinstance(element, Rule) for element in layout.elements.values())
    assert any(isinstance(element, Symbol) for element in layout.elements.values())
