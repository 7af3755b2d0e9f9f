"""What a printer says of itself and of a job, in plain words (RFC 8011, sections 5.3.7, 5.4.11, 5.4.12 and appendix B).

Only words that are known here are passed on: what else stands in an answer is nobody's who works here.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from labelsvc.printing.ipp import Attributes, Message, Range, Resolution

_STOPS = {
    "media-empty": "out of labels",
    "media-needed": "out of labels, or other ones are loaded",
    "media-jam": "labels are jammed",
    "cover-open": "the cover is open",
    "door-open": "a door is open",
    "interlock-open": "the cover is open",
    "input-tray-missing": "the tray is missing",
    "output-area-full": "the output is full",
    "marker-supply-empty": "the ribbon or ink is used up",
    "toner-empty": "the toner is used up",
    "paused": "it is paused",
    "moving-to-paused": "it is being paused",
    "shutdown": "it is shut down",
    "timed-out": "its queue cannot reach it",
    "offline": "its queue cannot reach it",
    "spool-area-full": "its memory is full",
}
_GOES_ON = {
    "media-low": "few labels left",
    "marker-supply-low": "little ribbon or ink left",
    "toner-low": "little toner left",
    "connecting-to-device": "its queue looks for it",
}
_UNNAMED = "something that it has no word of ours for"
_GRADES = ("-error", "-warning", "-report")
_STATES = {3: "ready", 4: "printing", 5: "stopped"}
_JOB_STATES = {
    3: "waiting", 4: "held", 5: "printing", 6: "stopped", 7: "canceled", 8: "aborted", 9: "completed",
}  # fmt: skip
_STATUSES = {
    0x0401: "it does not let us",
    0x0402: "it wants a name and password",
    0x0403: "it does not let us",
    0x0405: "it took too long",
    0x0406: "there is no such printer or job",
    0x0408: "the document is too long for it",
    0x040A: "it does not take documents of this kind",
    0x040B: "it cannot print labels of this size, or not as asked",
    0x0411: "it cannot read the document",
    0x0501: "it does not know how",
    0x0502: "it is out of order",
    0x0503: "it does not speak this version of the protocol",
    0x0504: "it has a fault",
    0x0505: "its memory is full",
    0x0506: "it takes no jobs now",
    0x0507: "it is busy",
}
NOT_FOUND, BUSY = 0x0406, 0x0507
_HEADS = {203: 8, 300: 12, 305: 12, 600: 24}  # dots per mm by dots per inch, common practice of label printers, no source
_DPI = {3: 1.0, 4: 2.54}  # dots per inch from dots in a unit


@dataclass(frozen=True)
class PrinterState:
    """A printer as it describes itself.

    Args:
        state: ready, printing, stopped, or unknown.
        reasons: why, in plain words; nothing where all is well.
        takes_jobs: whether it takes a job now.
        formats: media types of the documents it takes.
        job_attributes: names of what a job may ask for.
        print_scalings: keywords of how it may scale a page.
        sizes: width and height in hundredths of a millimetre that it can print, each a range.
        resolutions: dots per inch of its raster pages.
        unbordered: whether it says that it prints to the very edge.
    """

    state: str
    reasons: tuple[str, ...]
    takes_jobs: bool
    formats: tuple[str, ...]
    job_attributes: frozenset[str]
    print_scalings: frozenset[str]
    sizes: tuple[tuple[Range, Range], ...]
    resolutions: tuple[int, ...]
    unbordered: bool

    @property
    def dots_per_mm(self) -> int | None:
        """The dots of its head where it has one kind of them, as such heads are built; it rounds them to dots per inch."""
        return _HEADS.get(self.resolutions[0]) if len(self.resolutions) == 1 else None

    @property
    def in_words(self) -> str:
        """One line for a person, such as ``stopped: out of labels``."""
        said = self.state if self.takes_jobs else f"{self.state}, takes no jobs"
        return f"{said}: {', '.join(self.reasons)}" if self.reasons else said

    def prints(self, size: tuple[int, int]) -> bool:
        """Tell whether it can print a size; where it does not say, it may."""
        wide, high = size
        return not self.sizes or any(
            across.lower <= wide <= across.upper and along.lower <= high <= along.upper for across, along in self.sizes
        )


@dataclass(frozen=True)
class JobState:
    """A job as its printer describes it.

    Args:
        state: waiting, held, printing, stopped, canceled, aborted, completed, or unknown.
        reasons: what keeps the printer from it, in plain words.
    """

    state: str
    reasons: tuple[str, ...]

    @property
    def is_over(self) -> bool:
        """Tell whether nothing more will come of it."""
        return self.state in ("canceled", "aborted", "completed")

    @property
    def has_failed(self) -> bool:
        """Tell whether it ended without its labels."""
        return self.state in ("canceled", "aborted")


def printer_state(answer: Message, group: int) -> PrinterState:
    """Return what a printer says of itself."""
    found = answer.first(group)
    return PrinterState(
        _STATES.get(_first(found, "printer-state", 0), "unknown"),
        reasons_in_words(_texts(found, "printer-state-reasons")),
        _first(found, "printer-is-accepting-jobs", True) is not False,
        tuple(_texts(found, "document-format-supported")),
        frozenset(_texts(found, "job-creation-attributes-supported")),
        frozenset(_texts(found, "print-scaling-supported")),
        tuple(_sizes(found)),
        tuple(sorted({dpi for dpi in map(_dpi, _resolutions(found)) if dpi})),
        all(0 in _values(found, f"media-{side}-margin-supported") for side in ("top", "bottom", "left", "right")),
    )


def job_state(job: Attributes, printer: Attributes) -> JobState:
    """Return what a printer says of a job, with what it says of itself while the job is not over."""
    state = _JOB_STATES.get(_first(job, "job-state", 0), "unknown")
    said = JobState(state, what_stops(_texts(printer, "printer-state-reasons")))
    return JobState(state, ()) if said.is_over else said


def status_in_words(status: int) -> str:
    """Return why a printer refused, in plain words with the number of its status."""
    return f"{_STATUSES.get(status, 'no')} (status 0x{status:04x})"


def reasons_in_words(keywords: Iterable[str]) -> tuple[str, ...]:
    """Return the reasons of a state in plain words; one that is none of ours is told of where it is more than a report.

    >>> reasons_in_words(["media-empty-error", "media-low-warning", "none", "spying-report", "belt-worn-error"])
    ('out of labels', 'few labels left', 'something that it has no word of ours for')
    """
    known = {**_STOPS, **_GOES_ON}
    heard = [one for one in keywords if one != "none" and (_without_grade(one) in known or not one.endswith("-report"))]
    return tuple(dict.fromkeys(known.get(_without_grade(one), _UNNAMED) for one in heard))


def what_stops(keywords: Iterable[str]) -> tuple[str, ...]:
    """Return those reasons, in plain words, for which a printer waits until someone comes.

    >>> what_stops(["media-low-warning", "cover-open"])
    ('the cover is open',)
    """
    return tuple(dict.fromkeys(_STOPS[bare] for bare in map(_without_grade, keywords) if bare in _STOPS))


def _without_grade(keyword: str) -> str:
    return next((keyword.removesuffix(grade) for grade in _GRADES if keyword.endswith(grade)), keyword)


def _values(found: Attributes, name: str) -> list[Any]:
    return [value.of for value in found.get(name, ())]


def _texts(found: Attributes, name: str) -> list[str]:
    return [value for value in _values(found, name) if isinstance(value, str)]


def _first(found: Attributes, name: str, otherwise: Any) -> Any:
    return next(iter(_values(found, name)), otherwise)


def _sizes(found: Attributes) -> Iterable[tuple[Range, Range]]:
    for size in _values(found, "media-size-supported"):
        if isinstance(size, dict):
            across, along = (_range(_first(size, name, None)) for name in ("x-dimension", "y-dimension"))
            if across and along:
                yield across, along


def _range(value: object) -> Range | None:
    if isinstance(value, Range):
        return value
    return Range(value, value) if isinstance(value, int) else None


def _resolutions(found: Attributes) -> list[Any]:
    return _values(found, "pwg-raster-document-resolution-supported") or _values(found, "printer-resolution-supported")


def _dpi(value: object) -> int | None:
    if not isinstance(value, Resolution) or value.across != value.along or value.unit not in _DPI:
        return None
    return round(value.across * _DPI[value.unit])
