"""``personal`` and ``erase``: what is kept of suppliers and buyers, how long it must be, and its end."""

from __future__ import annotations

import datetime as dt
from typing import Any

import click

from labelsvc import settings
from labelsvc.cli.options import as_json, database, now, opened, show_json
from labelsvc.operations.looking import today
from labelsvc.operations.personal import Kept, kept
from labelsvc.operations.personal import erase as erase_person
from labelsvc.rules.load import Rule


@click.command()
@as_json
@database
def personal(as_json: bool, database: str) -> None:
    """Show of which suppliers, buyers, receivers of gifts and complainants something is kept, and how long the law asks for it.

    LABELSVC_KEEP_MONTHS says how long this workshop keeps it after the last time; the law's least time is kept in any case.
    """
    ledger = opened(database)
    day = today(ledger, now())
    found = kept(ledger, day, settings.keep_months())
    if as_json:
        show_json({"kept": [_said(one, day) for one in found]})
        return
    for one in found:
        click.echo(f"{one.number}  {one.name}: {_when(one, day)}")
        if one.erased_on is None:
            for least in one.law:
                rule = least.rule
                asks = f"{rule.value} {rule.unit} {rule.basis} ({rule.citation}; {rule.known})"
                click.echo(f"      {least.market}: until {least.until}, {asks}")
    if not found:
        click.echo("Nothing is kept of any supplier or buyer.")


@click.command()
@click.argument("who")
@click.option("--reason", default="", help="Needed where the law asks to keep it longer.")
@click.option("--by", default=settings.who, show_default="LABELSVC_WHO", help="Who decided it.")
@as_json
@database
def erase(who: str, reason: str, by: str, as_json: bool, database: str) -> None:
    """Erase name, address, contact, complaints, answers and photos of one person, for good; the ledger stays whole and verifies.

    WHO is the name, or the number that "labelsvc personal" shows. Whoever is erased cannot be told in a recall. Backups taken
    before still hold it: they end by their own time. Everything is derived anew, which takes as long as rebuild.
    """
    ledger = opened(database)
    done = erase_person(ledger, who, today(ledger, now()), by=by, why=reason)
    if as_json:
        show_json({"words": done.words, "photos": done.photos, "sealed_before": list(done.sealed_before), "wiped": done.is_wiped})
        return
    click.echo(f"Erased, {done.photos} photos with it. In its place stands: {done.words}")
    if done.sealed_before:
        numbers = ", ".join(map(str, done.sealed_before))
        click.echo(f"Sealed before it could be erased, the name still stands in fact {numbers}.", err=True)
    if not done.is_wiped:
        click.echo("The database was in use: traces stay in its free space until it is packed (VACUUM).", err=True)


def _when(one: Kept, day: dt.date) -> str:
    if one.erased_on is not None:
        return "nothing is kept any more"
    if one.is_due(day):
        return f"last named on {one.last_day}, due since {one.until}: labelsvc erase {one.number}"
    return f"last named on {one.last_day}, kept until {one.until or 'somebody erases it'}"


def _said(one: Kept, day: dt.date) -> dict[str, Any]:
    law = [{"market": least.market, "until": least.until.isoformat(), **_rule(least.rule)} for least in one.law]
    return {
        "number": one.number,
        "name": one.name,
        "last_day": one.last_day.isoformat(),
        "law": law,
        "until": one.until.isoformat() if one.until else None,
        "due": one.is_due(day),
        "erased_on": one.erased_on.isoformat() if one.erased_on else None,
        "sealed_before": list(one.sealed_before),
    }


def _rule(rule: Rule) -> dict[str, Any]:
    return {"rule": rule.id, "citation": rule.citation, "known": rule.known}
