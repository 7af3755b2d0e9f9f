"""Labels on their way to a printer: sent one after the other while the page goes on, and how it stands with them.

What is recorded of a label is recorded before it comes here. What was sent, and how it ended, is kept beside the ledger, so that
it is told after a restart too; what is not over is asked of the printer anew.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Sequence
from contextlib import suppress

from labelsvc.errors import ConflictError, LabelsvcError, PrinterError, StorageError
from labelsvc.ledger import sendings
from labelsvc.ledger.database import Ledger
from labelsvc.ledger.printers import KnownPrinter
from labelsvc.ledger.sendings import Sending, SentLabel
from labelsvc.operations import printers
from labelsvc.operations.issuing import Issued
from labelsvc.printing.send import GoneError, UnsureError
from labelsvc.printing.state import JobState

KEPT = 500  # sendings remembered; a day of a large workshop is a fifth of it
_SHOWN = 10  # on the page of the printers
_TOO_LARGE = 2**63  # for a row's number in either kind of database
_ENDED = "The service ended while it sent this."


class OnItsWay:
    """Labels of one press.

    Args:
        ledger: beside which it is kept.
        sending: the labels, where they go, and what is kept of them.
    """

    def __init__(self, ledger: Ledger, sending: Sending) -> None:
        self.sending = sending
        self.turn = threading.Lock()  # held by the press that sends them once more
        self._ledger = ledger
        self._now: dict[int, JobState] = {}  # how it stood with jobs that are not over when the printer was last asked

    @property
    def is_over(self) -> bool:
        """Tell whether all are printed, or some never will be."""
        return bool(self.sending.problem) or (self.sending.is_sent and all(one.state for one in self.sending.labels))

    @property
    def left(self) -> tuple[SentLabel, ...]:
        """The labels that are not known to be printed."""
        return tuple(one for one in self.sending.labels if one.state != "completed")

    @property
    def is_unsure(self) -> bool:
        """Tell whether the printer may have a label without having said so."""
        return any(one.is_unsure for one in self.sending.labels)

    @property
    def in_words(self) -> str:
        """How it stands, in one sentence."""
        name, labels = self.sending.printer.name, self.sending.labels
        count = f" {len(labels) - len(self.left)} of {len(labels)} are printed." if len(labels) > 1 else ""
        if self.sending.problem:
            return f"{self.sending.problem}{count}"
        if self.is_over:
            return f"Printed on {name}."
        kept = next((state for state in list(self._now.values()) if state.reasons), None)
        return printers.in_words(name, kept or JobState("printing", ())) + count

    def send(self, labels: Sequence[Issued]) -> None:
        """Send all, up to the first that cannot be."""
        try:
            for issued, one in zip(labels, self.sending.labels, strict=True):
                self._send(issued, one)
                self.sending.is_sent = one is self.sending.labels[-1]
                self._keep()
        except UnsureError as error:
            self._ended(f"Whether {self.sending.printer.name} has the label is not known: {error.got}. {error.hint}")
        except PrinterError as error:
            self._ended(f"{self.sending.printer.name} did not print it: {error.got}. {error.hint}")
        except LabelsvcError as error:
            self._ended(f"{self.sending.printer.name} did not print it: {error.message}")

    def look(self) -> None:
        """Ask the printer about the jobs that are not over."""
        before = self._kept()
        with suppress(PrinterError):  # it has the label; the next look may find it again
            self._search()
            for one in self.sending.labels:
                if one.job is not None and not one.state and not self._ask(one, one.job):
                    break
        if self._kept() != before:
            self._keep()

    def take_back(self) -> None:
        """Take back what has not come out, the last first, so that no label comes out twice when it is sent once more.

        Raises:
            ConflictError: more is still being sent.
            PrinterError: the printer keeps one or does not answer, so it may still come out.
        """
        if not self.sending.is_sent:
            raise ConflictError("printing", "labels that have all been sent", "some that are being sent", "Wait a moment.")
        with printers.may_still_come_out(self.sending.printer):
            self._search()
        for one in reversed(self.sending.labels):
            if one.job is not None and not one.state:
                state = printers.take_back(self.sending.printer, one.job)
                one.state = state.state
                if state.has_failed:
                    self.sending.problem = f"Taken back from {self.sending.printer.name}."
        self._keep()

    def was_sent_again(self, number: int) -> None:
        """Keep under which number the labels were sent once more."""
        self.sending.again = number
        self._keep()

    def was_interrupted(self) -> None:
        """Take up what another run of the service was sending: the label it was at may be at the printer or not."""
        self.sending.is_sent = True
        first = next((one for one in self.sending.labels if one.job is None), None)
        if first is not None:
            first.is_unsure = True
            self.sending.problem = _ENDED

    def _send(self, issued: Issued, one: SentLabel) -> None:
        try:
            one.job = printers.send(self.sending.printer, issued.pdf, one.title, issued.proof.dots_per_mm, patience=0).job
        except UnsureError:
            one.is_unsure = True
            raise
        with suppress(PrinterError, StorageError):
            self.sending.printer = printers.met(self._ledger, self.sending.printer)  # drawn for its dots from the next one on

    def _search(self) -> None:
        """Look among the printer's jobs for those labels that it may have without having said so."""
        for one in self.sending.labels:
            if one.is_unsure and (job := printers.at(self.sending.printer).find(one.title)) is not None:
                one.job, one.is_unsure = job, False
                rest = sum(other.job is None for other in self.sending.labels)
                self.sending.problem = f"The answer to one was lost. Not sent after it: {rest}." if rest else ""

    def _ask(self, one: SentLabel, job: int) -> bool:
        """Ask how it stands with a job; tell whether it is over, so that the next is worth asking about."""
        name = self.sending.printer.name
        try:
            state = printers.at(self.sending.printer).job(job)
        except GoneError:
            self.sending.problem = f"{name} no longer knows of it: look whether it came out before it is printed again."
            return False
        if one.state:
            return True  # taken back while the printer was asked
        self._now[job] = state
        if state.has_failed:
            self.sending.problem = printers.in_words(name, state)
        if state.is_over:
            one.state = state.state
            self._now.pop(job, None)
        return state.is_over

    def _ended(self, problem: str) -> None:
        self.sending.problem, self.sending.is_sent = problem, True
        self._keep()

    def _kept(self) -> tuple[object, ...]:
        return (self.sending.problem, *((one.job, one.state) for one in self.sending.labels))

    def _keep(self) -> None:
        with suppress(StorageError), self._ledger.writing() as connection:  # where it cannot be written, it is told until the end
            sendings.change_sending(connection, self.sending)


class Tray:
    """All that is on its way; each printer gets one press after the other.

    Args:
        ledger: beside which it is kept.
    """

    def __init__(self, ledger: Ledger) -> None:
        self._ledger = ledger
        self._there: OrderedDict[int, OnItsWay] = OrderedDict()
        self._locks: dict[str, threading.Lock] = {}
        self._lock = threading.Lock()

    def put(self, printer: KnownPrinter, kind: str, labels: Sequence[Issued]) -> int:
        """Send labels from now on, and return the number under which to ask for them."""
        sent = [SentLabel(one.fact, one.lots, printers.titled(f"Label {one.lots[0]}")) for one in labels]
        with self._ledger.writing() as connection:
            sending = sendings.put_sending(connection, printer, kind, sent, KEPT)
        on_its_way = OnItsWay(self._ledger, sending)
        with self._lock:
            self._remember(on_its_way)
            turn = self._locks.setdefault(printer.uri, threading.Lock())

        def send() -> None:
            with turn:
                on_its_way.send(labels)

        threading.Thread(target=send, name=f"to {printer.name}", daemon=True).start()
        return sending.number

    def find(self, number: int) -> OnItsWay | None:
        """Return what is on its way under a number, also from before a restart; None where it is forgotten or never was."""
        if not 0 < number < _TOO_LARGE:
            return None
        with self._lock:
            if number not in self._there:
                with self._ledger.reading() as connection:
                    sending = sendings.sending_numbered(connection, number)
                if sending is None:
                    return None
                found = OnItsWay(self._ledger, sending)
                if not sending.is_sent:
                    found.was_interrupted()
                self._remember(found)
            return self._there[number]

    def latest(self) -> list[Sending]:
        """Return what was sent last, the newest first."""
        with self._ledger.reading() as connection:
            return sendings.latest_sendings(connection, _SHOWN)

    def _remember(self, on_its_way: OnItsWay) -> None:
        self._there[on_its_way.sending.number] = on_its_way
        while len(self._there) > KEPT:
            self._there.popitem(last=False)
