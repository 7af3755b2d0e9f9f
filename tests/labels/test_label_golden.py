"""Each shipped layout as it was looked at and found good: pictures in ``golden``, one dot of the printer a pixel.

To renew them after a change that was meant: LABELSVC_GOLDEN=renew pytest tests/labels/test_label_golden.py, and look at each.
"""

import io
import os
from pathlib import Path

import pytest
from label_samples import SHELF
from PIL import Image, ImageChops

from labelsvc.labels.draw import draw, lay_out
from labelsvc.labels.proof import prove
from labelsvc.labels.raster import rasters
from labelsvc.labels.samples import sample_content
from labelsvc.operations.previewing import png

GOLDEN = Path(__file__).parent / "golden"
DOTS = 8
MAY_DIFFER = 0.005  # share of dots: another release of the rasteriser may round an outline another way, a moved word is more


@pytest.mark.parametrize("name", SHELF.names())
def test_layout_with_its_sample_when_rasterised_then_it_looks_as_it_was_found_good(name: str) -> None:
    layout = SHELF.layout(name)
    placed = lay_out(layout, [sample_content(layout, SHELF.shipped, "sample")], dots_per_mm=DOTS, language="en")
    pdf = draw(placed, title=name, language="en")
    prove(pdf, placed)
    (raster,) = rasters(pdf, DOTS)
    file = GOLDEN / f"{name}.png"
    if os.environ.get("LABELSVC_GOLDEN") == "renew":
        file.write_bytes(png(raster))
    with Image.open(file) as kept:
        wanted = kept.convert("L")
    seen = Image.frombytes("L", (raster.width, raster.height), raster.dots)
    assert seen.size == wanted.size
    differing = ImageChops.difference(seen, wanted).histogram()[255]
    assert differing <= MAY_DIFFER * raster.width * raster.height


def test_picture_of_a_raster_has_its_dots() -> None:
    layout = SHELF.layout("marker_strip_100x20")
    placed = lay_out(layout, [sample_content(layout, SHELF.shipped, "sample")], dots_per_mm=DOTS, language="en")
    (raster,) = rasters(draw(placed, title="m", language="en"), DOTS)
    with Image.open(io.BytesIO(png(raster))) as picture:
        assert picture.mode == "1"
        assert picture.convert("L").tobytes() == raster.dots
