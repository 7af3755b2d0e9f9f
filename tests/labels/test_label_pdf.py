"""The PDF as an outside checker sees it: sound, exact to its stock, said in one language, not to be scaled."""

import io
import os
import subprocess
import sys
from pathlib import Path

import pikepdf
import pypdfium2
import pytest
from label_samples import SHELF

from labelsvc.labels.draw import draw, lay_out
from labelsvc.labels.layout import Text
from labelsvc.labels.samples import sample_content


def drawn(name: str, language: str = "en") -> bytes:
    layout = SHELF.layout(name)
    placed = lay_out(layout, [sample_content(layout, SHELF.shipped, "sample")] * 2, language=language)
    return draw(placed, title=f"{layout.title} K261009017", language=language)


@pytest.mark.parametrize("name", SHELF.names())
def test_label_when_an_outside_checker_looks_at_it_then_nothing_is_wrong(name: str) -> None:
    layout = SHELF.layout(name)
    with pikepdf.open(io.BytesIO(drawn(name, "de"))) as pdf:
        assert pdf.check_pdf_syntax() == []  # qpdf's own check
        assert pdf.pdf_version == "1.6"  # the first that knows PrintScaling; Lang came with 1.4 (ISO 32000-1, tables 28 and 150)
        assert str(pdf.docinfo["/Creator"]) == "labelsvc"
        assert str(pdf.docinfo["/Author"]) == ""
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


@pytest.mark.parametrize("name", SHELF.names())
def test_words_of_a_label_come_out_in_the_order_they_are_read(name: str) -> None:
    # from the top, what stands side by side from the left; columns one after the other: the layout's own order
    layout, content = SHELF.layout(name), sample_content(SHELF.layout(name), SHELF.shipped, "sample")
    document = pypdfium2.PdfDocument(drawn(name))
    document[0].set_rotation(0)  # as it is read, not as it lies in the printer
    said = "".join(document[0].get_textpage().get_text_range().split())
    document.close()
    place = 0
    for element, part in layout.elements.items():
        words = "".join(content.text(element).split())
        if isinstance(part, Text) and words:
            found = said.find(words, place)
            assert found >= 0, (element, words, said[place:])
            place = found + len(words)


def test_same_content_gives_the_same_bytes_in_another_process_too() -> None:
    here = Path(__file__).parent
    code = "import sys, test_label_pdf; sys.stdout.buffer.write(test_label_pdf.drawn('sale_label_70x100'))"
    seen = {**os.environ, "PYTHONPATH": os.pathsep.join([str(here), str(here.parents[1])]), "PYTHONHASHSEED": "7"}
    other = subprocess.run([sys.executable, "-c", code], env=seen, capture_output=True, check=True)
    assert other.stdout == drawn("sale_label_70x100")


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
