"""Commands that only read: the record of a lot, what is where, trace."""

from __future__ import annotations

from typing import Any

import click

from labelsvc.cli.options import as_json, database, now, opened, show_json
from labelsvc.cli.saying import at_place, show_balance


@click.command()
@click.argument("code")
@as_json
@database
def lot(code: str, as_json: bool, database: str) -> None:
    """Show the batch record of a lot: timeline, weights, what went in, doses, labels issued."""
    from labelsvc.operations.batch import batch_record

    record = batch_record(opened(database), code)
    show_json(record) if as_json else _show_record(record)


def _show_record(record: dict[str, Any]) -> None:
    head = record["lot"]
    click.echo(f"{head['code']}  {head['name']} ({head['kind']}), {head['state']}{at_place(head)}, {head['grams_here']} g")
    for line in record["weights"]:
        click.echo(f"  {line}")
    click.echo("What happened")
    for step in record["timeline"]:
        by = f" ({step['by']})" if step["by"] else ""
        mark = f" [corrected by fact {step['corrected_by']}]" if step["corrected_by"] else ""
        click.echo(f"  {step['day']}  {step['what']}{by}, fact {step['fact']}{mark}")
        for finding in step["findings"]:
            click.echo(f"      ! {finding}")
    for title, lines in (
        ("What went in", record["made_of"]),
        ("What came out", record["came_out"]),
        ("Cure", record["doses"]),
        ("Labels", record["labels"]),
    ):
        if lines:
            click.echo(title)
            for said in dict.fromkeys(line["text"] for line in lines):
                click.echo(f"  {said}")


@click.command()
@click.argument("code")
@click.option("--market", default="", help="For a piece: the market it would be packed for.")
@click.option("--language", default="", help="For a piece: the language of its label.")
@as_json
@database
def declaration(code: str, market: str, language: str, as_json: bool, database: str) -> None:
    """Show what a label says, why, how it came about, and what is missing: of packs, or of a piece if it were packed now."""
    from labelsvc.operations.declaring import declared

    found = declared(opened(database), code, now=now(), market=market, language=language)
    if as_json:
        show_json(found.as_json())
        return
    for one in found.particulars:
        click.echo(f"{one.element.replace('_', ' ')}: {one.text}")
        click.echo(
            f"    {one.working + '; ' if one.working else ''}{one.citation}{f' ({one.known})' if one.known != 'read' else ''}"
        )
    click.echo("Missing before it may be printed" if found.stops else "To look at" if found.open else "Nothing is missing")
    for finding in found.open:
        click.echo(f"  {'! ' if finding.exceeded else '? '}{finding.message}")


@click.command("list")
@click.option("--state", help="Only lots in this state: in cure, hanging, in stock, held ...")
@as_json
@database
def list_(state: str | None, as_json: bool, database: str) -> None:
    """Show what is in the workshop now: in cure, hanging, in stock, held."""
    from labelsvc.operations.batch import here

    lots = here(opened(database), state)
    if as_json:
        show_json({"lots": lots})
        return
    for one in lots:
        click.echo(f"{one['code']:14} {one['state']:12} {one['grams_here']:>10} g  {one['name']}{at_place(one)}")
    if not lots:
        click.echo(f"Nothing {state or 'here yet'}. Goods in: labelsvc receive animal NAME --supplier NAME --weight WEIGHT")


@click.command()
@click.argument("code")
@as_json
@database
def trace(code: str, as_json: bool, database: str) -> None:
    """Trace a lot both ways: what it was made of, where it went, what it met, who has it."""
    from labelsvc.operations.tracing import trace as trace_lot

    answer = trace_lot(opened(database), code)
    show_json(answer) if as_json else _show_trace(answer)


def _show_trace(answer: dict[str, Any]) -> None:
    head = answer["lot"]
    click.echo(f"{head['code']}  {head['name']} ({head['kind']}), {head['state']}{at_place(head)}")
    for title, key in (("Made of", "back"), ("Went into", "forward")):
        click.echo(f"{title}{'' if answer[key] else ': nothing'}")
        for one in answer[key]:
            supplier = f", from {one['supplier']}" if one["supplier"] else ""
            click.echo(
                f"  {one['code']:14} {one['grams']:>12} g  {one['name']} ({one['kind']}){supplier}, {one['state']}{at_place(one)}"
            )
    click.echo(f"Sold and given{'' if answer['sales'] else ': nothing'}")
    for sale in answer["sales"]:
        paper = f", {sale['document']}" if sale["document"] else ""
        who = f"{sale['how']}: {sale['name']}{paper} ({sale['because']})"
        click.echo(f"  {sale['date']}  {sale['code']:14} {sale['grams']:>10} g  {who}")
    met: dict[tuple[str, str], list[str]] = {}
    for one in answer["contact"]:
        met.setdefault((one["where"], one["thing"]), []).append(one["code"])
    for (where, thing), codes in met.items():
        click.echo(f"Same {where} ({thing}): {', '.join(dict.fromkeys(codes))}")
    show_balance(answer["balance"])
