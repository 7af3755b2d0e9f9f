"""``rules``: what is in force in a market on a day. ``classes``: which class of the law a product falls in."""

from __future__ import annotations

import datetime as dt
import textwrap
from typing import Any

import click

from labelsvc.cli.options import as_json, database, now, opened, show_json
from labelsvc.errors import InputError
from labelsvc.rules.load import MARKETS, PRACTICE

_WIDTH = 110


@click.command()
@click.argument("about", required=False, default="")
@click.option("--market", default="eu", show_default=True, help=f"One of {', '.join(MARKETS)}, or {PRACTICE}.")
@click.option("--on", help="The day, such as 2026-03-02; today if left out.")
@as_json
@database
def rules(about: str, market: str, on: str | None, as_json: bool, database: str) -> None:
    """Show the rules in force, how each is known, where it stands, and the workshop's own figures; ABOUT picks by words."""
    from labelsvc.operations.lawbook import rules_in_force
    from labelsvc.operations.looking import today

    ledger = opened(database)
    answer = rules_in_force(ledger, market, _day(on) if on else today(ledger, now()), about)
    show_json(answer) if as_json else _show(answer)


def _show(answer: dict[str, Any]) -> None:
    counts = ", ".join(f"{count} {known}" for known, count in answer["known"].items())
    click.echo(f"Rules of {answer['market']} on {answer['on']}: {counts}")
    click.echo("read = in the law itself; quoted = second hand; unconfirmed = never approves and never stops")
    for one in answer["rules"]:
        click.echo(f"{one['id']}  [{one['known']}]")
        for line in (one["title"], _figure(one), f"{one['citation']}{_source(one)}", one["condition"]):
            if line:
                click.echo(textwrap.indent(textwrap.fill(line, _WIDTH), "  "))
        if one["own"]:
            click.echo(f"  own figure: {one['own']['value']}, from {one['own']['source']}, by {one['own']['by']}")
        elif one["may_be_entered"]:
            click.echo(f"  enter it: labelsvc figure {one['id']} --value N --unit {one['unit']} --source WHERE --by NAME")
    if not answer["rules"]:
        click.echo("No rule has these words.")


def _figure(one: dict[str, Any]) -> str:
    if one["unit"] is None and one["value"] is None:
        return ""
    value = "figure not known" if one["value"] is None else f"{one['value']} {one['unit'] or ''}".rstrip()
    said_as = f" as {one['expressed_as']}" if one["expressed_as"] else ""
    basis = f", {one['basis']}" if one["basis"] else ""
    return f"{value}{said_as}{basis}"


def _source(one: dict[str, Any]) -> str:
    return f" ({one['source']})" if one["source"] else ""


def _day(text: str) -> dt.date:
    try:
        return dt.date.fromisoformat(text)
    except ValueError:
        raise InputError("on", "a day such as 2026-03-02", text) from None


@click.command()
@click.option("--market", default="eu", show_default=True, help=f"One of {', '.join(MARKETS)}.")
@click.option("--belly/--no-belly", default=None, help="Whether it is belly, rolled or flat.")
@click.option("--chopped/--no-chopped", default=None, help="Whether the meat is chopped or ground.")
@click.option("--heated", type=click.Choice(["no", "yes", "sterilised"]), help="Whether it is heated before it is sold.")
@click.option("--way", type=click.Choice(["dry", "dry_excess", "pumped", "immersion"]), help="How it is cured.")
@click.option("--named", help="A named traditional product, such as dry_cured_ham, made by the words of the law.")
@click.option("--matured-days", type=int, help="Days it matures after the cure.")
@click.option("--sold/--not-sold", default=None, help="Whether it is sold at all.")
@click.option("--database", expose_value=False, metavar="URL", help="Taken as by every command; this one needs no database.")
@as_json
def classes(market: str, as_json: bool, **answers: Any) -> None:
    """Say which class of the law a product falls in, by plain questions; what is left open is answered cautiously."""
    from labelsvc.curing.classes import compute_class

    answer = compute_class({"market": market, **{name: value for name, value in answers.items() if value is not None}})
    if as_json:
        show_json(answer)
        return
    click.echo(f"{answer['class']}  ({market})")
    for line in (answer["why"], *answer["remarks"]):
        click.echo(textwrap.indent(textwrap.fill(f"{line}.", _WIDTH), "  "))
