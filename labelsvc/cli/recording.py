"""``record KIND``: any fact as one JSON object on standard input."""

from __future__ import annotations

import sys

import click

from labelsvc import facts, settings
from labelsvc.cli.options import database, once, read_json, record_asking, show_json


@click.command(epilog=f"Kinds: {', '.join(facts.KINDS)}.")
@click.argument("kind")
@click.option("--yes", is_flag=True, help="Say yes to what is unusual but possible.")
@click.option("--who", default=settings.who, show_default="LABELSVC_WHO", help="Who says so, where the object does not.")
@click.option("--json", "as_json", is_flag=True, help="Answer in JSON; this command always does.")
@once
@database
def record(kind: str, yes: bool, who: str, as_json: bool, once: str, database: str) -> None:
    """Record one fact, given as a JSON object on standard input; answers its number and the codes it gave out.

    The fields of each kind are those of DEVELOPERS.md; "at" (a day or time), "who" and "confirmed" go with every kind.
    """
    kind = kind.replace("-", "_")
    facts.shape_of(kind)
    given = read_json(sys.stdin.read(), kind)
    show_json(record_asking(database, kind, given, who=who, yes=yes, may_ask=False, once=once).as_json())
