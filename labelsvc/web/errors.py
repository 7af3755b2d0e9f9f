"""The one table from error to HTTP status, and the page or JSON that an error becomes."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from flask import Flask, jsonify, render_template, request
from werkzeug.exceptions import HTTPException

from labelsvc.errors import (
    BlockedError,
    ConflictError,
    InputError,
    LabelsvcError,
    LedgerIntegrityError,
    NotAllowedError,
    NotFoundError,
    NotSignedInError,
    PrinterError,
    StorageError,
)

STATUSES: tuple[tuple[type[LabelsvcError], int], ...] = (
    (NotSignedInError, 401),
    (NotAllowedError, 403),
    (NotFoundError, 404),
    (ConflictError, 409),
    (StorageError, 503),
    (PrinterError, 503),
    (InputError, 400),
    (BlockedError, 422),
    (LedgerIntegrityError, 500),
)


def install(app: Flask) -> None:
    """Answer errors in the words of the error."""
    app.register_error_handler(LabelsvcError, _told)
    app.register_error_handler(HTTPException, _told_by_http)


def status_of(error: LabelsvcError) -> int:
    """Return the HTTP status of an error."""
    return next((status for kind, status in STATUSES if isinstance(error, kind)), 500)


def told(error: LabelsvcError, lead: str = "Expected") -> str:
    """Return an error as a page says it: without the name that programs give the field."""
    if not isinstance(error, InputError):
        return error.message
    if (error.expected, error.got) == ("a value", "nothing"):
        return "This must be filled in."
    return f"{lead} {error.expected}; got {error.got}.{f' {error.hint}' if error.hint else ''}"


def _told(error: Exception) -> Any:
    assert isinstance(error, LabelsvcError)
    if request.path.startswith("/api/"):
        how = {"WWW-Authenticate": "Bearer"} if isinstance(error, NotSignedInError) else {}
        return jsonify({"error": error.as_json()}), status_of(error), how
    if isinstance(error, NotAllowedError):
        return render_template("not_allowed.html", error=error), status_of(error)
    return _page(told(error), getattr(error, "findings", [])), status_of(error)


def _page(message: str, findings: Sequence[Any] = ()) -> str:
    """Return the page that says it; where even the frame of a page cannot be read from the database, a page without one."""
    try:
        return render_template("trouble.html", message=message, findings=findings)
    except LabelsvcError:
        return render_template("out_of_order.html", message=message)


def _told_by_http(error: Exception) -> Any:
    """What Flask itself refuses (no such page, too long) in the same two forms."""
    assert isinstance(error, HTTPException)
    status, said = error.code or 500, error.description or error.name
    if request.path.startswith("/api/"):
        return jsonify({"error": {"field": None, "expected": None, "got": request.path, "message": said}}), status
    if status == 404:
        said = f"There is no page {request.path}."
    if status == 413:
        said = "That was too large to be sent: at most 12 MB a photo, four at once. Go back: what you typed is kept."
    return _page(said), status
