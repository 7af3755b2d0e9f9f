"""The PDF: bytes, page, fonts, type size and bars on the printer's raster."""

import hashlib
import re
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pypdfium2
import pytest
from label_samples import SALE, SALE_CONTENT, TAG, TAG_CONTENT, one_element, with_elements
from reportlab.pdfbase import pdfmetrics

from labelsvc.errors import LayoutError
from labelsvc.labels.content import LabelContent, Run
from labelsvc.labels.draw import draw, lay_out, render
from labelsvc.labels.layout import Layout
from labelsvc.labels.marks import RectMark, TextMark
from labelsvc.labels.raster import rasters


def test_same_content_gives_the_same_bytes_also_in_another_process() -> None:
    once = render(SALE, [SALE_CONTENT, SALE_CONTENT], title="Sale label", language="en")
    assert render(SALE, [SALE_CONTENT, SALE_CONTENT], title="Sale label", language="en") == once
    script = (
        "import sys, hashlib; from label_samples import *; from labelsvc.labels.draw import render; "
        "print(hashlib.sha256(render(SALE, [SALE_CONTENT, SALE_CONTENT], title='Sale label', language='en')).hexdigest())"
    )
    path = f"{Path(__file__).parent}:{Path(__file__).parents[2]}"
    environment = {"PYTHONPATH": path, "PYTHONHASHSEED": "7"}
    there = subprocess.run([sys.executable, "-c", script], env=environment, capture_output=True, text=True, check=True)
    assert there.stdout.strip() == hashlib.sha256(once).hexdigest()


def test_document_has_title_and_language_and_forbids_scaling() -> None:
    # print-scaling "fit" takes every bar off the printer's grid
    pdf = render(TAG, [TAG_CONTENT], title="Tag P261125A4K", language="en")
    assert re.search(rb"/PrintScaling\s*/None", pdf)
    assert re.search(rb"/Lang\s*\(en\)", pdf)
    document = pypdfium2.PdfDocument(pdf)
    assert document.get_metadata_dict()["Title"] == "Tag P261125A4K"
    document.close()


@pytest.mark.parametrize(("layout", "content"), [(TAG, TAG_CONTENT), (SALE, SALE_CONTENT)], ids=["tag", "sale"])
def test_page_is_exactly_the_stock_and_every_font_is_embedded(layout: Layout, content: LabelContent) -> None:
    pdf = render(layout, [content], title="Label", language="en")
    document = pypdfium2.PdfDocument(pdf)
    width, height = document[0].get_size()
    document.close()
    assert abs(width * 25.4 / 72 - layout.width_mm) < 1e-3
    assert abs(height * 25.4 / 72 - layout.height_mm) < 1e-3
    assert b"Helvetica" not in pdf
    assert pdf.count(b"/Type /FontDescriptor") == pdf.count(b"/FontFile2") >= 2


def test_bold_is_drawn_bold_from_a_font_file_of_its_own() -> None:
    layout = one_element('kind = "runs"\nx_height_mm = { largest = 4, smallest = 4 }')
    inks = []
    for emphasised in (False, True):
        content = LabelContent({"it": (Run("mustard", emphasised),)})
        (raster,) = rasters(render(layout, [content], title="Bold", language="en"), 8)
        inks.append(raster.dots.count(0))
    assert inks[1] > 1.3 * inks[0]
    names = {pdfmetrics.getFont(f"label-{name}").face.name for name in ("regular", "bold", "condensed", "condensed_bold")}
    assert len(names) == 4


@pytest.mark.parametrize("dots_per_mm", [8, 12, 24, 11.811])
@pytest.mark.parametrize("minimum", [0.9, 1.2])
def test_x_on_the_raster_is_never_lower_than_the_minimum(dots_per_mm: float, minimum: float) -> None:
    sizes = f"{{ largest = {minimum}, smallest = {minimum} }}"
    for face in ("regular", "bold"):
        for step in range(5):  # the baseline falls on other parts of a millimetre
            layout = one_element(f'kind = "text"\nface = "{face}"\nx_height_mm = {sizes}', box=f"[2, {2 + step * 0.33}, 56, 20]")
            content = LabelContent({"it": "xvzx"})
            (raster,) = rasters(render(layout, [content], dots_per_mm=dots_per_mm, title="x", language="en"), dots_per_mm)
            rows = [row for row in range(raster.height) if raster.ink((0, row, raster.width, 1))]
            assert len(rows) / dots_per_mm >= minimum - 1e-9, (face, step)


@pytest.mark.parametrize("dots_per_mm", [8, 12, 24, 11.811, 23.622])
def test_every_bar_is_whole_modules_wide_on_the_raster(dots_per_mm: float) -> None:
    labels = lay_out(SALE, [SALE_CONTENT], dots_per_mm=dots_per_mm, language="en")
    (raster,) = rasters(draw(labels, title="Bars", language="en"), dots_per_mm)
    ean, _ = labels[0].symbols
    x, y, width, _ = ean.bars
    line = raster.dots[(y + 5) * raster.width + x : (y + 5) * raster.width + x + width]
    pattern = "".join("1" if line[module * ean.module + dot] == 0 else "0" for module in range(95) for dot in range(ean.module))
    assert pattern == "".join(digit * ean.module for digit in ean.pattern.rows[0])


def test_ink_in_a_quiet_zone_is_refused_whatever_placed_it_there() -> None:
    (label,) = lay_out(TAG, [TAG_CONTENT], language="en")
    x, y, _, _ = label.symbols[0].clear[0]
    with pytest.raises(LayoutError, match=r"^code128: expected a quiet zone without ink, got smudge in it$"):
        draw([replace(label, rects=(RectMark("smudge", ((x, y, 1, 1),)),))], title="Tag", language="en")


def test_quiet_zone_that_leaves_the_label_is_refused() -> None:
    (label,) = lay_out(TAG, [TAG_CONTENT], language="en")
    symbol = replace(label.symbols[0], clear=((-3, 10, 20, 20),))
    with pytest.raises(LayoutError, match=r"^code128: expected its quiet zone on the label, got \(-3, 10, 20, 20\)"):
        draw([replace(label, symbols=(symbol,))], title="Tag", language="en")


def test_document_without_labels_is_an_error() -> None:
    with pytest.raises(LayoutError, match="expected at least one label, got none"):
        render(TAG, [], title="None", language="en")


def test_page_of_a_label_without_symbols_is_drawn() -> None:
    layout = one_element('kind = "text"\nx_height_mm = { largest = 4, smallest = 4 }')
    (raster,) = rasters(render(layout, [LabelContent({"it": "only words"})], title="Words", language="en"), 8)
    assert raster.dots.count(0) > 100


def test_markup_in_words_is_printed_as_it_stands() -> None:
    pdf = render(TAG, [with_elements(TAG_CONTENT, product_name="<b>Salt & pepper</b>")], title="Tag", language="en")
    page = pypdfium2.PdfDocument(pdf)[0]
    assert "<b>Salt & pepper</b>" in page.get_textpage().get_text_range().replace("\r\n", " ")


def test_words_or_another_symbol_in_a_quiet_zone_are_refused() -> None:
    (label,) = lay_out(TAG, [TAG_CONTENT], language="en")
    code, link = label.symbols
    x, y, _, tall = code.clear[1]
    words = TextMark("source", "x", "regular", 30.0, x + 4.0, y + tall // 2)
    with pytest.raises(LayoutError, match=r"^code128: expected a quiet zone without ink, got source in it$"):
        draw([replace(label, texts=(*label.texts, words))], title="Tag", language="en")
    right, down = x - link.bars[0], y - link.bars[1]
    ink = (link.ink[0] + right, link.ink[1] + down, *link.ink[2:])
    rects = tuple((left + right, top + down, wide, high) for left, top, wide, high in link.rects)
    moved = replace(link, ink=ink, rects=rects, clear=())
    with pytest.raises(LayoutError, match=r"^code128: expected a quiet zone without ink, got qr in it$"):
        draw([replace(label, symbols=(code, moved))], title="Tag", language="en")
