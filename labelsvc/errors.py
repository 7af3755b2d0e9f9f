"""Every error a person can meet, in one sentence pattern: which field, what was expected, what was given.

The command line and the web each hold one table from class to exit code or HTTP status; nothing else decides that.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import Any


class LabelsvcError(Exception):
    """Base of all errors raised on purpose.

    Args:
        message: one sentence a person can act on.
    """

    def __init__(self, message: str) -> None:
        super().__init__(message)
        self.message = message

    def as_json(self) -> dict[str, Any]:
        """Return the body of the contract's ``error`` object: field, expected, got, message."""
        return {"field": None, "expected": None, "got": None, "message": self.message}


def as_json(value: object) -> str:
    """Return a value as JSON writes it, so that the text "3" is told from the number 3, and true from "true"."""
    return json.dumps(value, ensure_ascii=False, default=str)


class InputError(LabelsvcError, ValueError):
    """Something a person gave that the same person can put right.

    Args:
        field: the name of the field as the person wrote it, with its place in a list (``pieces[1].weight``).
        expected: what would have been accepted, as a noun phrase.
        got: what was given, as text; anything else is said as JSON writes it.
        hint: where to look or what to do, optional.
    """

    def __init__(self, field: str, expected: str, got: object, hint: str = "") -> None:
        self.field = field
        self.expected = expected
        self.got = got if isinstance(got, str) else as_json(got)
        self.hint = hint
        super().__init__(f"{field}: expected {expected}, got {self.got}{f'. {hint}' if hint else ''}")

    def as_json(self) -> dict[str, Any]:
        """Return field, expected, got and message."""
        return {"field": self.field, "expected": self.expected, "got": self.got, "message": self.message}

    def within(self, outer: str) -> InputError:
        """Return the same error with its field named from further outside (``mix[0]`` + ``weight``)."""
        field = f"{outer}.{self.field}" if self.field and not self.field.startswith("[") else f"{outer}{self.field}"
        return type(self)(field, self.expected, self.got, self.hint)


class UnitError(InputError):
    """A weight, percentage or other quantity that cannot be read."""


class CodeError(InputError):
    """A lot code or barcode number that is not valid."""


class LayoutError(InputError):
    """A label layout file that cannot be used, or content that does not fit it."""


class DoesNotFitError(LayoutError):
    """Content that has no room on a label at its smallest legal size; another layout may have it."""


class ConfirmationNeeded(InputError):  # noqa: N818 - a question to the person, not a failure
    """Unusual but possible: ask once; with the answer yes the same input is recorded and the answer kept in the fact."""

    def as_json(self) -> dict[str, Any]:
        """Return the question, and how a program says yes to it."""
        return {**super().as_json(), "answer": {"confirmed": True}}


class NotFoundError(InputError):
    """No lot, name or fact answers to what was asked for."""


class ConflictError(InputError):
    """What was asked for cannot follow what is already recorded."""


class StorageError(InputError):
    """The database cannot be read or written just now: nothing was recorded, and nothing half."""


class PrinterError(InputError):
    """A printer that does not answer, refuses, or cannot print what it is given; the label itself is issued all the same."""


class NotSignedInError(InputError):
    """Nobody knows who asks."""


class NotAllowedError(InputError):
    """Whoever asks is known, and may not do this."""


class BlockedError(LabelsvcError):
    """A release, sale or label that findings stop; there is no override.

    Args:
        message: what was stopped and why, in one sentence.
        findings: the findings, each as the contract's FINDING object.
        field: the field that named the thing.
        expected: what would have let it pass.
        got: what stopped it.
    """

    def __init__(
        self, message: str, findings: Sequence[Mapping[str, Any]], field: str = "code", expected: str = "", got: str = ""
    ) -> None:
        super().__init__(message)
        self.field = field
        self.findings = list(findings)
        self.expected = expected or "nothing that stops it"
        self.got = got or f"{len(self.findings)} finding(s)"

    def as_json(self) -> dict[str, Any]:
        """Return the error with its findings."""
        return {
            "field": self.field,
            "expected": self.expected,
            "got": self.got,
            "message": self.message,
            "findings": self.findings,
        }


class LedgerIntegrityError(LabelsvcError):
    """The sealed chain or a balance does not hold: stop, change nothing, name the first wrong fact."""
