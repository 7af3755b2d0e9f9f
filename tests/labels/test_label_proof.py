"""The proof: every symbol decoded by an independent reader, and every fault it must find."""

import io
import random
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

import pytest
import zxingcpp
from label_samples import SALE, SALE_CONTENT, TAG, TAG_CONTENT, one_element, random_sale, random_tag, with_elements
from reportlab.pdfgen.canvas import Canvas

from labelsvc.errors import LayoutError
from labelsvc.labels.content import LabelContent
from labelsvc.labels.draw import draw, lay_out
from labelsvc.labels.layout import Layout
from labelsvc.labels.layout_file import parse_layout
from labelsvc.labels.marks import Placed, RectMark, SymbolKind, TextMark
from labelsvc.labels.proof import prove
from labelsvc.labels.raster import rasters
from labelsvc.labels.symbols import encode

SET_82 = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789!\"%&'()*+,-./:;<=>?_"
WIDE = parse_layout(
    """
title = "GS1-128 across 180 mm"
purpose = "case_label"
width_mm = 180
height_mm = 20
edge_margin_mm = 1
dots_per_mm = 8
minimum_x_height_mm = 1.2
[elements.it]
kind = "symbol"
symbol = "gs1_128"
priority = 1
box_mm = [1, 1, 178, 18]
module_mm = { smallest = 0.25, target = 0.25, largest = 0.25 }
""",
    "wide.toml",
)


def drawn(layout: Layout, contents: list[LabelContent], dots_per_mm: float) -> tuple[bytes, list[Placed]]:
    labels = lay_out(layout, contents, dots_per_mm=dots_per_mm, language="en")
    return draw(labels, title="Labels", language="en"), labels


@pytest.mark.parametrize("dots_per_mm", [8, 12])
@pytest.mark.parametrize(("layout", "content"), [(TAG, random_tag), (SALE, random_sale)], ids=["tag", "sale"])
def test_random_labels_all_decode_to_exactly_their_content(
    layout: Layout, content: Callable[[random.Random], LabelContent], dots_per_mm: float
) -> None:
    chance = random.Random(f"{layout.file} {dots_per_mm}")
    contents = [content(chance) for _ in range(60)]
    proof = prove(*drawn(layout, contents, dots_per_mm), dots_per_mm)
    linear, identifier = ("code128", "]C0") if layout is TAG else ("ean13", "]E0")
    for page, said in zip(proof.pages, contents, strict=True):
        # compared with the content itself, not with what the placing says it encoded
        assert set(page.symbols) == {(identifier, said.text(linear).encode()), ("]Q1", said.text("qr").encode())}
        assert page.ink_in_hole == page.ink_in_quiet_zones == 0


def test_gs1_128_with_separators_and_odd_runs_of_digits_decodes_exactly() -> None:
    # the drawing library's own Code 128 prints 10ABC<FNC1>21123 as ..1123: a digit lost under a valid check character
    chance = random.Random(128)
    scans = ["]C110ABC\x1d21123", "]C10109521234543213310300012510A"]
    for _ in range(60):
        lot = "".join(chance.choice(SET_82) for _ in range(chance.randrange(1, 13)))
        serial = "".join(chance.choice("0123456789") for _ in range(chance.randrange(1, 10)))
        scans.append(f"]C110{lot}\x1d21{serial}")
    proof = prove(*drawn(WIDE, [LabelContent({"it": scan}) for scan in scans], 8))
    assert [page.symbols for page in proof.pages] == [(("]C1", scan[3:].encode()),) for scan in scans]


@pytest.mark.parametrize("dots_per_mm", [8, 12, 24, 11.811, 23.622])
def test_proof_gives_the_figures_it_measured(dots_per_mm: float) -> None:
    (page,) = prove(*drawn(SALE, [SALE_CONTENT], dots_per_mm)).pages
    # retail at a till: ean13 0.264 to 0.660 mm, qr 0.396 to 0.990 mm (GS1 General Specifications, tables 5.12.3.1)
    assert 0.264 <= page.module_mm["ean13"] <= 0.66
    assert 0.396 <= page.module_mm["qr"] <= 0.99
    assert page.bar_height_mm["ean13"] >= 18.28
    assert page.notes == ()
    assert page.words > 20
    assert page.smallest_x_mm is not None
    assert 1.195 <= page.smallest_x_mm < 1.4


def test_tag_has_bars_ten_millimetres_high_on_modules_of_a_quarter_millimetre_or_more() -> None:
    for dots_per_mm in (8, 12, 24):
        (page,) = prove(*drawn(TAG, [TAG_CONTENT], dots_per_mm)).pages
        assert page.bar_height_mm["code128"] >= 10
        assert page.module_mm["code128"] >= 0.25


def test_label_at_eight_dots_still_decodes_on_a_printer_of_twelve() -> None:
    pdf, labels = drawn(SALE, [SALE_CONTENT], 8)
    assert prove(pdf, labels, 12).dots_per_mm == 12


def test_proof_of_another_content_fails() -> None:
    pdf, _ = drawn(TAG, [TAG_CONTENT], 8)
    _, other = drawn(TAG, [with_elements(TAG_CONTENT, code128="P261125A4M")], 8)
    with pytest.raises(LayoutError, match=r"^page 1 code128: expected P261125A4M \(\]C0\) read back, got P261125A4K \(\]C0\)$"):
        prove(pdf, other)


def test_proof_with_a_page_too_many_or_no_pdf_fails() -> None:
    pdf, labels = drawn(TAG, [TAG_CONTENT, TAG_CONTENT], 8)
    with pytest.raises(LayoutError, match=r"^pages: expected 1 pages, got 2$"):
        prove(pdf, labels[:1])
    with pytest.raises(LayoutError, match=r"^pdf: expected a PDF document"):
        prove(b"not a PDF", labels)
    with pytest.raises(LayoutError, match=r"^expected: expected at least one label"):
        prove(pdf, [])


def test_proof_finds_a_symbol_that_was_cut_off() -> None:
    (label,) = lay_out(SALE, [SALE_CONTENT], dots_per_mm=8, language="en")
    ean, code = label.symbols
    maimed = replace(label, symbols=(replace(ean, rects=ean.rects[:-4]), code))
    with pytest.raises(
        LayoutError, match=r"^page 1 ean13: expected 9521234543213 \(\]E0\) read back, got nothing that reads there$"
    ):
        prove(draw([maimed], title="Cut", language="en"), [label])


def test_letters_that_read_as_bars_on_one_level_row_only_do_not_stop_a_sound_label() -> None:
    # found by random contents: at an x of 2.5 mm and 12 dots, two rows through these stems are a number with its check digit
    layout = one_element('kind = "text"\nx_height_mm = { largest = 2.5, smallest = 2.5 }')
    pdf, labels = drawn(layout, [LabelContent({"it": "Weißwurst Weißwurst"})], 12)
    (raster,) = rasters(pdf, 12)
    image = memoryview(raster.dots).cast("B", (raster.height, raster.width))
    assert [(one.symbology_identifier, one.bytes) for one in zxingcpp.read_barcodes(image)] == [("]E0", b"6277301818717")]
    (page,) = prove(pdf, labels).pages
    assert page.symbols == ()
    assert page.left_aside == (("]E0", b"6277301818717"),)


@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize(
    ("kind", "data", "module", "height"),
    [
        ("ean13", "9521234543213", 2, 100),
        ("ean13", "9521234543213", 3, 8),  # 1 mm high, 36 mm long: a line of light two degrees off level crosses every bar
        ("ean13", "9521234543213", 3, 160),
        ("code128", "P261125A4K", 2, 80),
        ("qr", "https://example.com/", 3, 3),
    ],
)
def test_symbol_that_stands_where_none_was_placed_is_refused(
    kind: SymbolKind, data: str, module: int, height: int, turned: bool
) -> None:
    (label,) = lay_out(TAG, [TAG_CONTENT], dots_per_mm=8, language="en")
    bare = replace(label, texts=(), symbols=(), rects=())
    pattern = encode(kind, data, "stray")
    dark = [
        (100 + column * module, 300 + row * height, module, height)
        for row, modules in enumerate(pattern.rows)
        for column, bit in enumerate(modules)
        if bit == "1"
    ]
    stray = RectMark("stray", tuple((y, x, tall, wide) if turned else (x, y, wide, tall) for x, y, wide, tall in dark))
    said = rf"{data} \(\]..\) at \d+ to \d+ mm from the left, \d+ to \d+ mm from the top\. Letters that read as bars"
    with pytest.raises(LayoutError, match=rf"^page 1 symbols: expected none but those of the layout, got {said}"):
        prove(draw([replace(bare, rects=(stray,))], title="Stray", language="en"), [bare])


def test_symbol_over_a_placed_one_is_a_wrong_reading_of_it() -> None:
    (label,) = lay_out(SALE, [SALE_CONTENT], dots_per_mm=8, language="en")
    ean, code = label.symbols
    other = replace(ean, pattern=replace(ean.pattern, reads=b"9521234543220"))
    expected = r"^page 1 ean13: expected 9521234543220 \(\]E0\) read back, got 9521234543213 \(\]E0\)$"
    with pytest.raises(LayoutError, match=expected):
        prove(draw([label], title="Other", language="en"), [replace(label, symbols=(other, code))])
    # the number it should have, but at another place
    moved = replace(ean, ink=(0, 0, 40, 40))
    with pytest.raises(LayoutError, match=r"^page 1 ean13: expected 9521234543213 \(\]E0\) read back, got nothing"):
        prove(draw([label], title="Moved", language="en"), [replace(label, symbols=(moved, code))])


def test_proof_finds_ink_in_the_hole_and_in_a_quiet_zone() -> None:
    (label,) = lay_out(TAG, [TAG_CONTENT], dots_per_mm=8, language="en")
    speck = RectMark("speck", ((30 * 8, 6 * 8, 1, 1),))
    with pytest.raises(LayoutError, match=r"^page 1 hole: expected no ink around it, got 1 dots of ink$"):
        prove(draw([replace(label, rects=(*label.rects, speck))], title="Hole", language="en"), [label])
    near = replace(label.symbols[1], clear=(label.symbols[1].bars,))
    with pytest.raises(LayoutError, match=r"^page 1 quiet zones: expected no ink in them, got [0-9]+ dots of ink$"):
        prove(draw([label], title="Quiet", language="en"), [replace(label, symbols=(label.symbols[0], near))])


def test_proof_finds_words_that_are_missing_from_the_pdf() -> None:
    (label,) = lay_out(TAG, [TAG_CONTENT], dots_per_mm=8, language="en")
    more = TextMark("allergens", "walnut", "bold", 20.0, 30.0, 700)
    with pytest.raises(LayoutError, match=r"^page 1 allergens: expected the words 'walnut', got a PDF without them$"):
        prove(draw([label], title="Words", language="en"), [replace(label, texts=(*label.texts, more))])


def test_hole_of_the_tag_and_its_margin_have_no_ink() -> None:
    pdf, _ = drawn(TAG, [TAG_CONTENT], 12)
    (raster,) = rasters(pdf, 12)
    # centre 30, 6.5 mm, radius 4 mm: counted dot by dot, apart from how the proof counts
    inside = [
        raster.dots[row * raster.width + column]
        for row in range(raster.height)
        for column in range(raster.width)
        if ((column + 0.5) / 12 - 30) ** 2 + ((row + 0.5) / 12 - 6.5) ** 2 < 16
    ]
    assert len(inside) > 7000
    assert set(inside) == {255}
    assert (raster.width, raster.height) == (720, 1440)


@pytest.mark.parametrize("dots_per_mm", [203, 0, float("nan")])
def test_dots_per_inch_given_as_dots_per_mm_are_refused(dots_per_mm: float) -> None:
    with pytest.raises(LayoutError, match=r"^dots_per_mm: expected a printer of 5 to 100 dots per mm, got"):
        drawn(TAG, [TAG_CONTENT], dots_per_mm)


def test_proof_finds_grey_ink() -> None:
    out = io.BytesIO()
    canvas = Canvas(out, pagesize=(170, 340))
    canvas.setFillGray(0.2)
    canvas.rect(20, 20, 50, 50, stroke=0, fill=1)
    canvas.save()
    with pytest.raises(LayoutError, match="expected black ink only"):
        rasters(out.getvalue(), 8)


def test_figures_under_the_bars_are_the_number_in_the_bars() -> None:
    (label,) = lay_out(SALE, [SALE_CONTENT], dots_per_mm=8, language="en")
    ean = label.symbols[0]
    wrong = replace(label, symbols=(replace(ean, pattern=replace(ean.pattern, data="9521234543210")), label.symbols[1]))
    with pytest.raises(LayoutError, match=r"^page 1 ean13: expected the words '9521234543213', got a PDF without them$"):
        prove(draw([wrong], title="Figures", language="en"), [label])


def test_bars_laid_like_rungs_decode_with_dead_dots_of_the_print_head() -> None:
    pdf, labels = drawn(TAG, [TAG_CONTENT], 8)
    (raster,) = rasters(pdf, 8)
    chance = random.Random(8)
    for _ in range(20):
        dead = set(chance.sample(range(raster.width), 10))
        row = bytes(255 if column in dead else 0 for column in range(raster.width)) * raster.height
        worn = bytes(dot | mask for dot, mask in zip(raster.dots, row, strict=True))
        image = memoryview(worn).cast("B", (raster.height, raster.width))
        read = [symbol.bytes for symbol in zxingcpp.read_barcodes(image) if symbol.symbology_identifier == "]C0"]
        assert read == [labels[0].symbols[0].pattern.reads]


def test_labels_drawn_and_proved_in_four_threads_at_once_are_all_the_same() -> None:
    def issue(_: int) -> bytes:
        pdf, labels = drawn(SALE, [SALE_CONTENT], 8)
        prove(pdf, labels)
        return pdf

    with ThreadPoolExecutor(4) as threads:
        assert len(set(threads.map(issue, range(24)))) == 1


def test_proof_finds_words_smaller_than_the_minimum() -> None:
    (label,) = lay_out(SALE, [SALE_CONTENT], dots_per_mm=8, language="en")
    # an em of 20 dots is 2.5 mm, its x 0.527 of that, 1.3 mm; at 16 dots it is 1.05 mm
    small = TextMark("storage", "extra", "regular", 16.0, 300.0, 570)
    with pytest.raises(LayoutError, match=r"^page 1 words: expected letters whose x is 1\.2 mm or more, got 1\.05\d mm$"):
        prove(draw([replace(label, texts=(*label.texts, small))], title="Small", language="en"), [label])
