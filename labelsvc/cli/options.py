"""Options that many commands share, and the present moment."""

from __future__ import annotations

import datetime as dt
import json
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import click

from labelsvc import settings
from labelsvc.errors import ConfirmationNeeded, InputError
from labelsvc.ledger.database import Ledger, open_ledger
from labelsvc.operations.recording import Recorded, record

Command = TypeVar("Command", bound=Callable[..., Any])

database = click.option(
    "--database",
    default=settings.database,
    metavar="URL",
    show_default="LABELSVC_DATABASE or ./labelsvc.db",
    help="Where the ledger is.",
)
once = click.option("--once", default="", metavar="KEY", help="Recorded once under this key, however often it is sent.")
as_json = click.option("--json", "as_json", is_flag=True, help="Answer in JSON.")


def recording(command: Command) -> Command:
    """Add what every recording command takes."""
    for option in (
        database,
        as_json,
        once,
        click.option("--yes", is_flag=True, help="Say yes to what is unusual but possible."),
        click.option("--who", default=settings.who, show_default="LABELSVC_WHO", help="Who says so."),
        click.option("--at", help='When it happened: "2026-03-02" or "2026-03-02T08:15"; now if left out.'),
    ):
        command = option(command)
    return command


def now() -> dt.datetime:
    """Return the present in UTC."""
    return dt.datetime.now(dt.UTC)


def opened(url: str) -> Ledger:
    """Return the ledger at a URL; it is let go of when the command is done."""
    ledger = open_ledger(url)
    click.get_current_context().call_on_close(ledger.close)
    return ledger


def record_asking(url: str, kind: str, given: dict[str, Any], *, who: str, yes: bool, may_ask: bool, once: str) -> Recorded:
    """Record a fact; where something is unusual and a person sits at the keyboard, ask once."""
    ledger = opened(url)
    is_there = may_ask and sys.stdin.isatty()
    try:
        return record(ledger, kind, given, now=now(), who=who, confirmed=yes, is_at_bench=is_there, once=once)
    except ConfirmationNeeded as question:
        if not is_there or not click.confirm(f"{question.message} Record it?"):
            raise
        return record(ledger, kind, given, now=now(), who=who, confirmed=True, is_at_bench=True, once=once)


def kept_photo(url: str, file: str, who: str) -> str:
    """Keep a photo from a file beside the ledger, and return its hash.

    Raises:
        InputError: no such file, too large, or neither JPEG, PNG nor PDF.
    """
    from labelsvc.operations.photos import keep_photo

    try:
        content = Path(file).read_bytes()
    except OSError as error:
        raise InputError("photo", "a file that can be read", file, error.strerror or "") from None
    return keep_photo(opened(url), content, now=now(), who=who, field="photo")


def read_json(text: str, name: str) -> Any:
    """Return a JSON value; numbers with a decimal point stay floats, so that reading a fact can refuse them by name.

    Raises:
        InputError: not JSON; says where.
    """
    try:
        value = json.loads(text.removeprefix("\ufeff"))  # a byte order mark, which some editors put before everything
        json.dumps(value, ensure_ascii=False).encode()  # half of a surrogate pair is JSON, but no text that can be kept
    except json.JSONDecodeError as error:
        raise InputError(name, "one JSON object", f"text that stops being JSON at character {error.pos}: {error.msg}") from None
    except (ValueError, RecursionError) as error:
        raise InputError(name, "one JSON object", f"one that cannot be kept: {error}") from None
    return value


def show_json(value: Any) -> None:
    """Write a JSON value to standard output."""
    click.echo(json.dumps(value, ensure_ascii=False))
