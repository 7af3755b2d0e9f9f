"""A label goes to a printer: what the printer is asked first, how it is told the size, and what becomes of the job.

A page must come out dot for dot. So scaling is switched off, the size is given in hundredths of a millimetre and never by a name
that a queue may replace, and the printer is told to refuse what it cannot do instead of doing something else.
"""

from __future__ import annotations

import re
import time
from collections.abc import Callable
from dataclasses import dataclass
from itertools import count

from labelsvc.errors import PrinterError
from labelsvc.printing import ipp
from labelsvc.printing.address import PATIENCE_FOR_A_DOCUMENT, Address, LostAnswerError, ask
from labelsvc.printing.ipp import Attributes, Message, Value
from labelsvc.printing.state import BUSY, NOT_FOUND, JobState, PrinterState, job_state, printer_state, status_in_words

PDF, PWG_RASTER = "application/pdf", "image/pwg-raster"
_WAIT_WHILE_BUSY = 60.0  # seconds: a printer that takes one job at a time is through with a label long before
_ASK_AGAIN = 0.5  # seconds
_LOOKS = 4  # for a job whose answer was lost; what was lost in between often comes back in a moment
_LATEST = 200  # jobs that are looked through, the newest of those that are over
_DONE = 0x00FF  # the last status that means yes
_NEAR = 10  # dots per inch: 203 stands for 8 dots a mm (203.2), 300 for 12 (304.8), 600 for 24 (609.6)
_ABOUT_A_PRINTER = (
    "printer-state",
    "printer-state-reasons",
    "printer-is-accepting-jobs",
    "document-format-supported",
    "job-creation-attributes-supported",
    "print-scaling-supported",
    "media-size-supported",
    "media-top-margin-supported",
    "media-bottom-margin-supported",
    "media-left-margin-supported",
    "media-right-margin-supported",
    "printer-resolution-supported",
    "pwg-raster-document-resolution-supported",
)
_MEDIA_TYPE = re.compile(r"[a-z]{1,20}/[a-z0-9.+-]{1,40}", re.ASCII)
_numbers = count(1)


@dataclass(frozen=True)
class Document:
    """Labels to be printed, one a page.

    Args:
        title: what the printer's own list of jobs calls it, like no other of ours: it is found by that where an answer is lost.
        pdf: the pages.
        width_mm: of a page.
        height_mm: of a page.
        dots_per_mm: of the grid it was drawn for.
        raster: writes the pages as PWG Raster at so many dots per inch, for a printer that takes no PDF.
    """

    title: str
    pdf: bytes
    width_mm: float
    height_mm: float
    dots_per_mm: float
    raster: Callable[[int], bytes]

    @property
    def size(self) -> tuple[int, int]:
        """Width and height in hundredths of a millimetre."""
        return round(self.width_mm * 100), round(self.height_mm * 100)


@dataclass(frozen=True)
class Printer:
    """A printer of the workshop.

    Args:
        name: what people call it.
        address: where it is.
    """

    name: str
    address: Address

    def state(self) -> PrinterState:
        """Return what it says of itself.

        Raises:
            PrinterError: it does not answer.
        """
        wanted = [Value(ipp.KEYWORD, name) for name in _ABOUT_A_PRINTER]
        answer = self._asked(ipp.GET_PRINTER_ATTRIBUTES, {"requested-attributes": wanted})
        return printer_state(answer, ipp.PRINTER)

    def job(self, number: int) -> JobState:
        """Return what it says of a job.

        Raises:
            PrinterError: it does not answer, or no longer knows the job.
        """
        about = [Value(ipp.KEYWORD, "job-state"), Value(ipp.KEYWORD, "job-state-reasons")]
        job = self._asked(ipp.GET_JOB_ATTRIBUTES, {"job-id": [Value(ipp.INTEGER, number)], "requested-attributes": about})
        reasons = [Value(ipp.KEYWORD, "printer-state-reasons")]
        itself = self._asked(ipp.GET_PRINTER_ATTRIBUTES, {"requested-attributes": reasons})
        return job_state(job.first(ipp.JOB), itself.first(ipp.PRINTER))

    def cancel(self, number: int) -> None:
        """Take a job back.

        Raises:
            PrinterError: it does not answer, or the job is over.
        """
        self._asked(ipp.CANCEL_JOB, {"job-id": [Value(ipp.INTEGER, number)]})

    def send(self, document: Document, copies: int = 1) -> int:
        """Send a document, and return the number of the job; a busy printer is asked again for a while.

        Raises:
            PrinterError: it does not answer, cannot print this, or refuses.
            UnsureError: it may have it or not.
        """
        state = self.state()
        form, content = self._form(state, document)
        operation = {
            "job-name": [Value(ipp.NAME, document.title)],
            "ipp-attribute-fidelity": [Value(ipp.BOOLEAN, True)],
            "document-format": [Value(ipp.MIME, form)],
        }
        until = time.monotonic() + _WAIT_WHILE_BUSY
        while True:
            try:
                answer = self._asked(ipp.PRINT_JOB, operation, job_attributes(state, document, copies), content)
                break
            except _BusyError:
                if time.monotonic() > until:
                    raise
                time.sleep(_ASK_AGAIN)
            except LostAnswerError:
                return self._sent_after_all(document.title)
        number = _only(answer.first(ipp.JOB), "job-id")
        return number if isinstance(number, int) else self._sent_after_all(document.title)

    def find(self, title: str) -> int | None:
        """Return the number of our job of a title, over or not; None where the printer lists none (RFC 8011, section 4.2.6).

        Raises:
            PrinterError: it does not answer.
        """
        about = [Value(ipp.KEYWORD, "job-id"), Value(ipp.KEYWORD, "job-name")]
        ours = {"my-jobs": [Value(ipp.BOOLEAN, True)], "limit": [Value(ipp.INTEGER, _LATEST)], "requested-attributes": about}
        for which in ("not-completed", "completed"):
            answer = self._asked(ipp.GET_JOBS, {**ours, "which-jobs": [Value(ipp.KEYWORD, which)]})
            for job in answer.all(ipp.JOB):
                number = _only(job, "job-id")
                if _only(job, "job-name") == title and isinstance(number, int):
                    return number
        return None

    def _sent_after_all(self, title: str) -> int:
        """Return the number of a job that the printer took though its answer was lost.

        Raises:
            UnsureError: the printer lists no such job, or does not answer.
        """
        got, hint = "", ""
        for look in range(_LOOKS):
            time.sleep(_ASK_AGAIN if look else 0)
            try:
                number = self.find(title)
            except PrinterError as error:
                got, hint = f"its answer was lost, and now {error.got}", "Look at the printer: it may still come out."
                continue
            if number is not None:
                return number
            got, hint = "its answer was lost, and it lists no such job", "Look whether it came out before it is printed again."
        raise UnsureError("printer", f"{self.name} to say that it has the label", got, hint)

    def _form(self, state: PrinterState, document: Document) -> tuple[str, bytes]:
        """Return the media type a printer gets and the content; refuse what it cannot print before anything is sent."""
        if not state.prints(document.size):
            size = f"{document.width_mm:g} x {document.height_mm:g} mm"
            raise PrinterError("printer", f"{self.name} to print labels of {size}", "one that does not", _OTHER_STOCK)
        if PDF in state.formats or not state.formats:
            return PDF, document.pdf
        if PWG_RASTER not in state.formats:
            kinds = ", ".join(sorted(filter(_is_plain, state.formats))[:8]) or "kinds that it does not name"
            raise PrinterError("printer", f"{self.name} to take {PDF} or {PWG_RASTER}", kinds, _OPEN_PDF)
        wanted = document.dots_per_mm * 25.4
        near = min(state.resolutions, key=lambda dpi: abs(dpi - wanted), default=None)
        if near is None or abs(near - wanted) > _NEAR:
            has = " and ".join(str(dpi) for dpi in state.resolutions) or "no"
            expected = f"{self.name} with {document.dots_per_mm:g} dots a mm, about {wanted:.0f} an inch"
            raise PrinterError("printer", expected, f"one with {has} dots an inch", _OTHER_DOTS)
        return PWG_RASTER, document.raster(near)

    def _asked(self, operation: int, about: Attributes, job: Attributes | None = None, document: bytes = b"") -> Message:
        first = {
            "attributes-charset": [Value(ipp.CHARSET, "utf-8")],
            "attributes-natural-language": [Value(ipp.LANGUAGE, "en")],
            "printer-uri": [Value(ipp.URI, self.address.uri)],
        }
        behind = {"job-id": about["job-id"]} if "job-id" in about else {}  # RFC 8011, 4.3: right after the printer's address
        who = {"requesting-user-name": [Value(ipp.NAME, "labelsvc")]}
        groups: list[tuple[int, Attributes]] = [(ipp.OPERATION, {**first, **behind, **who, **about})]
        if job:
            groups.append((ipp.JOB, job))
        message = Message(operation, next(_numbers) % 0x7FFFFFFF + 1, tuple(groups))
        patience = {"patience": PATIENCE_FOR_A_DOCUMENT} if document else {}
        answer = ask(self.address, message, self.name, document, **patience)
        if answer.code > _DONE:
            kind = {BUSY: _BusyError, NOT_FOUND: GoneError}.get(answer.code, PrinterError)
            raise kind("printer", f"{self.name} to do it", status_in_words(answer.code), _REFUSED)
        return answer


class UnsureError(PrinterError):
    """The printer may have what it was sent or not: its answer was lost, and what it was asked afterwards did not tell."""


class GoneError(PrinterError):
    """The printer has no such job: it has forgotten it, or was switched off in between."""


class _BusyError(PrinterError):
    """The printer is at another job, and takes this one when it is through."""


_OTHER_STOCK = "Load other labels, choose another printer, or open the PDF."
_OPEN_PDF = "Open the PDF and print it from there."
_OTHER_DOTS = "Print with the printer's own dots (--dots-per-mm), or open the PDF and print it from there."
_REFUSED = "Look at the printer, or open the PDF and print it from there."


def job_attributes(state: PrinterState, document: Document, copies: int = 1) -> Attributes:
    """Return what a job asks for: the copies, no scaling, and the size as a collection (PWG 5100.7, media-col).

    What a printer does not list it would refuse; scaling is switched off wherever it can be.
    """
    wide, high = document.size
    size = {"x-dimension": [Value(ipp.INTEGER, wide)], "y-dimension": [Value(ipp.INTEGER, high)]}
    sides = ("top", "bottom", "left", "right") if state.unbordered else ()
    margins = {f"media-{side}-margin": [Value(ipp.INTEGER, 0)] for side in sides}
    wanted: dict[str, list[Value]] = {}
    if copies > 1:
        wanted["copies"] = [Value(ipp.INTEGER, copies)]
    if "none" in state.print_scalings:
        wanted["print-scaling"] = [Value(ipp.KEYWORD, "none")]
    if "media-col" in state.job_attributes or state.sizes:
        wanted["media-col"] = [Value(ipp.COLLECTION, {"media-size": [Value(ipp.COLLECTION, size)], **margins})]
    return wanted


def _only(attributes: Attributes, name: str) -> object:
    return next((value.of for value in attributes.get(name, ())), None)


def _is_plain(media_type: str) -> bool:
    return _MEDIA_TYPE.fullmatch(media_type) is not None
