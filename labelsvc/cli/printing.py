"""Labels as PDFs that were decoded again before they are written: one command for each moment that prints."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

from labelsvc import settings
from labelsvc.cli.options import as_json, database, now, opened, show_json
from labelsvc.errors import InputError

_output = click.option("--output", "-o", type=click.Path(dir_okay=False, path_type=Path), required=True, help="The PDF to write.")
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
    for option in (database, as_json, _who, *_STOCK, _output):
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

    output, who = chosen["output"], chosen["who"]
    _refuse_unwritable(output)
    documents = labelling.sale_labels(
        opened(chosen["database"]), code, layouts=settings.layouts(), now=now(), who=who, stock=_stock(chosen), progress=_tell
    )
    for number, issued in enumerate(documents, 1):
        _write(issued, output if number == 1 else output.with_stem(f"{output.stem}-{number}"), chosen["as_json"])


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
@_who
@as_json
@database
def reprint(fact: int, reason: str, output: Path, who: str, as_json: bool, database: str) -> None:
    """Print an issued label once more as it was, by the number of its fact, and keep why."""
    from labelsvc.operations.issuing import reprint

    _refuse_unwritable(output)
    _write(reprint(opened(database), fact, reason, layouts=settings.layouts(), now=now(), who=who), output, as_json)


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
        click.echo(f"{one['name']:34} {one['title']}")


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

    output = chosen["output"]
    _refuse_unwritable(output)
    issue, shelf = getattr(labelling, name), settings.layouts()
    issued = issue(opened(chosen["database"]), what, layouts=shelf, now=now(), who=chosen["who"], stock=_stock(chosen))
    _write(issued, output, chosen["as_json"])


def _stock(chosen: dict[str, Any]) -> Any:
    from labelsvc.operations.issuing import Stock

    dots = chosen["dots_per_mm"]
    return Stock(chosen["layout"], chosen["sheet"], chosen["start"], float(dots) if dots else None)


def _tell(done: int) -> None:
    """Say how far a long print is, to a person only."""
    if done >= _MANY and sys.stderr.isatty():
        click.echo(f"{done} labels are ready", err=True)


def _refuse_unwritable(output: Path) -> None:
    """Refuse before the label is issued: one that never reached a file must not stand in the record as printed."""
    if not output.parent.is_dir() or not os.access(output if output.exists() else output.parent, os.W_OK):
        raise InputError("output", "a file in a folder that can be written", str(output))


def _write(issued: Any, output: Path, as_json: bool) -> None:
    try:
        output.write_bytes(issued.pdf)
    except OSError as error:
        raise InputError("output", "a file that can be written", str(output), error.strerror or "") from None
    findings = [finding for finding in issued.findings if finding.severity != "note" or finding.limit is None]
    if as_json:
        show_json(
            {
                "file": str(output),
                "fact": issued.fact,
                "codes": issued.lots,
                "findings": [one.as_json() for one in issued.findings],
            }
        )
        return
    click.echo(f"{output}: {len(issued.lots)} label(s), every symbol decoded again, fact {issued.fact}")
    for finding in findings:
        click.echo(f"{finding.severity}: {finding.message}")
