"""How surely labels read: printed clean, with bars grown by a dot, blurred, and tilted, by the independent reader.

    PYTHONPATH=labels python -m benchmarks.decoding [--labels 2000]

(from ``tests``). Damage is done to the raster a printer of so many dots a mm would print: growth makes every dark stretch one dot
wider to the right and down, as hot or wet ink does; blur is a Gaussian of 0.4 dots and tilt a turn of 2 degrees, both on the
raster at three pixels a dot, as a camera or a hand scanner sees it.
"""

from __future__ import annotations

import argparse
import random
from collections.abc import Callable, Iterator, Sequence

import numpy as np
import zxingcpp
from label_samples import SHELF, ean13
from PIL import Image, ImageFilter

from labelsvc.labels.content import LabelContent
from labelsvc.labels.draw import draw, lay_out
from labelsvc.labels.layout import Layout
from labelsvc.labels.raster import Raster, rasters
from labelsvc.labels.samples import sample_content

LAYOUTS = ("hanging_tag_60x120", "sale_label_70x100", "sale_label_small_70x60", "container_label_70x50", "case_label_148x105")
BLUR_DOTS, TILT_DEGREES, PIXELS_PER_DOT = 0.4, 2.0, 3
_LETTERS = "ABCDEFGHJKMNPQRTVWXYZ0123456789"


def varied(layout: Layout, chance: random.Random) -> LabelContent:
    """Return the sample of a layout with its symbols drawn by lot."""
    content = sample_content(layout, SHELF.shipped, "sample")
    code = "K" + "".join(chance.choices("0123456789", k=6)) + "".join(chance.choices(_LETTERS, k=3))
    number = ean13("952" + "".join(chance.choices("0123456789", k=9)))
    case = "9" + number[:12]
    weights = sum(int(digit) * (3 if place % 2 == 0 else 1) for place, digit in enumerate(case))
    drawn = {
        "code128": code,
        "ean13": number,
        "qr": f"https://labels.example.com/01/0{number}/10/{code}/21/{chance.randrange(1, 200)}",
        "case_code": f"]C101{case}{-weights % 10}3103{chance.randrange(10**6):06d}15270930",
        "case_code_second": f"]C110{code}",
    }
    return LabelContent({name: drawn.get(name, words) for name, words in content.elements.items()})


def clean(raster: Raster) -> np.ndarray:
    """Return the raster as printed."""
    return np.frombuffer(raster.dots, np.uint8).reshape(raster.height, raster.width)


def grown(raster: Raster) -> np.ndarray:
    """Return the raster with every dark stretch one dot wider."""
    dots = clean(raster).copy()
    dots[:, 1:] = np.minimum(dots[:, 1:], clean(raster)[:, :-1])
    dots[1:, :] = np.minimum(dots[1:, :], dots[:-1, :])
    return dots


def _seen(raster: Raster) -> Image.Image:
    return Image.fromarray(clean(raster).repeat(PIXELS_PER_DOT, 0).repeat(PIXELS_PER_DOT, 1))


def blurred(raster: Raster) -> np.ndarray:
    """Return the raster as a camera sees it that is a little out of focus."""
    return np.asarray(_seen(raster).filter(ImageFilter.GaussianBlur(BLUR_DOTS * PIXELS_PER_DOT)))


def tilted(raster: Raster) -> np.ndarray:
    """Return the raster as a scanner sees it that is not held level."""
    return np.asarray(_seen(raster).rotate(TILT_DEGREES, Image.Resampling.BICUBIC, expand=True, fillcolor=255))


DAMAGE: dict[str, Callable[[Raster], np.ndarray]] = {"clean": clean, "one dot of growth": grown, "blur": blurred, "tilt": tilted}


def read_back(labels: int, dots_per_mm: float, names: Sequence[str] = LAYOUTS) -> Iterator[tuple[str, dict[str, float]]]:
    """Yield for each layout the share of symbols that read exactly, by kind of damage.

    Args:
        labels: how many in all.
        dots_per_mm: of the printer.
        names: of the layouts, each with its share of the labels.
    """
    for name in names:
        layout, chance = SHELF.layout(name), random.Random(f"{name} {dots_per_mm}")
        right, wanted = dict.fromkeys(DAMAGE, 0), 0
        for _ in range(labels // len(names)):
            placed = lay_out(layout, [varied(layout, chance)], dots_per_mm=dots_per_mm, language="en")
            (raster,) = rasters(draw(placed, title=name, language="en"), dots_per_mm)
            expected = {(mark.pattern.symbology, mark.pattern.reads) for mark in placed[0].symbols}
            wanted += len(expected)
            for damage, spoil in DAMAGE.items():
                found = {(one.symbology_identifier, one.bytes) for one in zxingcpp.read_barcodes(spoil(raster))}
                right[damage] += len(expected & found)
        yield name, {damage: count / wanted for damage, count in right.items()}


def main() -> None:
    """Measure and print."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--labels", type=int, default=2000)
    given = asked.parse_args()
    print(f"{'layout':26} {'dots/mm':>7}  " + "  ".join(f"{damage:>17}" for damage in DAMAGE))
    for dots_per_mm in (8, 12):
        for name, shares in read_back(given.labels // 2, dots_per_mm):
            print(f"{name:26} {dots_per_mm:7}  " + "  ".join(f"{share:17.1%}" for share in shares.values()), flush=True)


if __name__ == "__main__":
    main()
