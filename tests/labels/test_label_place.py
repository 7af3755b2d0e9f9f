"""Placing: what fits, what shrinks, and what is said where it does not fit."""

from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from label_samples import INGREDIENTS, SALE, SALE_CONTENT, TAG, TAG_CONTENT, one_element, with_elements

from labelsvc.errors import LayoutError
from labelsvc.labels.content import LabelContent, Run
from labelsvc.labels.draw import lay_out
from labelsvc.labels.fonts import face
from labelsvc.labels.layout import Layout
from labelsvc.labels.marks import Placed, Rect

RESOLUTIONS = [8, 12, 24, 11.811, 23.622]


def placed(layout: Layout, content: LabelContent, dots_per_mm: float = 8, language: str = "en") -> Placed:
    (label,) = lay_out(layout, [content], dots_per_mm=dots_per_mm, language=language)
    return label


def said(label: Placed, element: str) -> list[str]:
    return [mark.text for mark in label.texts if mark.element == element]


def x_heights_mm(label: Placed) -> list[float]:
    return [mark.em * face(mark.face).x_height / label.grid.dots_per_mm for mark in label.texts]


def ink_boxes(label: Placed) -> list[tuple[str, float, float, float, float]]:
    """Return left, top, right and bottom of the ink of each text mark, by the measures of the face."""
    boxes = []
    for mark in label.texts:
        below, above = face(mark.face).reach(mark.text)
        right = mark.x + face(mark.face).width(mark.text) * mark.em
        boxes.append((mark.element, mark.x, mark.baseline - above * mark.em, right, mark.baseline + below * mark.em))
    return boxes


@pytest.mark.parametrize("dots_per_mm", RESOLUTIONS)
@pytest.mark.parametrize(("layout", "content"), [(TAG, TAG_CONTENT), (SALE, SALE_CONTENT)], ids=["tag", "sale"])
def test_long_content_fits_at_the_legal_x_height_without_touching(
    layout: Layout, content: LabelContent, dots_per_mm: float
) -> None:
    label = placed(layout, content, dots_per_mm)
    assert min(x_heights_mm(label)) >= 1.2
    boxes = ink_boxes(label)
    for number, (name, left, top, right, bottom) in enumerate(boxes):
        assert left >= layout.edges.left * dots_per_mm - 1, name
        assert right <= (layout.width_mm - layout.edges.left) * dots_per_mm + 1, name
        for other, other_left, other_top, other_right, other_bottom in boxes[:number]:
            apart = (
                right <= other_left + 0.5 or other_right <= left + 0.5 or bottom <= other_top + 0.5 or other_bottom <= top + 0.5
            )
            assert apart, (name, other)


def test_every_word_of_the_content_is_placed_in_reading_order() -> None:
    label = placed(SALE, SALE_CONTENT)
    for name in ("food_name", "ingredients", "storage", "operator", "cooking"):
        assert "".join(said(label, name)).replace(" ", "") == SALE_CONTENT.text(name).replace(" ", "")
    order = list(dict.fromkeys(mark.element for mark in label.texts))
    assert order == [name for name in SALE.elements if name in order]


def test_allergens_are_bold_and_commas_between_them_are_not() -> None:
    label = placed(SALE, SALE_CONTENT, 12)
    bold = [mark.text for mark in label.texts if mark.element == "ingredients" and "bold" in mark.face]
    assert bold == ["sulphites", "milk", "mustard", "celery", "milk"]


def test_texts_of_a_column_have_one_size_and_all_text_shrinks_together() -> None:
    short = placed(SALE, with_elements(SALE_CONTENT, ingredients="Ingredients: pork, salt.", cooking="", statements=""))
    sizes = {round(mark.em, 6) for mark in short.texts if mark.element in ("ingredients", "storage", "operator")}
    long = placed(SALE, SALE_CONTENT)
    shrunk = {round(mark.em, 6) for mark in long.texts if mark.element in ("ingredients", "storage", "operator")}
    assert len(sizes) == len(shrunk) == 1
    assert max(shrunk) < min(sizes)


def test_condensed_face_is_the_last_step_before_the_text_does_not_fit() -> None:
    layout = one_element('kind = "text"\none_line = true\nx_height_mm = { largest = 2, smallest = 1.5 }', box="[2, 2, 30, 5]")
    # "n" is 0.586 em wide in Fira Sans Regular and 0.527 in Condensed, by FreeType; 1.5 mm of x is 12 dots, an em of 22.8:
    # 17 regular ones need 227 of 240 dots and 18 need 240.3; 19 condensed ones need 228
    faces = {count: {mark.face for mark in placed(layout, LabelContent({"it": "n" * count})).texts} for count in (17, 18, 19)}
    assert faces == {17: {"regular"}, 18: {"condensed"}, 19: {"condensed"}}


def test_text_too_wide_at_its_minimum_names_element_and_millimetres() -> None:
    layout = one_element('kind = "text"\none_line = true\nface = "bold"\ncap_height_mm = { largest = 9, smallest = 6 }')
    # a capital H of Fira Sans Condensed Bold is 0.602 em wide, by FreeType; 6 mm of capitals is 48 dots, but its regular
    # has the lower capitals, 0.688 em, so the em is 48 / 0.688 = 69.77: 14 x 0.602 x 69.77 = 588.0, in whole dots 589
    with pytest.raises(LayoutError) as caught:
        placed(layout, LabelContent({"it": "H" * 14}))
    assert caught.value.message == (
        "one.toml it: expected text that fits 56.0 x 26.0 mm at the smallest height of capitals, 6.00 mm, "
        "got 73.6 mm wide, 17.6 mm too wide"
    )


def test_text_too_high_at_its_minimum_names_the_element_that_crosses_the_edge() -> None:
    content = with_elements(SALE_CONTENT, storage="Keep refrigerated and away from light. " * 30)
    with pytest.raises(
        LayoutError, match=r"^sale_label_70x100\.toml storage: .*, 1\.25 mm, got [0-9.]+ mm high, [0-9.]+ mm too high$"
    ):
        placed(SALE, content)


def test_minimum_of_the_content_is_kept_where_the_layout_would_go_lower() -> None:
    # the layout's columns may go down to 0.9 mm; the legal 1.2 mm is ten dots of 0.125 mm, the 0.9 mm of small packs eight
    content = with_elements(SALE_CONTENT, ingredients=(*INGREDIENTS, *INGREDIENTS))
    with pytest.raises(LayoutError, match="too high"):
        placed(SALE, content)
    small = placed(SALE, replace(content, minimum_x_height_mm=Decimal("0.9")))
    assert 1.0 - 1e-9 <= min(x_heights_mm(small)) < 1.2


@pytest.mark.parametrize(("asked", "quantity"), [(2, "45 g"), (3, "120 g"), (4, "850 g"), (4, "1000 g")])
def test_figures_of_the_net_quantity_are_as_high_as_asked(asked: int, quantity: str) -> None:
    # heights of Directive 76/211/EEC Annex I 3.1 for these weights
    content = replace(with_elements(SALE_CONTENT, net_quantity=quantity), smallest_mm={"net_quantity": Decimal(asked)})
    (mark,) = (mark for mark in placed(SALE, content).texts if mark.element == "net_quantity")
    assert mark.em * face(mark.face).figure_height / 8 >= asked


def test_figures_asked_higher_than_the_box_allows_are_an_error_with_millimetres() -> None:
    content = replace(with_elements(SALE_CONTENT, net_quantity="1250 g"), smallest_mm={"net_quantity": Decimal(8)})
    with pytest.raises(LayoutError, match=r"net_quantity: .*capitals, 8\.\d\d mm, got .* mm too"):
        placed(SALE, content)


def test_missing_glyph_names_element_and_character() -> None:
    with pytest.raises(LayoutError, match=r"tag_60x120\.toml product_name: .*U\+202F"):
        placed(TAG, with_elements(TAG_CONTENT, product_name="Jambon\u202fsec"))


def test_text_for_an_element_the_layout_does_not_have_is_refused_not_dropped() -> None:
    with pytest.raises(LayoutError, match=r"^hanging_tag_60x120\.toml storage: expected one of .*, got Keep cool$"):
        placed(TAG, with_elements(TAG_CONTENT, storage="Keep cool"))
    assert said(placed(TAG, with_elements(TAG_CONTENT, storage="")), "storage") == []


def test_element_without_content_is_skipped_or_an_error_as_the_layout_says() -> None:
    label = placed(TAG, with_elements(TAG_CONTENT, status="", qr="", allergens=()))
    assert said(label, "status") == []
    assert not [mark for mark in label.rects if mark.element == "status"]
    assert [symbol.element for symbol in label.symbols] == ["code128"]
    with pytest.raises(LayoutError, match=r"product_name: expected words, got none"):
        placed(TAG, with_elements(TAG_CONTENT, product_name=" "))
    with pytest.raises(LayoutError, match=r"code128: expected data to encode, got none"):
        placed(TAG, with_elements(TAG_CONTENT, code128=""))


def test_emphasis_in_an_element_of_plain_text_is_refused_not_lost() -> None:
    with pytest.raises(LayoutError, match=r"storage: expected plain text"):
        placed(SALE, with_elements(SALE_CONTENT, storage=(Run("Keep "), Run("cool", True))))


def test_caption_is_in_the_language_or_english_or_what_the_content_says() -> None:
    assert said(placed(TAG, TAG_CONTENT, language="de"), "stop_at") == ["STOPP BEI", "1043 g"]
    assert said(placed(TAG, TAG_CONTENT, language="pl"), "stop_at") == ["STOP AT", "1043 g"]
    own = replace(TAG_CONTENT, captions={"stop_at": "HALT", "weigh_ins": ""})
    assert said(placed(TAG, own, language="de"), "stop_at") == ["HALT", "1043 g"]
    assert said(placed(TAG, own), "weigh_ins") == []


@pytest.mark.parametrize("language", ["en", "de", "fr", "it", "es"])
@pytest.mark.parametrize("dots_per_mm", RESOLUTIONS)
def test_captions_of_the_tag_fit_in_every_language(language: str, dots_per_mm: float) -> None:
    content = with_elements(
        TAG_CONTENT, not_before="30.09.2027", stop_at="12\u00a0450 g", cured_on="30.09.2026", strung_on="30.09.2026"
    )
    label = placed(TAG, content, dots_per_mm, language)
    assert min(x_heights_mm(label)) >= 1.2


def test_every_rectangle_and_baseline_is_on_whole_dots_inside_the_stock() -> None:
    for dots_per_mm in RESOLUTIONS:
        for layout, content in ((TAG, TAG_CONTENT), (SALE, SALE_CONTENT)):
            label = placed(layout, content, dots_per_mm)
            rects: list[Rect] = [rect for mark in (*label.rects, *label.symbols) for rect in mark.rects]
            assert all(isinstance(number, int) for rect in rects for number in rect)
            assert all(isinstance(mark.baseline, int) for mark in label.texts)
            width, height = layout.width_mm * dots_per_mm, layout.height_mm * dots_per_mm
            assert all(x >= 0 and y >= 0 and x + wide <= width and y + tall <= height for x, y, wide, tall in rects)


SYMBOL = 'kind = "symbol"\nsymbol = "code128"\nmodule_mm = { smallest = 0.25, target = 0.5, largest = 0.6 }'


@pytest.mark.parametrize(("dots_per_mm", "module"), [(8, 2), (12, 4), (24, 8), (11.811, 4), (23.622, 8)])
def test_module_is_the_most_whole_dots_that_fit_the_box(dots_per_mm: float, module: int) -> None:
    # "P261125A4K" is 154 modules with its quiet zones; 56 mm / 154 = 0.364 mm: 2.9, 4.4, 8.7, 4.3 and 8.6 dots
    (symbol,) = placed(one_element(SYMBOL), LabelContent({"it": "P261125A4K"}), dots_per_mm).symbols
    assert symbol.module == module


def test_symbol_too_wide_at_its_smallest_module_names_element_and_millimetres() -> None:
    # 154 modules of 0.25 mm are 38.5 mm
    with pytest.raises(LayoutError, match=r"one\.toml it: .*in 30\.0 mm, got 38\.5 mm at 0\.250 mm a module, 8\.5 mm too wide"):
        placed(one_element(SYMBOL, box="[2, 2, 30, 20]"), LabelContent({"it": "P261125A4K"}))


def test_range_of_modules_without_a_whole_number_of_dots_is_an_error() -> None:
    narrow = SYMBOL.replace("0.25", "0.26").replace("0.5", "0.3").replace("0.6", "0.37")
    with pytest.raises(LayoutError, match=r"expected a whole number of dots from 0\.26 to 0\.37 mm, got 0\.125 mm a dot"):
        placed(one_element(narrow), LabelContent({"it": "A4K"}), 8)


def test_bars_lower_than_the_least_are_an_error_and_lower_than_wanted_a_note() -> None:
    with pytest.raises(LayoutError, match=r"expected bars at least 30 mm high, got room for 26\.0 mm"):
        placed(one_element(SYMBOL + "\nbar_height_mm = 30"), LabelContent({"it": "A4K"}))
    label = placed(one_element(SYMBOL + "\nwanted_bar_height_mm = 31.75"), LabelContent({"it": "A4K"}))
    assert label.notes == ("it: bars 26.0 mm high, 31.75 mm are wanted",)


def test_eight_boxes_for_the_pencil_are_ruled() -> None:
    label = placed(TAG, TAG_CONTENT, 12)
    (boxes,) = (mark for mark in label.rects if mark.element == "weigh_ins")
    # 2 across and 4 down: 3 upright rules, 5 level ones, and a thin one that parts each of the two columns
    assert len(boxes.rects) == 3 + 5 + 2
    assert said(label, "weigh_ins") == ["DATE", "g", "DATE", "g"]


WORDS = st.lists(st.text("abcdefghijklmnop ÄÅgÉ()%,0123456789\u00a0", min_size=1, max_size=14), min_size=1, max_size=90)


@given(words=WORDS, storage=WORDS, name=WORDS, dots_per_mm=st.sampled_from(RESOLUTIONS), minimum=st.sampled_from(["0.9", "1.2"]))
@settings(max_examples=150, deadline=None, derandomize=True)
def test_any_text_is_placed_whole_inside_its_box_or_is_an_error(
    words: list[str], storage: list[str], name: list[str], dots_per_mm: float, minimum: str
) -> None:
    runs = tuple(Run(word + " ", number % 3 == 0) for number, word in enumerate(words))
    elements = {"ingredients": runs, "storage": " ".join(storage), "food_name": " ".join(name)[:60]}
    content = replace(with_elements(SALE_CONTENT, **elements), minimum_x_height_mm=Decimal(minimum))
    try:
        label = placed(SALE, content, dots_per_mm)
    except LayoutError as error:
        if error.field.split()[1] in SALE.elements:
            return
        raise
    assert min(x_heights_mm(label)) >= float(minimum) - 1e-9
    boxes = {element: SALE.columns["body"].box_mm for element in SALE.in_column("body")}
    boxes |= {element: part.box_mm for element, part in SALE.elements.items() if part.box_mm is not None}
    for element, left, top, right, bottom in ink_boxes(label):
        x, y, width, height = (length * dots_per_mm for length in boxes[element])
        assert left >= x - 1
        assert top >= y - 1
        assert right <= x + width + 1
        assert bottom <= y + height + 1
    for element in elements:
        assert "".join(said(label, element)).replace(" ", "") == content.text(element).replace(" ", "")
