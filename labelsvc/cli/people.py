"""``person``: who works here, by PIN or badge at the bench."""

from __future__ import annotations

import datetime as dt
import sys
from pathlib import Path
from typing import Any

import click

from labelsvc import settings
from labelsvc.cli.options import as_json, database, opened, show_json
from labelsvc.errors import InputError, NotFoundError
from labelsvc.ledger.database import Ledger
from labelsvc.ledger.people import Person
from labelsvc.operations import people


@click.command()
@click.argument("name", required=False)
@click.option("--role", help="bench_hand, packer, responsible or reader; bench_hand for someone new.")
@click.option("--pin", "asks_pin", is_flag=True, help="Ask for a new PIN of 4 to 8 digits; it is not shown.")
@click.option("--badge", type=click.Path(dir_okay=False, path_type=Path), help="A new badge as this PDF; an earlier one ends.")
@click.option("--left", help="First day on which they are not here any more, such as 2026-03-02.")
@as_json
@database
def person(
    name: str | None, role: str | None, asks_pin: bool, badge: Path | None, left: str | None, as_json: bool, database: str
) -> None:
    """Record someone who works here, or change what is recorded; without a name, show everyone.

    Once someone is recorded, whoever stands at the bench is chosen from these people.
    """
    ledger = opened(database)
    if name is None:
        _show([_said(one) for one in people.staff(ledger)], as_json)
        return
    if badge is not None and not badge.parent.is_dir():
        raise InputError("badge", "a file in a folder that can be written", str(badge))
    one = _kept(ledger, name, role, _typed_pin() if asks_pin else "", left)
    if badge is not None:
        badge.write_bytes(people.give_badge(ledger, one.number, settings.layouts()).pdf)
        one = people.person_of(ledger, one.number)
    _show([_said(one)], as_json)


def _kept(ledger: Ledger, name: str, role: str | None, pin: str, left: str | None) -> Person:
    """Keep what is said of a person, someone new or known before."""
    try:
        known = people.person_named(ledger, name)
    except NotFoundError:
        known = people.add_person(ledger, name, role or "bench_hand", pin)
    left_on = _day(left) if left else known.left_on
    return people.change_person(ledger, known.number, name=known.name, role=role or known.role, pin=pin, left_on=left_on)


def _said(one: Person) -> dict[str, Any]:
    return {
        "name": one.name,
        "role": one.role,
        "pin": one.pin_hash is not None,
        "badge": one.badge_digest is not None,
        "left": one.left_on.isoformat() if one.left_on else None,
    }


def _show(found: list[dict[str, Any]], as_json: bool) -> None:
    if as_json:
        show_json({"people": found})
        return
    for one in found:
        ways = " and ".join(way for way in ("pin", "badge") if one[way]) or "name alone"
        gone = f", left on {one['left']}" if one["left"] else ""
        click.echo(f"{one['name']}  {one['role']}, {ways}{gone}")
    if not found:
        click.echo("Nobody is recorded: names are typed. Record yourself first: labelsvc person NAME --pin")


def _typed_pin() -> str:
    """Ask for a PIN, twice at a terminal; a pipe gives it as one line."""
    is_terminal = sys.stdin.isatty()
    return str(click.prompt("PIN", hide_input=is_terminal, confirmation_prompt=is_terminal, err=True))


def _day(text: str) -> dt.date:
    try:
        return dt.date.fromisoformat(text)
    except ValueError:
        raise InputError("left", "a day such as 2026-03-02", text) from None
