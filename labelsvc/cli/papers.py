"""``paper``: reports, letters and documents as PDF."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import click

from labelsvc.cli.options import as_json, database, now, opened, show_json
from labelsvc.errors import InputError

KINDS = ("trace", "recall", "letter", "notice", "authority", "dispatch")


@click.command()
@click.argument("kind", type=click.Choice(KINDS))
@click.argument("about")
@click.option("--to", "customer", help="For a letter: whom it goes to.")
@click.option("--document", help="For a dispatch: the delivery note.")
@click.option("--day", help="For a dispatch: the day; today if neither is given.")
@click.option("--output", "-o", type=click.Path(dir_okay=False, path_type=Path), required=True, help="The PDF to write.")
@as_json
@database
def paper(
    kind: str, about: str, customer: str | None, document: str | None, day: str | None, output: Path, as_json: bool, database: str
) -> None:
    """Write a paper as PDF.

    ABOUT is a lot for trace; the number of a case for recall (its report), letter, notice (at the point of sale) and
    authority (the facts it asks for); a customer for dispatch (what goes with goods of animal origin to a business).
    """
    from labelsvc.operations import papers, recall_papers

    ledger, at = opened(database), now()
    if (kind == "letter") != (customer is not None):
        raise InputError("to", "a customer for a letter, and for nothing else", customer or "none")
    if kind == "trace":
        drawn = papers.trace_paper(ledger, about, at)
    elif kind == "dispatch":
        drawn = papers.dispatch_paper(ledger, about, at, document=document, day=_day(day))
    elif kind == "letter":
        drawn = recall_papers.letter(ledger, _case(about), customer or "", at)
    else:
        written = {
            "recall": recall_papers.recall_paper,
            "notice": recall_papers.notice,
            "authority": recall_papers.authority_paper,
        }
        drawn = written[kind](ledger, _case(about), at)
    output.write_bytes(papers.drawn(drawn))
    show_json({"file": str(output), "title": drawn.title}) if as_json else click.echo(f"{output}: {drawn.title}")


def _case(text: str) -> int:
    if not text.isdigit():
        raise InputError("about", "the number of a case", text, "See: labelsvc case")
    return int(text)


def _day(text: str | None) -> dt.date | None:
    try:
        return None if text is None else dt.date.fromisoformat(text)
    except ValueError:
        raise InputError("day", "a day such as 2026-03-02", text or "") from None
