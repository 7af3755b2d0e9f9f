"""Sheets: where labels stand on them, from which position on, and that each is proved on its sheet."""

import io
from dataclasses import replace
from pathlib import Path

import pypdfium2
import pytest
from label_samples import SALE, SALE_CONTENT, SHELF, TAG, TAG_CONTENT, with_elements

from labelsvc.errors import LayoutError
from labelsvc.labels.draw import draw, lay_out
from labelsvc.labels.layout import Layout
from labelsvc.labels.marks import Placed
from labelsvc.labels.proof import prove
from labelsvc.labels.samples import sample_content
from labelsvc.labels.sheet import arrange, read_sheet

A4 = SHELF.sheet("a4_8_of_70x100")
GOOD = (SHELF.shipped / "sheets" / "a4_8_of_70x100.toml").read_text(encoding="utf-8")


def labels(count: int, dots: float = 11.811) -> list[Placed]:
    contents = [with_elements(SALE_CONTENT, lot_line=f"Lot {number}") for number in range(count)]
    return lay_out(SALE, contents, dots_per_mm=dots, language="en")


@pytest.mark.parametrize("dots", [11.811, 23.622])
@pytest.mark.parametrize("name", SHELF.sheets())
def test_every_label_on_every_sheet_is_proved_from_the_second_position_on(name: str, dots: float) -> None:
    sheet = SHELF.sheet(name)
    layout = next(one for one in map(SHELF.layout, SHELF.names()) if (one.width_mm, one.height_mm) == sheet.label_mm)
    content = sample_content(layout, SHELF.shipped, "sample")
    placed = lay_out(layout, [content] * (sheet.positions + 1), dots_per_mm=dots, language="en")
    pdf = draw(placed, title=name, language="en", sheet=sheet, start=2)
    proof = prove(pdf, placed, sheet=sheet, start=2)
    assert len(proof.pages) == sheet.positions + 1
    document = pypdfium2.PdfDocument(pdf)
    assert len(document) == 2
    assert document[0].get_size() == pytest.approx((sheet.width_mm * 72 / 25.4, sheet.height_mm * 72 / 25.4))
    document.close()


def test_labels_fill_a_sheet_row_by_row_and_the_next_sheet_from_its_first_position() -> None:
    # two across and four down, each 100 x 70 mm on its side, from 5 and 8.5 mm: the third stands at 5 and 78.5 mm
    first, second = arrange(labels(7), A4, start=3)
    assert [len(page.labels) for page in (first, second)] == [6, 1]
    spots = [(spot.x, spot.y) for spot, _ in first.labels]
    assert spots[:3] == [(59, 927), (1240, 927), (59, 1754)]  # mm x 11.811: 5 -> 59.06, 78.5 -> 927.2, 105 -> 1240.2, 148.5
    assert (second.labels[0][0].x, second.labels[0][0].y) == (59, 100)


def test_label_that_stands_elsewhere_than_said_is_not_proved() -> None:
    placed = labels(2)
    pdf = draw(placed, title="t", language="en", sheet=A4, start=1)
    with pytest.raises(LayoutError, match=r"^page 1 label 1 "):
        prove(pdf, placed, sheet=A4, start=3)


@pytest.mark.parametrize("start", [0, 9])
def test_position_that_the_sheet_has_not_is_named(start: int) -> None:
    with pytest.raises(LayoutError) as caught:
        list(arrange(labels(1), A4, start=start))
    assert caught.value.message == f"start: expected a position of 1 to 8 on a4_8_of_70x100, got {start}"


def test_labels_of_another_size_than_the_sheets_are_refused() -> None:
    with pytest.raises(
        LayoutError, match=r"^sheet: expected labels of 70 x 100 mm on a4_8_of_70x100, got labels of 60 x 120 mm$"
    ):
        list(arrange(lay_out(TAG, [TAG_CONTENT], language="en"), A4))


@pytest.mark.parametrize(
    ("old", "new", "field", "said"),
    [
        ("across = 2", "across = 3", "sheet.toml across", "labels to 305 and 288.5 mm"),
        ("down = 4", "down = 0", "sheet.toml across", "at least one label"),
        ("left_mm = 5", "left_mm = -5", "sheet.toml left_mm", "a number of 0 or more, got -5"),
        ("across = 2", "across = 2\ncolour = 1", "sheet.toml colour", "only the keys title, width_mm"),
        ("title = ", "title == ", "sheet.toml", "a TOML file"),
    ],
)
def test_sheet_with_a_fault_names_file_and_key(tmp_path: Path, old: str, new: str, field: str, said: str) -> None:
    assert old in GOOD
    file = tmp_path / "sheet.toml"
    file.write_text(GOOD.replace(old, new), encoding="utf-8")
    with pytest.raises(LayoutError) as caught:
        read_sheet(file)
    assert caught.value.field == field
    assert said in caught.value.message


@pytest.mark.parametrize("rotation", [90, 180, 270])
def test_label_for_a_roll_that_runs_another_way_is_turned_for_the_printer_and_proved_upright(rotation: int) -> None:
    layout: Layout = replace(TAG, print_rotation=rotation)
    placed = lay_out(layout, [TAG_CONTENT], language="en")
    pdf = draw(placed, title="t", language="en")
    assert len(prove(pdf, placed).pages) == 1
    document = pypdfium2.PdfDocument(io.BytesIO(pdf))
    assert document[0].get_rotation() == rotation
    document.close()
