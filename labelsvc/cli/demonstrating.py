"""``demo``: an invented workshop to look at and try things on."""

from __future__ import annotations

from pathlib import Path

import click

from labelsvc import settings
from labelsvc.cli.options import as_json, database, now, opened, show_json


@click.command()
@click.option(
    "--folder", type=click.Path(file_okay=False, path_type=Path), default=Path("demo"), show_default=True, help="For its PDFs."
)
@click.option("--no-serve", is_flag=True, help="Build it and stop.")
@as_json
@database
def demo(folder: Path, no_serve: bool, as_json: bool, database: str) -> None:
    """Build the demo workshop in an empty database, write its labels, and say what to open and try.

    Everything in it is invented. It refuses a database that holds other facts.
    """
    from labelsvc.operations.demonstration import build_demo

    ledger = opened(database)
    built = build_demo(ledger, settings.shipped("demo"), settings.shipped("label_layouts"), folder, now())
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
    click.echo("Try")
    sold, salt = built.named["mixed_packs"][1], built.named["salt"][0]
    for line in (
        f"labelsvc trace {sold}{option}",
        f"labelsvc recall --lot {salt}{option}",
        f"labelsvc lot {built.named['necks'][1]}{option}",
        f"labelsvc list{option}",
        f"labelsvc verify{option}",
    ):
        click.echo(f"  {line}")
