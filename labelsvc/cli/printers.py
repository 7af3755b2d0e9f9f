"""``printers``: the workshop's printers, how each is as it says itself, and a test label."""

from __future__ import annotations

from typing import Any

import click

from labelsvc import settings
from labelsvc.cli.options import as_json, database, opened, show_json
from labelsvc.operations import printers as workshop_printers

_HOW = "There is no printer yet: labelsvc printers add NAME URI, such as ipp://192.0.2.7/ipp/print. A PDF can always be printed."


@click.group(invoke_without_command=True)
@as_json
@database
@click.pass_context
def printers(context: click.Context, as_json: bool, database: str) -> None:
    """List the workshop's printers, each with how it is as it says itself; add, remove or try one.

    A printer's address (URI) stands on the page of settings that it prints, or in the list of the network's router; it looks
    like ipp://192.0.2.7/ipp/print. A queue of this machine's own printing service has one as well: ipp://localhost/printers/NAME.
    """
    if context.invoked_subcommand is not None:
        context.default_map = {name: {"database": database, "as_json": as_json} for name in ("add", "remove", "try")}
        return
    ledger = opened(database)
    found = workshop_printers.all_said(ledger, workshop_printers.known(ledger))
    if as_json:
        show_json({"printers": found})
        return
    for one in found:
        click.echo(_line(one))
    if not found:
        click.echo(_HOW)


@printers.command()
@click.argument("name")
@click.argument("uri")
@click.option("--layout", "layouts", multiple=True, help="A layout whose labels are loaded, see `layouts`; may be repeated.")
@as_json
@database
def add(name: str, uri: str, layouts: tuple[str, ...], as_json: bool, database: str) -> None:
    """Keep a printer by a NAME and its address (URI)."""
    ledger = opened(database)
    kept = workshop_printers.add(ledger, name, uri, layouts, settings.layouts())
    _tell(workshop_printers.said_of(ledger, kept), as_json)


@printers.command()
@click.argument("name")
@as_json
@database
def remove(name: str, as_json: bool, database: str) -> None:
    """Forget the printer of this NAME; what it printed stays in the record."""
    gone = workshop_printers.remove(opened(database), name)
    if as_json:
        show_json({"name": gone.name, "uri": gone.uri, "layouts": list(gone.layouts)})
        return
    click.echo(f"{gone.name} is removed")


@printers.command(name="try")
@click.argument("name")
@as_json
@database
def try_(name: str, as_json: bool, database: str) -> None:
    """Print a test label of each kind that is loaded on the printer of this NAME."""
    ledger = opened(database)
    sent = workshop_printers.try_out(ledger, workshop_printers.named(ledger, name), settings.layouts())
    if as_json:
        show_json({"sent": [one.as_json() for one in sent]})
        return
    for one in sent:
        click.echo(one.in_words)


def _tell(said: dict[str, Any], as_json: bool) -> None:
    if as_json:
        show_json(said)
        return
    click.echo(_line(said))


def _line(said: dict[str, Any]) -> str:
    loaded = f"  loaded: {', '.join(said['layouts'])}" if said["layouts"] else ""
    return f"{said['name']}  {said['uri']}  {said['message']}{loaded}"
