"""The PDF as an outside checker sees it: sound, exact to its stock, said in one language, not to be scaled."""

import io

import pikepdf
import pytest
from label_samples import SHELF

from labelsvc.labels.draw import draw, lay_out
from labelsvc.labels.samples import sample_content


def drawn(name: str, language: str = "en") -> bytes:
    layout = SHELF.layout(name)
    placed = lay_out(layout, [sample_content(layout, SHELF.shipped, "sample")] * 2, language=language)
    return draw(placed, title=f"{layout.title} K261009017", language=language)


@pytest.mark.parametrize("name", SHELF.names())
def test_label_when_an_outside_checker_looks_at_it_then_nothing_is_wrong(name: str) -> None:
    layout = SHELF.layout(name)
    with pikepdf.open(io.BytesIO(drawn(name, "de"))) as pdf:
        assert pdf.check_pdf_syntax() == []
        assert str(pdf.docinfo["/Title"]).endswith("K261009017")
        assert str(pdf.Root["/Lang"]) == "de"
        assert pdf.Root["/ViewerPreferences"]["/PrintScaling"] == "/None"
        for page in pdf.pages:
            width, height = (float(side) * 25.4 / 72 for side in page.mediabox[2:])
            assert (width, height) == pytest.approx((layout.width_mm, layout.height_mm), abs=0.001)


@pytest.mark.parametrize("name", SHELF.names())
def test_fonts_of_a_label_are_embedded_and_cut_down_to_what_is_used(name: str) -> None:
    with pikepdf.open(io.BytesIO(drawn(name))) as pdf:
        fonts = [one for page in pdf.pages for one in page.resources.get("/Font", {}).values()]
        assert fonts
        for font in fonts:
            descriptor = font["/FontDescriptor"]
            assert "/FontFile2" in descriptor
            assert str(font["/BaseFont"])[7] == "+"  # six letters and a plus: a subset (ISO 32000-1, 9.6.4)
            assert "/ToUnicode" in font


def test_same_content_gives_the_same_bytes() -> None:
    assert drawn("sale_label_70x100") == drawn("sale_label_70x100")


@pytest.mark.parametrize("name", ["sale_label_us_70x100", "sale_label_us_100x150"])
def test_net_weight_of_a_label_for_the_united_states_stands_in_its_lower_three_tenths(name: str) -> None:
    # 9 CFR 317.2(h): within the lower 30 percent of the principal display panel, parallel to the base
    layout = SHELF.layout(name)
    element = layout.elements["net_quantity"]
    assert element.box_mm is not None
    assert element.box_mm[1] >= 0.7 * layout.height_mm


@pytest.mark.parametrize("name", [layout.name for layout in SHELF.for_purpose("sale_label")])
def test_name_and_net_quantity_of_a_sale_label_stand_side_by_side_in_one_field_of_vision(name: str) -> None:
    # Regulation (EU) 1169/2011 Art 13(5); a label has one face, so nothing but the same label is asked for
    assert {"food_name", "net_quantity"} <= set(SHELF.layout(name).elements)
