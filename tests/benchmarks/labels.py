"""Labels beside the bare drawing of the same marks, and beside two general PDF libraries, in one run: ratios, not times.

    python -m benchmarks.labels [--many 1000] [--memory 10000]

(from ``tests``). The bare drawing is the fewest calls that put the same marks on the page: positions and symbols are given to
it. ``typst`` and ``fpdf2`` draw the same label with the same typefaces; they come with the extra ``benchmarks``.
"""

from __future__ import annotations

import argparse
import io
import json
import random
import resource
import subprocess
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import replace

from labels.label_samples import SALE, SALE_CONTENT, random_sale, with_elements
from reportlab.pdfgen.canvas import Canvas

from labelsvc.labels.content import LabelContent
from labelsvc.labels.draw import _font_name, _register_fonts, draw, lay_out
from labelsvc.labels.fonts import font_file
from labelsvc.labels.marks import Placed
from labelsvc.labels.proof import prove

POINTS = 72 / 25.4


def side_by_side(act: Callable[[], object], beside: Callable[[], object], least_seconds: float = 3.0) -> tuple[float, float]:
    """Return the best time of an act in milliseconds and how many times that of another it is, run by turns, warm.

    Time of the processor, that of child processes too: what else the machine does must not count. The best of many, because
    what disturbs only ever adds.
    """
    times: tuple[list[float], list[float]] = ([], [])
    for warm in (act, beside):
        warm()
    while len(times[0]) < 5 or sum(map(sum, times)) < least_seconds:
        for seen, run in zip(times, (act, beside), strict=True):
            begun = processor_seconds()
            run()
            seen.append(processor_seconds() - begun)
    best, other = min(times[0]), min(times[1])
    return best * 1000, best / other


def processor_seconds() -> float:
    """Return the time of the processor so far, in this process and in those it waited for."""
    children = resource.getrusage(resource.RUSAGE_CHILDREN)
    return time.process_time() + children.ru_utime + children.ru_stime


def bare(labels: Sequence[Placed]) -> bytes:
    """Draw placed marks with the fewest calls: one path of rectangles, one text object, font set where it changes."""
    out = io.BytesIO()
    canvas = Canvas(out, invariant=1, initialFontName=_font_name("regular"))
    for label in labels:
        dot, height = POINTS / label.grid.dots_per_mm, label.height_mm * POINTS
        canvas.setPageSize((label.width_mm * POINTS, height))
        rects = [rect for mark in (*label.rects, *label.symbols) for rect in mark.rects]
        operators = "\n".join([f"{x} {y} {wide} {tall} re" for x, y, wide, tall in rects])
        canvas._code.append(f"q {dot:.8f} 0 0 -{dot:.8f} 0 {height:.6f} cm\n{operators}\nf Q")
        text = canvas.beginText()
        for mark in label.texts:
            text.setTextOrigin(mark.x * dot, height - mark.baseline * dot)
            text.setFont(_font_name(mark.face), mark.em * dot)
            text.textOut(mark.text)
        canvas.drawText(text)
        canvas.showPage()
    canvas.save()
    return out.getvalue()


def ours(contents: Sequence[LabelContent]) -> tuple[bytes, list[Placed]]:
    """Encode, place and draw contents."""
    placed = lay_out(SALE, contents, language="en")
    return draw(placed, title="Labels", language="en"), placed


def proved(contents: Sequence[LabelContent]) -> None:
    """Draw contents and prove them."""
    prove(*ours(contents))


def of_one_product(count: int) -> list[LabelContent]:
    """Return the labels of one pack lot: the serial in the link differs."""
    link = SALE_CONTENT.text("qr")
    return [with_elements(SALE_CONTENT, qr=f"{link}/21/{number}") for number in range(1, count + 1)]


def all_different(count: int) -> list[LabelContent]:
    """Return labels of which each has its own number, lot, link, weight, and one word more in its list."""
    chance = random.Random(1)
    made = []
    for number in range(count):
        content = random_sale(chance)
        storage = f"Keep refrigerated at 0 to {number % 7} °C. Pack {number}."
        other = with_elements(content, net_quantity=f"{chance.randrange(80, 200)} g", storage=storage)
        made.append(replace(other, smallest_mm=SALE_CONTENT.smallest_mm))
    return made


def by_fpdf2(label: Placed, count: int) -> bytes:
    """Draw a label so many times by fpdf2."""
    from fpdf import FPDF

    pdf = FPDF(unit="pt", format=(label.width_mm * POINTS, label.height_mm * POINTS))
    for name in ("regular", "bold", "condensed", "condensed_bold"):
        pdf.add_font(name, fname=str(font_file(name)))
    dot = POINTS / label.grid.dots_per_mm
    for _ in range(count):
        pdf.add_page()
        for mark in (*label.rects, *label.symbols):
            for x, y, wide, tall in mark.rects:
                pdf.rect(x * dot, y * dot, wide * dot, tall * dot, style="F")
        for text in label.texts:
            pdf.set_font(text.face, size=text.em * dot)
            pdf.text(text.x * dot, text.baseline * dot, text.text)
    return bytes(pdf.output())


def by_typst(label: Placed, count: int, salt: int) -> bytes:
    """Draw a label so many times by typst; the salt keeps it from answering out of its memory."""
    import typst

    dot = POINTS / label.grid.dots_per_mm
    families = {"regular": ("Fira Sans", 400), "bold": ("Fira Sans", 700)}
    families |= {"condensed": ("Fira Sans Condensed", 400), "condensed_bold": ("Fira Sans Condensed", 700)}
    marks = [
        f"#place(dx: {x * dot:.4f}pt, dy: {y * dot:.4f}pt,"
        f" rect(width: {wide * dot:.4f}pt, height: {tall * dot:.4f}pt, fill: black))"
        for mark in (*label.rects, *label.symbols)
        for x, y, wide, tall in mark.rects
    ]
    for text in label.texts:
        family, weight = families[text.face]
        font = f'font: "{family}", weight: {weight}, size: {text.em * dot:.4f}pt'
        place = f"dx: {text.x * dot:.4f}pt, dy: {(text.baseline - text.em) * dot:.4f}pt"
        marks.append(f"#place({place}, text({font}, {json.dumps(text.text, ensure_ascii=False)}))")
    page = f'#set page(width: {label.width_mm}mm, height: {label.height_mm}mm, margin: 0pt)\n#place(text(size: 1pt, "{salt}"))\n'
    folders = [str(font_file(name).parent) for name in ("regular", "condensed")]
    source = page + "\n#pagebreak()\n".join(["\n".join(marks)] * count)
    return bytes(typst.compile(source.encode(), font_paths=folders))


def cold(code: str) -> Callable[[], None]:
    """Return an act that runs a program in a fresh interpreter."""

    def run() -> None:
        subprocess.run([sys.executable, "-c", code], check=True, capture_output=True)

    return run


def memory_of(count: int) -> float:
    """Return by how many MB a process grows that prints labels in chunks, over one that prints the first chunk."""
    from labelsvc.operations.issuing import CHUNK

    def chunk(first: int) -> None:
        link = SALE_CONTENT.text("qr")
        ours([with_elements(SALE_CONTENT, qr=f"{link}/21/{number}") for number in range(first, first + CHUNK)])

    chunk(0)
    base = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    for first in range(CHUNK, count, CHUNK):
        chunk(first)
    return (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - base) / 1024


def show(what: str, act: Callable[[], object], beside: Callable[[], object], target: str) -> None:
    """Measure and print one row."""
    best, ratio = side_by_side(act, beside)
    print(f"{what:58} {best:9.2f} ms {ratio:6.2f}x  {target}", flush=True)


def main() -> None:
    """Measure and print."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--many", type=int, default=1000)
    asked.add_argument("--memory", type=int, default=10_000)
    given = asked.parse_args()
    _register_fonts()
    placed = lay_out(SALE, [SALE_CONTENT], language="en")
    one, different, same = [SALE_CONTENT], all_different(given.many), of_one_product(given.many)
    many, fifty = lay_out(SALE, same, language="en"), of_one_product(50)
    print("beside the bare drawing of the same marks")
    show("one label, warm", lambda: ours(one), lambda: bare(placed), "<= 1.5x")
    show("one label, warm, with its proof", lambda: proved(one), lambda: bare(placed), "<= 8x")
    show(f"{given.many} labels, all different", lambda: ours(different), lambda: bare(many), "<= 4x")
    show(f"{given.many} labels of one product", lambda: ours(same), lambda: bare(many), "<= 2x")
    print("beside ours; positions and symbols are given to them")
    salts = iter(range(10**6))
    show("one label by fpdf2", lambda: by_fpdf2(placed[0], 1), lambda: ours(one), "> 1x")
    show("50 labels by fpdf2", lambda: by_fpdf2(placed[0], 50), lambda: ours(fifty), "> 1x")
    show("one label by typst", lambda: by_typst(placed[0], 1, next(salts)), lambda: ours(one), "> 1x")
    show("50 labels by typst", lambda: by_typst(placed[0], 50, next(salts)), lambda: ours(fifty), "> 1x")
    imports = (
        "import reportlab.pdfgen.canvas, reportlab.pdfbase.ttfonts, barcode.codex, barcode.ean, qrcode, pypdfium2, zxingcpp\n"
        "import msgspec, sqlalchemy, click"
    )
    tag = (
        f"{imports}\nimport sys\nsys.path[:0] = {sys.path!r}\nfrom labels.label_samples import *\n"
        "from labelsvc.labels.draw import draw, lay_out\nfrom labelsvc.labels.proof import prove\n"
        "p = lay_out(TAG, [TAG_CONTENT], language='en'); prove(draw(p, title='t', language='en'), p)"
    )
    print("beside the imports of the libraries, each in a fresh process")
    show("a tag, placed, drawn and proved", cold(tag), cold(imports), "<= 1.5x")
    print(f"{given.memory} labels in chunks: {memory_of(given.memory):.1f} MB over the first chunk, <= 10 MB")


if __name__ == "__main__":
    main()
