"""Commands that look after the ledger: verify, rebuild."""

from __future__ import annotations

import click

from labelsvc.cli.options import as_json, database, opened, show_json


@click.command()
@as_json
@database
def verify(as_json: bool, database: str) -> None:
    """Walk the sealed chain of facts and check that every movement sums to zero; names the first wrong fact."""
    from labelsvc.operations.keeping import verify as verify_ledger

    count, head = verify_ledger(opened(database))
    if as_json:
        show_json({"facts": count, "head": head, "verified": True})
    else:
        click.echo(f"{count} facts hold. Head: {head}")


@click.command()
@as_json
@database
def rebuild(as_json: bool, database: str) -> None:
    """Drop what was derived and derive it anew from the facts; the facts themselves never change."""
    from labelsvc.operations.keeping import rebuild as rebuild_ledger

    count = rebuild_ledger(opened(database))
    if as_json:
        show_json({"facts": count})
    else:
        click.echo(f"Derived anew from {count} facts.")
