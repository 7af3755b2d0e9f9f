"""A label leaves the printer: laid out on its stock, drawn, proved, and kept as a fact; printed again, or void.

Where a content does not fit, the error says which of the layouts at hand would hold it.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import islice
from typing import Any

from labelsvc.errors import ConflictError, DoesNotFitError, LayoutError, NotFoundError, PrinterError
from labelsvc.labels.content import LabelContent
from labelsvc.labels.draw import draw, lay_out
from labelsvc.labels.layout import Layout
from labelsvc.labels.marks import Placed
from labelsvc.labels.proof import PageProof, Proof, prove
from labelsvc.labels.sheet import Sheet
from labelsvc.labels.shelf import Shelf
from labelsvc.ledger import issued
from labelsvc.ledger.database import Connection, Ledger
from labelsvc.ledger.state import LotState
from labelsvc.operations.recording import record
from labelsvc.rules.finding import Finding

SECOND = "_second"  # ends the name of an element that says the same in a second language
CHUNK = 250  # labels of one document: a longer one grows in memory with every page
_NOT_LAW = "Practice of this tool; not a rule of law"


@dataclass(frozen=True)
class Stock:
    """What a label is printed on.

    Args:
        layout: name of the layout; the usual one for the purpose if None.
        sheet: name of the sheet with several labels; labels of their own if None.
        start: the first position of the first sheet.
        dots_per_mm: of the printer; those of the sheet or the layout if None.
        loaded: names of the layouts whose stock is in the printer; nothing where that is not known.
    """

    layout: str | None = None
    sheet: str | None = None
    start: int = 1
    dots_per_mm: float | None = None
    loaded: tuple[str, ...] = ()


USUAL = Stock()


@dataclass(frozen=True)
class Printout:
    """One label to be issued.

    Args:
        key: the code of the lot it is for, or another name where it is for several.
        lots: the codes it stands for.
        content: what it says.
        market: it is made for, or None.
        allergens: the law's names of those it declares.
        findings: what the person should hear of.
    """

    key: str
    lots: tuple[str, ...]
    content: LabelContent
    market: str | None = None
    allergens: tuple[str, ...] = ()
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True)
class Issued:
    """Labels that were proved and may leave the printer.

    Args:
        pdf: the document.
        fact: the fact that keeps what it says; an earlier one where nothing has changed since.
        lots: the codes, one a label.
        findings: what the person should hear of.
        proof: what was measured.
    """

    pdf: bytes
    fact: int
    lots: tuple[str, ...]
    findings: tuple[Finding, ...]
    proof: Proof


@dataclass(frozen=True)
class Press:
    """A layout with its stock, ready to print: what every step from the content to the proof needs.

    Args:
        shelf: the layouts at hand.
        layout: the one that is used.
        sheet: the sheet, or None.
        start: the first position of the first sheet.
        dots_per_mm: of the printer.
        language: of the captions and the document.
        market: it is for, or None.
    """

    shelf: Shelf
    layout: Layout
    sheet: Sheet | None
    start: int
    dots_per_mm: float
    language: str
    market: str | None = None

    def place(self, contents: Sequence[LabelContent]) -> list[Placed]:
        """Return placed labels.

        Raises:
            DoesNotFitError: something has no room; the hint names the layouts that would do.
        """
        try:
            return lay_out(self.layout, contents, dots_per_mm=self.dots_per_mm, language=self.language)
        except DoesNotFitError as error:
            raise DoesNotFitError(error.field, error.expected, error.got, self._instead(contents)) from None

    def draw(self, placed: Sequence[Placed], title: str) -> bytes:
        """Return the document of placed labels."""
        return draw(placed, title=title, language=self.language, sheet=self.sheet, start=self.start)

    def prove(self, pdf: bytes, placed: Sequence[Placed]) -> Proof:
        """Return the proof of a document."""
        return prove(pdf, placed, self.dots_per_mm, sheet=self.sheet, start=self.start)

    def after(self, count: int) -> Press:
        """Return the same with its sheet as it is when so many more labels are off it."""
        if self.sheet is None:
            return self
        return replace(self, start=(self.start - 1 + count) % self.sheet.positions + 1)

    def _instead(self, contents: Sequence[LabelContent]) -> str:
        """Name the layouts of the same purpose that would hold these contents."""
        would_do = [
            other.name
            for other in self.shelf.for_purpose(self.layout.purpose, self.market)
            if other.name != self.layout.name and _says_as_much(other, contents) and self._holds(other, contents)
        ]
        if would_do:
            return f"It would fit: {', '.join(would_do)}"
        return "None of the layouts at hand would hold it: shorten the words"

    def _holds(self, layout: Layout, contents: Sequence[LabelContent]) -> bool:
        try:
            lay_out(layout, contents, dots_per_mm=self.dots_per_mm, language=self.language)
        except LayoutError:
            return False
        return True


def _says_as_much(layout: Layout, contents: Sequence[LabelContent]) -> bool:
    """Tell whether a layout leaves out nothing that a content says, and is not made for a second language none of them has."""
    is_silent = any(content.runs(name) for content in contents for name in layout.leaves_out)
    second = [name for name in layout.elements if name.endswith(SECOND)]
    return not is_silent and (not second or any(content.runs(name) for content in contents for name in second))


def press(shelf: Shelf, stock: Stock, usual: str, language: str, market: str | None = None) -> Press:
    """Return what labels are printed with.

    Args:
        shelf: the layouts at hand.
        stock: what the person chose.
        usual: the layout of this purpose where none was chosen.
        language: of the label.
        market: it is sold in, or None.

    Raises:
        LayoutError: no such layout or sheet, one of another purpose or for other markets.
        PrinterError: what is loaded is for other labels.
    """
    layout = shelf.layout(stock.layout or on_loaded(shelf, stock.loaded, usual, market))
    fitting = [one.name for one in shelf.for_purpose(shelf.layout(usual).purpose, market)]
    if layout.name not in fitting:
        raise LayoutError("layout", f"one of {', '.join(fitting)}", layout.name)
    sheet = None if stock.sheet is None else shelf.sheet(stock.sheet)
    dots = stock.dots_per_mm or (layout.dots_per_mm if sheet is None else sheet.dots_per_mm)
    return Press(shelf, layout, sheet, stock.start, dots, language, market)


def on_loaded(shelf: Shelf, loaded: Sequence[str], usual: str, market: str | None = None) -> str:
    """Return the name of the layout for what is loaded in a printer: the usual one where its size is, else one that is.

    Args: as of ``press``; ``loaded`` are names of layouts, none where it is not known.

    Raises:
        PrinterError: no label of this purpose goes on what is loaded.
    """
    wanted = shelf.layout(usual)
    there = [shelf.layout(name) for name in loaded if name in shelf.names()]
    if not there or (wanted.width_mm, wanted.height_mm) in [(one.width_mm, one.height_mm) for one in there]:
        return usual
    fitting = [one.name for one in there if one.purpose == wanted.purpose and (not one.markets or market in one.markets)]
    if not fitting:
        expected = f"one with labels for {wanted.title.lower()} loaded"
        raise PrinterError("printer", expected, f"one with {', '.join(loaded)}", "Choose another printer, or open the PDF.")
    return fitting[0]


def issue(ledger: Ledger, printouts: Sequence[Printout], with_press: Press, *, now: dt.datetime, who: str) -> Issued:
    """Place, draw, prove and keep labels.

    Args:
        ledger: where.
        printouts: at least one.
        with_press: layout and stock.
        now: the present.
        who: who prints them.

    Raises:
        LayoutError: something does not fit, or the proof failed.
    """
    placed = with_press.place([one.content for one in printouts])
    keys = tuple(one.key for one in printouts)
    pdf = with_press.draw(placed, title_of(with_press.layout, keys))
    proof = with_press.prove(pdf, placed)
    fact = _keep(ledger, printouts, with_press, proof, now, who)
    notes = [_as_finding(note) for page in proof.pages for note in page.notes]
    findings = tuple(dict.fromkeys([*(finding for one in printouts for finding in one.findings), *notes]))
    return Issued(pdf, fact, keys, findings, proof)


def issue_in_chunks(
    ledger: Ledger,
    printouts: Sequence[Printout],
    with_press: Press,
    *,
    now: dt.datetime,
    who: str,
    progress: Callable[[int], None] = lambda done: None,
) -> Iterator[Issued]:
    """Yield documents of at most ``CHUNK`` labels, each proved and kept before the next is begun.

    Args: as of ``issue``; ``progress`` hears how many labels are done.
    """
    coming, done = iter(printouts), 0
    while some := list(islice(coming, CHUNK)):
        yield issue(ledger, some, with_press, now=now, who=who)
        done += len(some)
        with_press = with_press.after(len(some))
        progress(done)


def title_of(layout: Layout, keys: Sequence[str]) -> str:
    """Return the title of a document of labels."""
    more = f" and {len(keys) - 1} more" if len(keys) > 1 else ""
    return f"{layout.title} {keys[0]}{more}"


def _as_finding(note: str) -> Finding:
    return Finding("labels.symbol", "note", False, None, None, None, None, None, "read", _NOT_LAW, note)


def _keep(ledger: Ledger, printouts: Sequence[Printout], with_press: Press, proof: Proof, now: dt.datetime, who: str) -> int:
    """Record what the labels say, unless the last issue of each says just the same and still stands."""
    content = {one.key: one.content.as_json() for one in printouts}
    layout, first = with_press.layout, printouts[0]
    with ledger.reading() as connection:
        last = next((one for one in standing_labels(connection, first.lots[0]) if one["layout"] == layout.name), None)
    if last and last["layout_digest"] == layout.digest and last["content"] == content:
        return int(last["fact"])
    given = {
        "lots": list(dict.fromkeys(lot for one in printouts for lot in one.lots)),
        "layout": layout.name,
        "layout_digest": layout.digest,
        "content": content,
        "market": first.market,
        "language": with_press.language,
        "rules": sorted({finding.rule for one in printouts for finding in one.findings}),
        "allergens": sorted({allergen for one in printouts for allergen in one.allergens}),
        "proof": {"dots_per_mm": f"{proof.dots_per_mm:g}", "pages": [proof_said(page) for page in proof.pages]},
    }
    return record(ledger, "issue_label", {key: value for key, value in given.items() if value is not None}, now=now, who=who).fact


def proof_said(page: PageProof) -> dict[str, Any]:
    """Return the figures of one label's proof as text: what was decoded and measured."""
    return {
        "symbols": [f"{identifier} {data.decode('ascii')}" for identifier, data in page.symbols],
        "module_mm": {name: f"{value:.3f}" for name, value in page.module_mm.items()},
        "bar_height_mm": {name: f"{value:.2f}" for name, value in page.bar_height_mm.items()},
        "ink_in_hole": page.ink_in_hole,
        "ink_in_quiet_zones": page.ink_in_quiet_zones,
        "smallest_x_mm": _figure(page.smallest_x_mm),
        "printed_x_mm": _figure(page.printed_x_mm),
        "notes": list(page.notes),
        "left_aside": [f"{identifier} {data.decode('latin-1')}" for identifier, data in page.left_aside],
    }


def _figure(value: float | None) -> str | None:
    return None if value is None else f"{value:.3f}"


def standing_labels(connection: Connection, code: str) -> list[dict[str, Any]]:
    """Return the labels issued for a lot that are not void, newest first."""
    return [label for label in issued.labels_of(connection, code) if not label["void"]]


def as_issued(connection: Connection, codes: Sequence[str], wanted: Callable[[Layout], bool], shelf: Shelf) -> bytes:
    """Draw what the last standing label of each lot says; a lot without one is left out; nothing is recorded.

    Args:
        connection: where.
        codes: the lots.
        wanted: which layouts count.
        shelf: the layouts at hand.

    Raises:
        NotFoundError: none of them has such a label.
    """
    found: dict[str, dict[str, Any]] = {}
    for code in codes:
        mine = (one for one in standing_labels(connection, code) if code in one["content"] and one["layout"] in shelf.names())
        last = next((one for one in mine if wanted(shelf.layout(one["layout"]))), None)
        if last is not None:
            found[code] = last
    if not found:
        raise NotFoundError("code", "a lot with a label that was printed", codes[0], "Print it first.")
    newest = max(found.values(), key=lambda label: int(label["fact"]))
    return _drawn_again(found, shelf.layout(newest["layout"]), str(newest.get("language") or "en"))


def _drawn_again(found: Mapping[str, dict[str, Any]], layout: Layout, language: str) -> bytes:
    contents = [LabelContent.from_json(label["content"][code]) for code, label in found.items() if label["layout"] == layout.name]
    placed = lay_out(layout, contents, language=language)
    return draw(placed, title=title_of(layout, list(found)), language=language)


def reprint(
    ledger: Ledger, fact: int, reason: str, *, layouts: Shelf, now: dt.datetime, who: str = "", dots: float | None = None
) -> Issued:
    """Print an issued label once more, as it was, and keep why.

    Args:
        ledger: where.
        fact: the fact that issued it.
        reason: such as: the first one was torn.
        layouts: the layouts at hand.
        now: the present.
        who: who prints it.
        dots: in a mm of the printer; those of the layout if None.

    Raises:
        ConflictError: no such label, it is void, or its layout was changed since.
    """
    label = _label(ledger, fact)
    layout = layouts.layout(label["layout"])
    if layout.digest != label["layout_digest"]:
        raise ConflictError("label", "a label whose layout is as it was", f"{layout.file}, which was changed", "Print it anew.")
    with_press = press(
        layouts, Stock(layout.name, dots_per_mm=dots), layout.name, str(label.get("language") or "en"), label.get("market")
    )
    placed = with_press.place([LabelContent.from_json(one) for one in label["content"].values()])
    keys = tuple(label["content"])
    pdf = with_press.draw(placed, title_of(layout, keys))
    proof = with_press.prove(pdf, placed)
    again = {"label": fact, "lots": label["lots"], "reason": reason}
    return Issued(pdf, record(ledger, "reprint_label", again, now=now, who=who).fact, keys, (), proof)


def void(ledger: Ledger, fact: int, reason: str, *, now: dt.datetime, who: str = "") -> int:
    """Record that an issued label is void: it was spoiled, or taken off and destroyed. Return the fact.

    Raises:
        ConflictError: no such label, or it is void already.
    """
    label = _label(ledger, fact)
    return record(ledger, "void_label", {"label": fact, "lots": label["lots"], "reason": reason}, now=now, who=who).fact


def _label(ledger: Ledger, fact: int) -> dict[str, Any]:
    with ledger.reading() as connection:
        label = issued.label(connection, fact)
    if label is None:
        raise ConflictError("label", "the number of the fact that issued a label", str(fact))
    if label["void"]:
        raise ConflictError("label", "a label that stands", f"label {fact}, which is void: {label['void']}")
    return label


def of_lot(state: LotState, content: LabelContent, findings: Sequence[Finding] = ()) -> Printout:
    """Return the printout of one lot."""
    return Printout(state.code, (state.code,), content, findings=tuple(findings))
