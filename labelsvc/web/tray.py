"""Labels on their way to a printer: sent one after the other while the page goes on, and how it stands with them.

Kept in memory: what is recorded of a label is recorded before it comes here, and after a restart the printer itself shows what
it has.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import zip_longest

from labelsvc.errors import ConflictError, LabelsvcError, PrinterError
from labelsvc.ledger.printers import KnownPrinter
from labelsvc.operations import printers
from labelsvc.operations.issuing import Issued
from labelsvc.printing.state import JobState

KEPT = 500  # presses remembered; a day of a large workshop is a fifth of it


@dataclass
class OnItsWay:
    """Labels of one press.

    Args:
        number: under which to ask for them.
        printer: where they go.
        kind: ``tag`` or ``sale-label``.
        labels: as issued, in order.
        jobs: numbers at the printer of those that it took.
        states: how it stood with them when the printer was last asked.
        problem: why the rest was not sent, or what became of one.
        is_sent: whether nothing more will be sent.
        again: under which number they were sent once more; None where they were not.
        turn: held by the press that sends them once more.
    """

    number: int
    printer: KnownPrinter
    kind: str
    labels: tuple[Issued, ...]
    jobs: list[int] = field(default_factory=list)
    states: dict[int, JobState] = field(default_factory=dict)
    problem: str = ""
    is_sent: bool = False
    again: int | None = None
    turn: threading.Lock = field(default_factory=threading.Lock)

    @property
    def is_over(self) -> bool:
        """Tell whether all are printed, or some never will be."""
        return bool(self.problem) or (self.is_sent and all(self._is_over(job) for job in self.jobs))

    @property
    def left(self) -> tuple[Issued, ...]:
        """The labels that are not known to be printed."""
        printed = [job in self.states and self.states[job].state == "completed" for job in self.jobs]
        return tuple(label for label, is_printed in zip_longest(self.labels, printed) if not is_printed)

    @property
    def in_words(self) -> str:
        """How it stands, in one sentence."""
        count = f" {len(self.labels) - len(self.left)} of {len(self.labels)} are printed." if len(self.labels) > 1 else ""
        if self.problem:
            return f"{self.problem}{count}"
        waiting = [state for job in self.jobs if (state := self.states.get(job)) and not state.is_over]
        kept = next((state for state in waiting if state.reasons), None)
        if kept is None and self.is_over:
            return f"Printed on {self.printer.name}."
        return printers.in_words(self.printer.name, kept or JobState("printing", ())) + count

    def look(self) -> None:
        """Ask the printer about the jobs that are not over."""
        for job in [one for one in self.jobs if not self._is_over(one)]:
            try:
                state = printers.at(self.printer).job(job)
            except PrinterError:
                return  # it has the label; the next look may find it again
            if self._is_over(job):
                continue  # taken back while the printer was asked
            self.states[job] = state
            if state.has_failed:
                self.problem = printers.in_words(self.printer.name, state)
            if not state.is_over:
                return

    def take_back(self) -> None:
        """Take back what has not come out, the last first, so that no label comes out twice when it is sent once more.

        Raises:
            ConflictError: more is still being sent.
            PrinterError: the printer keeps one or does not answer, so it may still come out.
        """
        if not self.is_sent:
            raise ConflictError("printing", "labels that have all been sent", "some that are being sent", "Wait a moment.")
        for job in reversed([one for one in self.jobs if not self._is_over(one)]):
            state = self.states[job] = printers.take_back(self.printer, job)
            if state.has_failed:
                self.problem = f"Taken back from {self.printer.name}."

    def send(self) -> None:
        """Send all, up to the first that cannot be."""
        try:
            for issued in self.labels:
                sent = printers.send(self.printer, issued.pdf, f"Label {issued.lots[0]}", issued.proof.dots_per_mm, patience=0)
                self.jobs.append(sent.job)
        except PrinterError as error:
            self.problem = f"{self.printer.name} did not print it: {error.got}. {error.hint}"
        except LabelsvcError as error:
            self.problem = f"{self.printer.name} did not print it: {error.message}"
        finally:
            self.is_sent = True

    def _is_over(self, job: int) -> bool:
        return job in self.states and self.states[job].is_over


class Tray:
    """All that is on its way; each printer gets one press after the other."""

    def __init__(self) -> None:
        self._there: OrderedDict[int, OnItsWay] = OrderedDict()
        self._locks: dict[str, threading.Lock] = {}
        self._lock = threading.Lock()
        self._last = 0

    def put(self, printer: KnownPrinter, kind: str, labels: Sequence[Issued]) -> int:
        """Send labels from now on, and return the number under which to ask for them."""
        with self._lock:
            self._last = number = self._last + 1
            self._there[number] = on_its_way = OnItsWay(number, printer, kind, tuple(labels))
            while len(self._there) > KEPT:
                self._there.popitem(last=False)
            turn = self._locks.setdefault(printer.uri, threading.Lock())

        def send() -> None:
            with turn:
                on_its_way.send()

        threading.Thread(target=send, name=f"to {printer.name}", daemon=True).start()
        return number

    def find(self, number: int) -> OnItsWay | None:
        """Return what is on its way under a number; None where it is forgotten or never was."""
        return self._there.get(number)
