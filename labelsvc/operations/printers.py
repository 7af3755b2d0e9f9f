"""The workshop's printers: which there are, how each is, and a label on its way to one.

A label is issued first, and its fact stands whether or not a printer is there. What the printer says of it is told, never
recorded.
"""

from __future__ import annotations

import secrets
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

from labelsvc.errors import ConflictError, InputError, NotFoundError, PrinterError
from labelsvc.labels.draw import draw, lay_out
from labelsvc.labels.layout import Purpose
from labelsvc.labels.proof import prove
from labelsvc.labels.raster import page_mm, printed
from labelsvc.labels.samples import sample_content
from labelsvc.labels.shelf import Shelf
from labelsvc.ledger import printers
from labelsvc.ledger.database import Connection, Ledger
from labelsvc.ledger.printers import KnownPrinter
from labelsvc.printing.address import Address
from labelsvc.printing.raster import Dots, pwg_raster
from labelsvc.printing.send import Document, GoneError, Printer
from labelsvc.printing.state import JobState

LONGEST_NAME = 40  # letters
PATIENCE = 5.0  # seconds in which a printer is through with a label, where nothing keeps it
_LOOK_AGAIN = 0.2  # seconds
_NAMES, _TEST = ("product_name", "food_name", "ingredient", "tub"), "TEST: THROW AWAY"  # so that it hangs on nothing
TRIED = "hanging_tag_60x120"  # the layout that is tried where nothing is said to be loaded


@dataclass(frozen=True)
class Sent:
    """A document that a printer took.

    Args:
        printer: its name.
        job: its number there.
        state: how it stands with it.
    """

    printer: str
    job: int
    state: JobState

    @property
    def in_words(self) -> str:
        """One sentence for the bench."""
        return in_words(self.printer, self.state)

    def as_json(self) -> dict[str, Any]:
        """Return it as commands answer."""
        said = {"name": self.printer, "job": self.job, "state": self.state.state, "reasons": list(self.state.reasons)}
        return {**said, "message": self.in_words}


def in_words(printer: str, state: JobState) -> str:
    """Return how it stands with a job, in one sentence."""
    if state.state == "completed":
        return f"Printed on {printer}."
    if state.has_failed:
        return f"{printer} gave it up: it was {state.state} there. Print it again, or open the PDF."
    if state.reasons:
        return f"{printer} has it and says: {', '.join(state.reasons)}. It prints when that is put right."
    return f"Printing on {printer}."


def known(ledger: Ledger) -> list[KnownPrinter]:
    """Return the printers by name."""
    with ledger.reading() as connection:
        return printers.all_printers(connection)


def named(ledger: Ledger, name: str) -> KnownPrinter:
    """Return the printer of a name.

    Raises:
        NotFoundError: there is none.
    """
    with ledger.reading() as connection:
        return _named(connection, name)


def add(ledger: Ledger, name: str, uri: str, layouts: tuple[str, ...], shelf: Shelf) -> KnownPrinter:
    """Keep a printer; one that answers is asked how fine its dots are, so that labels are drawn for them.

    Args:
        ledger: where.
        name: what people call it; one printer a name.
        uri: its address, with the scheme ipp, ipps, http or https.
        layouts: names of the layouts whose stock is loaded; none where anything may be.
        shelf: the layouts at hand.

    Raises:
        InputError: a name or address that is none; LayoutError: no such layout; ConflictError: the name is taken.
    """
    called = " ".join(name.split())
    if not 0 < len(called) <= LONGEST_NAME or not called.isprintable():
        got = f"{len(called)} letters" if called else "nothing"
        raise InputError("name", f"a name of at most {LONGEST_NAME} letters", got, "Such as: tags at the tub.")
    address = Address.parse(uri)
    wanted = tuple(dict.fromkeys(layouts))
    for one in wanted:
        shelf.layout(one)
    dots = _dots_of(Printer(called, address))
    with ledger.writing() as connection:
        if printers.printer_named(connection, called) is not None:
            raise ConflictError(
                "name", "a name that no printer has yet", called, "Remove that one first, or choose another name."
            )
        printers.put_printer(connection, called, address.uri, wanted, dots)
        return _named(connection, called)


def remove(ledger: Ledger, name: str) -> KnownPrinter:
    """Forget a printer; what it printed stays as it was. Return it.

    Raises:
        NotFoundError: there is none.
    """
    with ledger.writing() as connection:
        found = _named(connection, name)
        printers.drop_printer(connection, found.number)
    return found


def fits(one: KnownPrinter, shelf: Shelf, purpose: Purpose) -> bool:
    """Tell whether labels of a purpose are loaded in a printer; where nothing is said of it, any may be."""
    there = {layout.name for layout in shelf.all_for(purpose)}
    return not one.layouts or any(name in there for name in one.layouts)


def met(ledger: Ledger, one: KnownPrinter) -> KnownPrinter:
    """Return a printer that is there with the dots of its head; one that was off when it was entered is asked for them now.

    Raises:
        PrinterError: it does not answer.
    """
    return one if one.dots_per_mm else _with_dots(ledger, one, at(one).state().dots_per_mm)


def said_of(ledger: Ledger, one: KnownPrinter) -> dict[str, Any]:
    """Return a printer with how it is, as it says itself, as JSON; one that does not answer says so."""
    about = {"name": one.name, "uri": one.uri, "layouts": list(one.layouts), "dots_per_mm": one.dots_per_mm}
    try:
        state = at(one).state()
    except PrinterError as error:
        return {**about, "state": "no answer", "reasons": [], "message": f"{error.got}. {error.hint}"}
    about["dots_per_mm"] = one.dots_per_mm or _with_dots(ledger, one, state.dots_per_mm).dots_per_mm
    return {**about, "state": state.state, "reasons": list(state.reasons), "message": state.in_words}


def all_said(ledger: Ledger, several: list[KnownPrinter]) -> list[dict[str, Any]]:
    """Return ``said_of`` each; they are asked at once, so that ten which are switched off take no longer than one."""
    with ThreadPoolExecutor(max_workers=max(len(several), 1)) as asking:
        return list(asking.map(partial(said_of, ledger), several))


def send(one: KnownPrinter, pdf: bytes, title: str, dots_per_mm: float, patience: float = PATIENCE) -> Sent:
    """Send labels to a printer, and wait a little for what becomes of them.

    Args:
        one: the printer.
        pdf: the labels, one a page.
        title: of the job, as of ``titled``.
        dots_per_mm: of the grid they were drawn for.
        patience: seconds; with 0 nothing more is asked once the printer has it.

    Raises:
        PrinterError: it does not answer, refuses, or gave the job up; UnsureError: it may have it or not.
    """
    width, height = page_mm(pdf)

    def as_raster(dpi: int) -> bytes:
        pages = [Dots(page.width, page.height, page.dots) for page in printed(pdf, dots_per_mm)]
        return pwg_raster(pages, dpi, document.size)

    document = Document(title, pdf, width, height, dots_per_mm, as_raster)
    printer = at(one)
    job = printer.send(document)
    return follow(printer, job, patience) if patience else Sent(one.name, job, JobState("printing", ()))


def titled(what: str) -> str:
    """Return a title that no other job has: where the answer to it is lost, it is looked for by that."""
    return f"{what[:100]} ({secrets.token_hex(3)})"


def follow(printer: Printer, job: int, patience: float = PATIENCE) -> Sent:
    """Return how it stands with a job, when it is over, when something keeps the printer from it, or when patience ends.

    Raises:
        PrinterError: the printer does not answer, or gave the job up.
    """
    until = time.monotonic() + patience
    while True:
        state = printer.job(job)
        if state.has_failed:
            raise PrinterError(
                "printer", f"{printer.name} to print it", f"a job that was {state.state} there", "Look at the printer."
            )
        if state.is_over or state.reasons or time.monotonic() >= until:
            return Sent(printer.name, job, state)
        time.sleep(_LOOK_AGAIN)


def take_back(one: KnownPrinter, job: int) -> JobState:
    """Take a job back that is not over, and return how it ended; one that the printer no longer has counts as canceled.

    Raises:
        PrinterError: the printer keeps it or does not answer, so it may still come out.
    """
    printer = at(one)
    with may_still_come_out(one):
        try:
            state = printer.job(job)
            if not state.is_over:
                printer.cancel(job)
                state = JobState("canceled", ())
        except GoneError:
            state = JobState("canceled", ())
    return state


@contextmanager
def may_still_come_out(one: KnownPrinter) -> Iterator[None]:
    """Say of what goes wrong in the block that a label may still come out of a printer."""
    try:
        yield
    except PrinterError as error:
        expected = f"{one.name} to give back what it has not printed"
        raise PrinterError(
            "printer", expected, error.got, "It may still come out: look at the printer. A PDF can be opened instead."
        ) from error


def try_out(ledger: Ledger, one: KnownPrinter, shelf: Shelf) -> list[Sent]:
    """Print a sample of each label that is loaded, a hanging tag where nothing is said; nothing is recorded.

    Raises:
        PrinterError: as of ``send``.
    """
    sent, one = [], met(ledger, one)
    for name in one.layouts or (TRIED,):
        layout = shelf.layout(name)
        sample = sample_content(layout, shelf.shipped, "sample")
        marked = {name: _TEST for name in _NAMES if name in sample.elements}
        dots = one.dots_per_mm or layout.dots_per_mm
        content = replace(sample, elements={**sample.elements, **marked})
        placed = lay_out(layout, [content], dots_per_mm=dots, language="en")
        title = f"Sample of {layout.title}"
        pdf = draw(placed, title=title, language="en")
        prove(pdf, placed)
        sent.append(send(one, pdf, titled(title), dots))
    return sent


def at(one: KnownPrinter) -> Printer:
    """Return where a printer can be spoken to."""
    return Printer(one.name, Address.parse(one.uri))


def _with_dots(ledger: Ledger, one: KnownPrinter, dots: int | None) -> KnownPrinter:
    """Keep the dots that a printer says; it may say none."""
    if dots is None:
        return one
    with ledger.writing() as connection:
        printers.keep_dots(connection, one.number, dots)
    return replace(one, dots_per_mm=dots)


def _dots_of(printer: Printer) -> int | None:
    try:
        return printer.state().dots_per_mm
    except PrinterError:
        return None  # it is switched off, and may be entered all the same


def _named(connection: Connection, name: str) -> KnownPrinter:
    found = printers.printer_named(connection, name)
    if found is None:
        there = ", ".join(one.name for one in printers.all_printers(connection)) or "none yet"
        hint = f"There is: {there}." if there != "none yet" else "There is none yet: labelsvc printers add NAME URI"
        raise NotFoundError("printer", "the name of a printer of the workshop", name or "nothing", hint)
    return found
