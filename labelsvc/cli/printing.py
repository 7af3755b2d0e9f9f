"""``tag`` and ``sale-label``: PDFs that were decoded again before they are written."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

from labelsvc import settings
from labelsvc.cli.options import as_json, database, now, opened, show_json
from labelsvc.errors import InputError

_output = click.option("--output", "-o", type=click.Path(dir_okay=False, path_type=Path), required=True, help="The PDF to write.")
_who = click.option("--who", default=settings.who, show_default="LABELSVC_WHO", help="Who prints it.")
_dots = click.option(
    "--dots-per-mm", type=click.Choice(["8", "12", "24"]), help="The printer's dots; the layout's own if left out."
)


def _printing(command: Callable[..., None]) -> Callable[..., None]:
    """Add what both printing commands take."""
    for option in (database, as_json, _who, _dots, _output, click.argument("code")):
        command = option(command)
    return command


@click.command()
@_printing
def tag(code: str, output: Path, dots_per_mm: str | None, who: str, as_json: bool, database: str) -> None:
    """Print the hanging tag of a piece, by its code or marker."""
    from labelsvc.operations import labelling

    _issue(labelling.tag, code, output, dots_per_mm, who, as_json, database)


@click.command()
@_printing
def sale_label(code: str, output: Path, dots_per_mm: str | None, who: str, as_json: bool, database: str) -> None:
    """Print the sale label of a pack, or the labels of all packs of a pack lot."""
    from labelsvc.operations import labelling

    _issue(labelling.sale_label, code, output, dots_per_mm, who, as_json, database)


@click.command()
@click.argument("count", type=int)
@_output
@_dots
@_who
@as_json
@database
def markers(count: int, output: Path, dots_per_mm: str | None, who: str, as_json: bool, database: str) -> None:
    """Print blank markers ahead, each with a code that waits for its piece."""
    from labelsvc.operations import labelling

    _issue(labelling.markers, count, output, dots_per_mm, who, as_json, database)


def _issue(
    issue: Callable[..., Any], what: str | int, output: Path, dots_per_mm: str | None, who: str, as_json: bool, database: str
) -> None:
    _refuse_unwritable(output)
    layouts = settings.shipped("label_layouts")
    dots = float(dots_per_mm) if dots_per_mm else None
    _write(issue(opened(database), what, layouts=layouts, now=now(), who=who, dots_per_mm=dots), output, as_json)


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
