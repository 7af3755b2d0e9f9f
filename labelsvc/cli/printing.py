"""Labels that were decoded again before they leave, as PDF or to a printer: one command for each moment that prints."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from labelsvc import settings
from labelsvc.cli.options import as_json, database, now, opened, show_json
from labelsvc.errors import InputError, PrinterError

if TYPE_CHECKING:  # a label to a file does not wait for what a printer needs
    from labelsvc.ledger.database import Ledger
    from labelsvc.ledger.printers import KnownPrinter
    from labelsvc.operations.issuing import Issued
    from labelsvc.operations.printers import Sent

_output = click.option("--output", "-o", type=click.Path(dir_okay=False, path_type=Path), help="The PDF to write.")
_printer = click.option("--printer", metavar="NAME", help="Print it on this printer of the workshop, see `printers`.")
_MANY = 250  # labels; fewer are there before anyone wonders
_who = click.option("--who", default=settings.who, show_default="LABELSVC_WHO", help="Who prints it.")
_STOCK = (
    click.option("--layout", help="Name of the layout, see `layouts`; the usual one if left out."),
    click.option("--sheet", help="Name of a sheet with several labels, see `layouts`."),
    click.option("--start", type=int, default=1, show_default=True, help="First free position of the sheet."),
    click.option("--dots-per-mm", type=click.Choice(["8", "12", "24"]), help="The printer's dots; the layout's own if left out."),
)


def _printing(command: Callable[..., None]) -> Callable[..., None]:
    """Add what all printing commands take."""
    for option in (database, as_json, _who, *_STOCK, _printer, _output):
        command = option(command)
    return command


@click.command()
@click.argument("code")
@_printing
def tag(code: str, **chosen: Any) -> None:
    """Print the hanging tag of a piece, by its code or marker."""
    _issue("tag", code, chosen)


@click.command()
@click.argument("code")
@_printing
def sale_label(code: str, **chosen: Any) -> None:
    """Print the sale label of a pack, or the labels of all packs of a pack lot.

    More than 250 come as several files: labels.pdf, labels-2.pdf ...
    """
    from labelsvc.operations import labelling

    out, who = _Out.chosen(chosen), chosen["who"]
    stock = _stock(chosen, out)
    documents = labelling.sale_labels(
        out.ledger, code, layouts=settings.layouts(), now=now(), who=who, stock=stock, progress=_tell
    )
    for number, issued in enumerate(documents, 1):
        out.give(issued, number)


@click.command()
@click.argument("code")
@_printing
def counter_card(code: str, **chosen: Any) -> None:
    """Print the card beside a pack lot on the counter: packed for direct sale, or loose."""
    _issue("counter_card", code, chosen)


@click.command()
@click.argument("code")
@_printing
def hold_tag(code: str, **chosen: Any) -> None:
    """Print the tag of a lot that is held."""
    _issue("hold_tag", code, chosen)


@click.command()
@click.argument("tub")
@_printing
def tub_card(tub: str, **chosen: Any) -> None:
    """Print the card of a tub: when it comes out, and what lies in it."""
    _issue("tub_card", tub, chosen)


@click.command()
@click.argument("code")
@_printing
def container_label(code: str, **chosen: Any) -> None:
    """Print the label for the container of an ingredient lot."""
    _issue("container_label", code, chosen)


@click.command()
@click.argument("packs", nargs=-1, required=True)
@_printing
def case_label(packs: tuple[str, ...], **chosen: Any) -> None:
    """Print the label of a shipping case with these packs, one a pack lot."""
    _issue("case_label", packs, chosen)


@click.command()
@click.argument("count", type=int)
@_printing
def markers(count: int, **chosen: Any) -> None:
    """Print blank markers ahead, each with a code that waits for its piece."""
    _issue("markers", count, chosen)


@click.command()
@click.argument("fact", type=int)
@click.option("--reason", required=True, help="Why: the first one was torn, lost ...")
@_output
@_printer
@_who
@as_json
@database
def reprint(fact: int, reason: str, **chosen: Any) -> None:
    """Print an issued label once more as it was, by the number of its fact, and keep why."""
    from labelsvc.operations.issuing import reprint

    out = _Out.chosen(chosen)
    dots = out.printer.dots_per_mm if out.printer else None
    out.give(reprint(out.ledger, fact, reason, layouts=settings.layouts(), now=now(), who=chosen["who"], dots=dots))


@click.command()
@click.argument("fact", type=int)
@click.option("--reason", required=True, help="Why: it was spoiled, taken off and destroyed ...")
@_who
@as_json
@database
def void(fact: int, reason: str, who: str, as_json: bool, database: str) -> None:
    """Record that an issued label is void, by the number of its fact."""
    from labelsvc.operations.issuing import void

    recorded = void(opened(database), fact, reason, now=now(), who=who)
    if as_json:
        show_json({"fact": recorded, "codes": []})
        return
    click.echo(f"label of fact {fact} is void, fact {recorded}")


@click.command()
@as_json
@database
def layouts(as_json: bool, database: str) -> None:
    """List the label layouts and sheets at hand, and what is wrong with one."""
    from labelsvc.operations.previewing import shelf_said

    said = shelf_said(settings.layouts())
    if as_json:
        show_json(said)
        return
    for one in said["layouts"]:
        click.echo(f"{one['name']:34} {one['title']}" if not one["fault"] else f"{one['name']:34} {one['fault']}")
    for one in said["sheets"]:
        click.echo(f"{one['name']:34} {one['fault'] or one['title']}")


@click.command()
@click.argument("layout")
@click.option("--content", type=click.Choice(["sample", "worst"]), default="sample", help="An everyday label, or the longest.")
@click.option("--language", default="en", show_default=True, help="Of the captions.")
@click.option(
    "--output", "-o", type=click.Path(dir_okay=False, path_type=Path), required=True, help="The picture (PNG) to write."
)
@as_json
@database
def preview(layout: str, content: Any, language: str, output: Path, as_json: bool, database: str) -> None:
    """Draw a layout with a sample content as a picture; nothing is read or recorded."""
    from labelsvc.operations.previewing import preview

    _refuse_unwritable(output)
    shelf = settings.layouts()
    seen = preview(shelf.file(layout).read_text(encoding="utf-8"), f"{layout}.toml", shelf, which=content, language=language)
    if seen.fault is not None:
        raise seen.fault
    output.write_bytes(seen.png)
    if as_json:
        show_json({"file": str(output), "notes": list(seen.notes)})
        return
    click.echo(f"{output}: {layout} with a {content} content")
    for note in seen.notes:
        click.echo(f"note: {note}")


def _issue(name: str, what: Any, chosen: dict[str, Any]) -> None:
    from labelsvc.operations import labelling

    out, issue = _Out.chosen(chosen), getattr(labelling, name)
    stock = _stock(chosen, out)
    out.give(issue(out.ledger, what, layouts=settings.layouts(), now=now(), who=chosen["who"], stock=stock))


def _stock(chosen: dict[str, Any], out: _Out) -> Any:
    from labelsvc.operations.issuing import Stock

    of_printer = out.printer.dots_per_mm if out.printer else None
    dots = float(chosen["dots_per_mm"]) if chosen["dots_per_mm"] else of_printer
    loaded = out.printer.layouts if out.printer and not chosen["sheet"] else ()
    return Stock(chosen["layout"], chosen["sheet"], chosen["start"], dots, loaded)


def _tell(done: int) -> None:
    """Say how far a long print is, to a person only."""
    if done >= _MANY and sys.stderr.isatty():
        click.echo(f"{done} labels are ready", err=True)


def _refuse_unwritable(output: Path) -> None:
    """Refuse before the label is issued: one that never reached a file must not stand in the record as printed."""
    if not output.parent.is_dir() or not os.access(output if output.exists() else output.parent, os.W_OK):
        raise InputError("output", "a file in a folder that can be written", str(output))


@dataclass(frozen=True)
class _Out:
    """Where labels go: to a file, to a printer, or both.

    Args:
        ledger: of the labels.
        file: the PDF, or None.
        printer: of the workshop, or None.
        as_json: how it is told.
    """

    ledger: Ledger
    file: Path | None
    printer: KnownPrinter | None
    as_json: bool

    @classmethod
    def chosen(cls, said: dict[str, Any]) -> _Out:
        """Return what a command was told, refused before the label is issued where it cannot be.

        Raises:
            InputError: neither, or a file that cannot be written; NotFoundError: no such printer.
        """
        file, name = said["output"], said["printer"]
        if file is None and name is None:
            raise InputError("--output", "a PDF to write, or a printer (--printer NAME)", "neither", "See: labelsvc printers")
        if file is not None:
            _refuse_unwritable(file)
        ledger = opened(said["database"])
        return cls(ledger, file, None if name is None else _printer_named(ledger, name), said["as_json"])

    def give(self, issued: Issued, number: int = 1) -> None:
        """Write and print a document; of several each next file has its number.

        Raises:
            InputError: it cannot be written; PrinterError: it is not printed, and where it is kept.
        """
        file = None
        if self.file is not None:
            file = self.file if number == 1 else self.file.with_stem(f"{self.file.stem}-{number}")
            _write(issued, file)
        sent = None if self.printer is None else _sent(self.printer, issued)
        if self.as_json:
            findings = [one.as_json() for one in issued.findings]
            said = {"file": str(file) if file else None, "fact": issued.fact, "codes": issued.lots, "findings": findings}
            show_json({**said, "printer": sent.as_json()} if sent else said)
            return
        where = f"{file}: " if file else ""
        click.echo(f"{where}{len(issued.lots)} label(s), every symbol decoded again, fact {issued.fact}")
        for finding in issued.findings:
            if finding.severity != "note" or finding.limit is None:
                click.echo(f"{finding.severity}: {finding.message}")
        if sent:
            click.echo(sent.in_words)


def _printer_named(ledger: Ledger, name: str) -> KnownPrinter:
    from labelsvc.operations.printers import met, named

    known = named(ledger, name)
    try:
        return met(ledger, known)
    except PrinterError:
        return known  # the label is made and kept all the same, and the sending says that nobody answers


def _sent(printer: KnownPrinter, issued: Issued) -> Sent:
    """Send labels to a printer.

    Raises:
        PrinterError: they are not printed; the label is issued all the same, and how to print it again.
    """
    from labelsvc.operations.printers import send, titled

    try:
        return send(printer, issued.pdf, titled(f"Label {issued.lots[0]}"), issued.proof.dots_per_mm)
    except PrinterError as error:
        kept = f"The label is kept as fact {issued.fact}: run labelsvc reprint {issued.fact}, or give --output FILE.pdf."
        raise PrinterError(error.field, error.expected, error.got, f"{error.hint} {kept}".strip()) from None


def _write(issued: Issued, file: Path) -> None:
    try:
        file.write_bytes(issued.pdf)
    except OSError as error:
        raise InputError("output", "a file that can be written", str(file), error.strerror or "") from None
