"""Each shipped layout as it was looked at and found good: pictures in ``golden``, one dot of the printer a pixel.

To renew them after a change that was meant: LABELSVC_GOLDEN=renew pytest tests/labels/test_label_golden.py, and look at each.
"""

import io
import os
from dataclasses import replace
from pathlib import Path

import pytest
from label_samples import SHELF
from PIL import Image, ImageChops

from labelsvc.labels.content import LabelContent
from labelsvc.labels.draw import draw, lay_out
from labelsvc.labels.proof import prove
from labelsvc.labels.raster import Raster, rasters
from labelsvc.labels.samples import sample_content
from labelsvc.operations.previewing import png

GOLDEN = Path(__file__).parent / "golden"
DOTS = 8
TILE, STEP = 2 * DOTS, DOTS  # tiles of 2 mm that overlap by half, so that no digit is cut in two
# Dots of a tile's 256 that may differ: another release of the rasteriser may round an outline another way. The last digit of any
# text of any layout's sample, become another one, differs by 22 at least (measured over all of them in November 2026).
MAY_DIFFER = 12


def sample(name: str) -> LabelContent:
    return sample_content(SHELF.layout(name), SHELF.shipped, "sample")


def rasterised(name: str, content: LabelContent) -> Raster:
    placed = lay_out(SHELF.layout(name), [content], dots_per_mm=DOTS, language="en")
    pdf = draw(placed, title=name, language="en")
    prove(pdf, placed)
    return rasters(pdf, DOTS)[0]


def picture(raster: Raster) -> Image.Image:
    return Image.frombytes("L", (raster.width, raster.height), raster.dots)


def kept(name: str) -> Image.Image:
    with Image.open(GOLDEN / f"{name}.png") as file:
        return file.convert("L")


def unlike(seen: Image.Image, wanted: Image.Image) -> list[tuple[int, int]]:
    """The top left, in mm, of each tile in which the pictures differ by more than a few dots."""
    assert seen.size == wanted.size
    differing = ImageChops.difference(seen, wanted)
    if differing.getbbox() is None:
        return []
    corners = [(x, y) for y in range(0, seen.height, STEP) for x in range(0, seen.width, STEP)]
    tiles = {(x, y): differing.crop((x, y, x + TILE, y + TILE)).histogram()[255] for x, y in corners}
    return [(x // DOTS, y // DOTS) for (x, y), dots in tiles.items() if dots > MAY_DIFFER]


@pytest.mark.parametrize("name", SHELF.names())
def test_layout_with_its_sample_when_rasterised_then_it_looks_as_it_was_found_good(name: str) -> None:
    raster = rasterised(name, sample(name))
    if os.environ.get("LABELSVC_GOLDEN") == "renew":
        (GOLDEN / f"{name}.png").write_bytes(png(raster))
    assert unlike(picture(raster), kept(name)) == []


@pytest.mark.parametrize("element", ["allergens", "source", "cured_on", "strung_on", "tare", "not_before", "stop_at_basis"])
def test_tag_without_one_element_is_seen(element: str) -> None:
    name = "hanging_tag_60x120"
    whole = sample(name)
    without = replace(whole, elements={said: words for said, words in whole.elements.items() if said != element})
    assert unlike(picture(rasterised(name, without)), kept(name))


@pytest.mark.parametrize(
    ("name", "element", "was", "becomes"),
    [
        ("hanging_tag_60x120", "strung_on", "6", "0"),  # with 22 dots the two most alike
        ("hanging_tag_60x120", "tare", "5", "6"),
        ("not_for_sale_tag_60x120", "not_before", "6", "8"),
        ("sale_label_small_70x60", "lot_line", "7", "2"),
        ("sale_label_small_70x60", "storage", "5", "3"),
        ("sale_label_small_70x60", "net_quantity", "1", "2"),
    ],
)
def test_label_with_another_digit_is_seen(name: str, element: str, was: str, becomes: str) -> None:
    whole = sample(name)
    head, found, tail = whole.text(element).rpartition(was)
    assert found
    other = replace(whole, elements={**whole.elements, element: f"{head}{becomes}{tail}"})
    assert unlike(picture(rasterised(name, other)), kept(name))


def test_picture_of_a_raster_has_its_dots() -> None:
    raster = rasterised("marker_strip_100x20", sample("marker_strip_100x20"))
    with Image.open(io.BytesIO(png(raster))) as seen:
        assert seen.mode == "1"
        assert seen.convert("L").tobytes() == raster.dots
