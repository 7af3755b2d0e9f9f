"""Layout files: what is read, and what every fault is called."""

import hashlib

import pytest
from label_samples import LAYOUTS, SALE, TAG

from labelsvc.errors import LayoutError
from labelsvc.labels.layout import Boxes, Column, Edges, Hole, Layout, Picture, Rule, Symbol, Text
from labelsvc.labels.layout_file import parse_layout, read_layout
from labelsvc.labels.layout_keys import read_table
from labelsvc.labels.sheet import Sheet

GOOD = """
title = "Two elements"
purpose = "sale_label"
width_mm = 60
height_mm = 40
edge_margin_mm = 2
dots_per_mm = 8
minimum_x_height_mm = 1.2

[hole]
centre_mm = [30, 6]
diameter_mm = 5
margin_mm = 1.5

[columns.body]
box_mm = [2, 26, 56, 12]
gap_mm = 1
x_height_mm = { largest = 1.6, smallest = 1.2 }

[elements.name]
kind = "text"
priority = 2
box_mm = [2, 12, 30, 8]
cap_height_mm = { largest = 5, smallest = 2 }

[elements.code]
kind = "symbol"
symbol = "qr"
priority = 1
box_mm = [40, 12, 12, 12]
module_mm = { smallest = 0.25, target = 0.3, largest = 0.5 }

[elements.words]
kind = "runs"
priority = 3
column = "body"

[elements.pencil]
kind = "boxes"
priority = 4
box_mm = [2, 22, 30, 4]
across = 2
down = 1
rule_mm = 0.2
caption.en = "g"
"""

FAULTS = [
    ("title = ", "title == ", "bad.toml", "a TOML file"),
    ('title = "Two elements"', "", "bad.toml title", "expected a text in quotes, got nothing"),
    ("gap_mm = 1\n", "gap_mm = 1\ncolour = 3\n", "bad.toml columns.body colour", "expected only the keys box_mm, gap_mm, "),
    ('kind = "symbol"', 'kind = "drawing"', "bad.toml code kind", "got drawing"),
    ('kind = "text"\n', 'kind = "text"\nfont = "bold"\n', "bad.toml name font", "got the key font"),
    ('kind = "text"\n', 'kind = "text"\nface = "italic"\n', "bad.toml name face", "one of regular, bold, got italic"),
    (
        "box_mm = [2, 12, 30, 8]",
        'box_mm = [2, 12, "30", 8]',
        "bad.toml name box_mm[2]",
        'width, height, such as [2, 12, 30, 8], got "30"',
    ),
    ("box_mm = [2, 12, 30, 8]", "box_mm = [2, 12, 30]", "bad.toml name box_mm", "expected four numbers in mm"),
    ("box_mm = [2, 12, 30, 8]", "box_mm = [1.9, 12, 30, 8]", "bad.toml name box_mm", "margin of 2 mm"),
    ("box_mm = [2, 12, 30, 8]", "box_mm = [2, 12, 0, 8]", "bad.toml name box_mm", "a box on the stock"),
    ("box_mm = [2, 12, 30, 8]", "box_mm = [2, 9.5, 30, 8]", "bad.toml name box_mm", "4 mm or more from the middle of the hole"),
    ("box_mm = [2, 12, 30, 8]", "box_mm = [2, 12, 38.1, 8]", "bad.toml name box_mm", "does not overlap code"),
    ("box_mm = [40, 12, 12, 12]", "box_mm = [47, 12, 12, 12]", "bad.toml code box_mm", "60 x 40 mm"),
    ("box_mm = [2, 26, 56, 12]", "box_mm = [2, 23.9, 56, 12]", "bad.toml columns.body box_mm", "does not overlap code"),
    ("largest = 5, smallest = 2 }", "largest = 2, smallest = 5 }", "bad.toml name cap_height_mm", "not above largest"),
    ("target = 0.3", "target = 0.2", "bad.toml code module_mm", "in rising order"),
    ("cap_height_mm = { largest = 5, smallest = 2 }", "", "bad.toml name x_height_mm", "got neither"),
    ("x_height_mm = { largest = 1.6, smallest = 1.2 }", "", "bad.toml columns.body x_height_mm", "got neither"),
    ('column = "body"', 'column = "side"', "bad.toml words column", "one of body"),
    ('column = "body"', "", "bad.toml words box_mm", "got neither"),
    (
        'column = "body"',
        'column = "body"\nx_height_mm = { largest = 1, smallest = 1 }',
        "bad.toml words x_height_mm",
        "column's own",
    ),
    (
        'column = "body"',
        "box_mm = [34, 21, 5, 4]\nx_height_mm = { largest = 1, smallest = 1 }",
        "bad.toml columns.body",
        "one element",
    ),
    (
        'symbol = "qr"\n',
        'symbol = "qr"\nmatrix_module_mm = { smallest = 0.7, target = 0.7, largest = 1.5 }\n',
        "bad.toml code matrix_module_mm",
        "beside symbol = code128_or_gs1_128 only",
    ),
    ("across = 2", "across = 0", "bad.toml pencil across", "at least one box"),
    ('caption.en = "g"', 'caption.en = "day|g"', "bad.toml pencil caption.en", "a head for each part"),
]


@pytest.mark.parametrize(("old", "new", "field", "said"), FAULTS)
def test_layout_with_a_fault_names_file_element_and_key(old: str, new: str, field: str, said: str) -> None:
    assert GOOD.count(old) == 1
    with pytest.raises(LayoutError) as caught:
        parse_layout(GOOD.replace(old, new), "bad.toml")
    assert caught.value.field == field
    assert said in caught.value.message


SIZES = "the height it begins with and the least it may shrink to in mm, such as { largest = 2.4, smallest = 1.2 }"
MARGIN = "what stays free along the edges in mm: one number, or { top = 2, right = 2, bottom = 6, left = 2 }"
BOX = "four numbers in mm: from the left, from the top, width, height, such as [2, 12, 30, 8]"
SAID = [  # what stands in the file instead, and the whole sentence a person reads
    ("width_mm = 60", 'width_mm = "60"', 'width_mm: expected a number of mm, such as 2.5, got "60"'),
    ("width_mm = 60", "width_mm = nan", "width_mm: expected a number of 0 or more, got nan"),
    ("width_mm = 60", "width_mm = 0", "width_mm: expected a number of mm above 0, got 0"),
    (
        "dots_per_mm = 8",
        "dots_per_mm = 203",
        "dots_per_mm: expected the printer's dots per mm, 5 to 100, got 203. 203 dots per inch are 8 per mm.",
    ),
    ("edge_margin_mm = 2", 'edge_margin_mm = "2"', f'edge_margin_mm: expected {MARGIN}, got "2"'),
    ("edge_margin_mm = 2", "edge_margin_mm = { top = 2 }", f"edge_margin_mm.right: expected {MARGIN}, got nothing"),
    ("margin_mm = 1.5", "", "hole margin_mm: expected a number of mm, such as 2.5, got nothing"),
    (
        "margin_mm = 1.5",
        "margn_mm = 1.5",
        "hole margn_mm: expected only the keys centre_mm, diameter_mm, margin_mm, got the key margn_mm. Did you mean margin_mm?",
    ),
    ("gap_mm = 1", "gap_mm = -1", "columns.body gap_mm: expected a number of 0 or more, got -1"),
    ("box_mm = [2, 26, 56, 12]", "", f"columns.body box_mm: expected {BOX}, got nothing"),
    ("{ largest = 1.6, smallest = 1.2 }", "1.6", f"columns.body x_height_mm: expected {SIZES}, got 1.6"),
    (
        "{ largest = 1.6, smallest = 1.2 }",
        "{ largest = 1.6 }",
        f"columns.body x_height_mm.smallest: expected {SIZES}, got nothing",
    ),
    ('kind = "runs"', "", "words kind: expected one of text, runs, symbol, boxes, rule, picture, got nothing"),
    ("priority = 2", "", "name priority: expected a whole number: the lower, the earlier it is read, got nothing"),
    ("priority = 2", 'priority = "2"', 'name priority: expected a whole number: the lower, the earlier it is read, got "2"'),
    ("priority = 2", "priority = 2\none_line = 1", "name one_line: expected true or false, got 1"),
    ("priority = 2", "priority = 2\nalign = true", "name align: expected one of left, centre, right, got true"),
    (
        'caption.en = "g"',
        "caption.en = 3",
        'pencil caption: expected words by language, such as caption.en = "Allergens", got {"en": 3}',
    ),
    ("across = 2", 'across = "2"', 'pencil across: expected a whole number, got "2"'),
    ("box_mm = [2, 12, 30, 8]", "box_mm = [2, inf, 30, 8]", "name box_mm[1]: expected a number of 0 or more, got inf"),
    (
        "[hole]\ncentre_mm = [30, 6]\ndiameter_mm = 5\nmargin_mm = 1.5",
        "hole = 3",
        "hole: expected a table [hole] with centre_mm, ",
    ),
    (
        "minimum_x_height_mm = 1.2",
        'minimum_x_height_mm = 1.2\nmarkets = "us"',
        'markets: expected a list of markets, such as ["eu", "gb"]',
    ),
    (
        "minimum_x_height_mm = 1.2",
        "minimum_x_height_mm = 1.2\nprint_rotation = 45",
        "print_rotation: expected one of 0, 90, 180, 270, got 45",
    ),
]


@pytest.mark.parametrize(("old", "new", "said"), SAID)
def test_broken_layout_is_answered_in_words_of_the_trade(old: str, new: str, said: str) -> None:
    with pytest.raises(LayoutError) as caught:
        parse_layout(GOOD.replace(old, new, 1), "bad.toml")
    assert caught.value.message.startswith(f"bad.toml {said}")
    assert "`" not in caught.value.message
    assert "Object" not in caught.value.message


@pytest.mark.parametrize("key", sorted({line.split(" = ")[0] for line in GOOD.splitlines() if " = " in line} - {"caption.en"}))
def test_any_key_left_out_of_a_layout_is_missed_by_its_name(key: str) -> None:
    text = "\n".join(line for line in GOOD.splitlines() if not line.startswith(f"{key} = "))
    with pytest.raises(LayoutError) as caught:
        parse_layout(text, "bad.toml")
    assert caught.value.field.startswith("bad.toml ")
    assert key in caught.value.message or caught.value.got == "neither"
    assert "`" not in caught.value.message


def test_every_kind_of_element_given_a_wrong_value_for_any_key_is_answered_in_words() -> None:
    # also a key that comes later: none may be answered by an error of ours, or by the words of the library
    for shape in (Text, Symbol, Boxes, Rule, Picture, Column, Hole, Edges, Sheet):
        for key in shape.__struct_fields__:
            if key not in ("kind", "file"):
                with pytest.raises(LayoutError) as caught:
                    read_table({"kind": "text", key: {"no": "value"}}, shape, "bad.toml it")
                assert "`" not in caught.value.message
                assert "Object" not in caught.value.message


def test_layout_without_fault_has_its_elements_in_order_of_priority() -> None:
    layout = parse_layout(GOOD, "good.toml")
    assert list(layout.elements) == ["code", "name", "words", "pencil"]
    assert list(layout.in_column("body")) == ["words"]
    assert [name for name, _ in layout.symbols()] == ["code"]


def test_digest_is_sha256_of_the_text_and_changes_with_a_comment() -> None:
    assert parse_layout(GOOD, "a.toml").digest == hashlib.sha256(GOOD.encode()).hexdigest()
    assert parse_layout(GOOD + "# moved\n", "a.toml").digest != parse_layout(GOOD, "a.toml").digest


def test_box_that_touches_the_keep_out_of_the_hole_from_outside_is_allowed() -> None:
    # radius 5 / 2 + 1.5 = 4 mm around (30, 6): a box that begins at y = 10 just touches it
    assert parse_layout(GOOD.replace("box_mm = [2, 12, 30, 8]", "box_mm = [2, 10, 30, 8]"), "a.toml").hole is not None


@pytest.mark.parametrize("file", sorted(LAYOUTS.glob("*.toml")), ids=lambda file: file.name)
def test_every_shipped_layout_is_read_and_has_english_captions(file: object) -> None:
    layout: Layout = read_layout(LAYOUTS / str(file))
    captions = [element.caption for element in layout.elements.values() if isinstance(element, Text) and element.caption]
    assert all({"en", "de", "fr", "it", "es"} <= set(caption) for caption in captions)


def test_shipped_layouts_have_the_elements_that_are_fed() -> None:
    assert {"lot_code_day", "lot_code_serial", "product_name", "stop_at", "stop_at_basis", "not_before", "allergens"} < set(
        TAG.elements
    )
    assert {"status", "qr", "code128", "weigh_ins", "source", "cured_on", "strung_on", "tare"} < set(TAG.elements)
    assert len(TAG.elements) == 15
    assert {"food_name", "net_quantity", "ingredients", "quantity_statement", "date_line", "lot_line"} < set(SALE.elements)
    assert {"storage", "cooking", "operator", "statements", "ean13", "qr", "rule_under_head"} < set(SALE.elements)
    assert len(SALE.elements) == 13
