"""The safe handling block of a US label that is not ready to eat: printed whole, never twice, never on what is eaten as it is."""

from pathlib import Path

import pypdfium2
import pytest
from build import NOW, body

from labelsvc.errors import LayoutError
from labelsvc.labels.shelf import Shelf
from labelsvc.ledger import read
from labelsvc.operations import labelling
from labelsvc.operations.issuing import Stock

SHELF = Shelf(Path(__file__).parents[2] / "label_layouts")

# 9 CFR 381.125(b)(2)-(3), the twin of 317.2(l), printed edition of 2006
HEADING = "Safe Handling Instructions"
STATEMENTS = [
    "Keep refrigerated or frozen. Thaw in refrigerator or microwave.",
    "Keep raw meat and poultry separate from other foods. Wash working surfaces (including cutting boards), utensils, and hands"
    " after touching raw meat or poultry.",
    "Cook thoroughly.",
    "Keep hot foods hot. Refrigerate leftovers immediately or discard.",
]
BLOCK = "sale_label_us_to_cook_100x150"


def printed(shop, pack, layout=None):
    return labelling.sale_label(shop.ledger, pack, layouts=SHELF, now=NOW, who="Ada", stock=Stock(layout=layout))


def label_of(shop, pack):
    with shop.ledger.reading() as connection:
        return labelling.issued_labels(connection, read.find(connection, pack))[0]


def words(issued):
    document = pypdfium2.PdfDocument(issued.pdf)
    try:
        return " ".join(document[0].get_textpage().get_text_range().split())
    finally:
        document.close()


def american(shop, eaten="cooked", **more):
    """A pack for the United States."""
    shop.record("workshop", **{**body("workshop"), "country": "US", "standing": "us retail-exempt"})
    card = {**body("product"), "markets": ["us"], "class": "dry_cured", "eaten": eaten, "storage": "Keep Refrigerated", **more}
    shop.record("product", **card)
    piece = shop.green_piece("1000 g")
    shop.cure([piece], (shop.ingredient(), "25 g"), (shop.ingredient("curing salt"), "20 g"))
    shop.string(piece, "720 g", tare="20 g", at="2026-03-23")
    shop.release(piece, at="2026-05-20")
    return shop.pack([piece], "300 g", at="2026-05-21", market="us", yes=True)[1]


def test_block_when_it_must_be_cooked_then_whole_and_once(shop):
    pack = american(shop)
    issued = printed(shop, pack)
    assert label_of(shop, pack)["layout"] == BLOCK
    said = words(issued)
    assert said.count(HEADING) == 1
    assert said.count("Some food products may contain bacteria that could cause illness") == 1
    assert all(statement in said for statement in STATEMENTS)
    assert not [one for one in issued.findings if one.rule == "us.labelling.safe_handling"]
    assert label_of(shop, pack)["superseded"] is False


def test_block_when_on_another_layout_then_its_words_and_what_they_lack(shop):
    pack = american(shop)
    issued = printed(shop, pack, layout="sale_label_us_100x150")
    assert all(statement in words(issued) for statement in (HEADING, *STATEMENTS))
    (lacking,) = [one for one in issued.findings if one.rule == "us.labelling.safe_handling"]
    assert "its border, its pictures and a larger heading" in lacking.message


@pytest.mark.parametrize("card", [{"eaten": "as_is"}, {"on_stock": ["safe_handling"]}])
def test_block_when_none_is_needed_then_not_printed(shop, card):
    pack = american(shop, **card)
    with pytest.raises(LayoutError, match="a label without safe handling instructions"):
        printed(shop, pack, layout=BLOCK)
    assert HEADING not in words(printed(shop, pack, layout="sale_label_us_100x150"))
    assert labelling.usual_sale_label(shop.ledger, shop.state(pack)) == labelling.US_SALE_LABEL


def test_block_when_drawn_then_heading_is_larger_and_letters_have_a_sixteenth_of_an_inch(shop):
    # 9 CFR 381.125(b)(2): lettering of at least one-sixteenth of an inch, which is 1.5875 mm; the heading larger
    layout = SHELF.layout(BLOCK)
    assert layout.minimum_x_height_mm >= 1.5875
    heading = layout.elements["safe_handling_heading"].x_height_mm.smallest
    others = [
        layout.columns["safe_handling"],
        *(layout.elements[f"safe_handling_{one}"] for one in ("cold", "clean", "cook", "hot")),
    ]
    assert all(1.5875 <= one.x_height_mm.smallest <= one.x_height_mm.largest < heading for one in others)
    document = pypdfium2.PdfDocument(printed(shop, american(shop)).pdf)
    try:
        image = document[0].render(scale=8).to_pil().convert("L")  # 8 dots a point
    finally:
        document.close()
    for name in ("refrigerator", "hands", "skillet", "thermometer"):  # each picture has ink, and white beside it
        x, y, width, height = (round(mm * 72 / 25.4 * 8) for mm in layout.elements[name].box_mm)
        inked = sum(image.crop((x, y, x + width, y + height)).histogram()[:128]) / (width * height)
        assert 0.1 < inked < 0.6, name
