"""``demo``: an invented workshop to look at and try things on."""

from __future__ import annotations

import shutil
import sys
from pathlib import Path

import click

from labelsvc import settings
from labelsvc.cli.options import as_json, database, now, opened, show_json


@click.command()
@click.option(
    "--folder", type=click.Path(file_okay=False, path_type=Path), default=Path("demo"), show_default=True, help="For its PDFs."
)
@click.option(
    "--serve/--no-serve",
    "is_served",
    default=lambda: sys.stdout.isatty(),
    show_default="--serve at a terminal",
    help="Show its pages afterwards, or build it and stop.",
)
@as_json
@database
def demo(folder: Path, is_served: bool, as_json: bool, database: str) -> None:
    """Build the demo workshop in an empty database, write its labels, and say what to open and try.

    Everything in it is invented. It builds itself anew over an earlier demo, and refuses a database that holds other facts.
    """
    from labelsvc.cli.serving import show_pages
    from labelsvc.operations.demonstration import build_demo, holds_only_the_demo

    story = settings.shipped("demo")
    ledger = opened(database)
    if holds_only_the_demo(ledger, story) and ledger.remove():
        ledger = opened(database)
    built = build_demo(ledger, story, settings.layouts(), folder, now())
    if as_json:
        show_json({"facts": built.facts, "codes": built.named, "files": [str(file) for file in built.files]})
        return
    option = "" if database == settings.DATABASE else f" --database {database}"
    click.echo(
        f"Tarn End Curing Room, an invented workshop: {built.facts} facts recorded, every symbol on its labels decoded again."
    )
    click.echo("Open")
    for file in built.files:
        click.echo(f"  {file}")
    program = "labelsvc" if shutil.which("labelsvc") else sys.argv[0]
    click.echo("Try")
    sold, salt = built.named["mixed_packs"][1], built.named["salt"][0]
    for line in (
        f"trace {sold}{option}",
        f"recall --lot {salt}{option}",
        f"lot {built.named['necks'][1]}{option}",
        f"list{option}",
        f"verify{option}",
    ):
        click.echo(f"  {program} {line}")
    if is_served:
        show_pages(database, port=0)
