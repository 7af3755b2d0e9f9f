"""``person``: who works here, by PIN or badge at the bench, by a password elsewhere. ``token``: what programs sign in by."""

from __future__ import annotations

import datetime as dt
import sys
from pathlib import Path
from typing import Any

import click

from labelsvc import settings
from labelsvc.cli.options import as_json, database, now, opened, show_json
from labelsvc.errors import InputError, NotFoundError
from labelsvc.ledger.database import Ledger
from labelsvc.ledger.people import Person
from labelsvc.ledger.sign_ins import Token
from labelsvc.operations import accounts, looking, people


@click.command()
@click.argument("name", required=False)
@click.option("--role", help="bench_hand, packer, responsible or reader; bench_hand for someone new.")
@click.option("--pin", "asks_pin", is_flag=True, help="Ask for a new PIN of 4 to 8 digits; it is not shown.")
@click.option("--password-prompt", "asks_password", is_flag=True, help="Ask for a new password; it is not shown.")
@click.option(
    "--password-file", type=click.Path(exists=True, dir_okay=False, path_type=Path), help="Its first line is the new password."
)
@click.option("--badge", type=click.Path(dir_okay=False, path_type=Path), help="A new badge as this PDF; an earlier one ends.")
@click.option("--left", help="First day on which they are not here any more, such as 2026-03-02.")
@as_json
@database
def person(
    name: str | None,
    role: str | None,
    asks_pin: bool,
    asks_password: bool,
    password_file: Path | None,
    badge: Path | None,
    left: str | None,
    as_json: bool,
    database: str,
) -> None:
    """Record someone who works here, or change what is recorded; without a name, show everyone.

    Once someone is recorded, whoever stands at the bench is chosen from these people. Once the responsible person has a
    password, everyone signs in: a device of their own by a password, a bench that is signed in by PIN or badge.
    """
    ledger = opened(database)
    if name is None:
        _show([_said(one) for one in people.staff(ledger)], as_json)
        return
    if badge is not None and not badge.parent.is_dir():
        raise InputError("badge", "a file in a folder that can be written", str(badge))
    pin = _typed("PIN") if asks_pin else ""
    password = (
        _typed("Password")
        if asks_password
        else password_file.read_text(encoding="utf-8").partition("\n")[0]
        if password_file
        else ""
    )
    one = _kept(ledger, name, role, pin, left)
    if asks_password or password_file:
        one = accounts.set_password(ledger, one.number, password, now())
    if badge is not None:
        badge.write_bytes(people.give_badge(ledger, one.number, settings.layouts()).pdf)
        one = people.person_of(ledger, one.number)
    _show([_said(one)], as_json)


@click.command()
@click.argument("name", required=False)
@click.option("--role", default="reader", show_default=True, help="What it may do: reader, bench_hand, packer or responsible.")
@click.option("--until", help="First day on which it opens nothing any more, such as 2026-12-31; at most a year from now.")
@click.option("--end", type=int, help="End the token of this number now.")
@as_json
@database
def token(name: str | None, role: str, until: str | None, end: int | None, as_json: bool, database: str) -> None:
    """Make a token for a program that speaks to /api/v1; it is shown once. Without a name, show all.

    The program sends it with each request, as: Authorization: Bearer TOKEN
    """
    ledger = opened(database)
    today = looking.today(ledger, now())
    if end is not None:
        accounts.end_token(ledger, end, now())
    if name is None:
        _show_tokens(accounts.tokens(ledger), today, as_json)
        return
    if until is None:
        raise InputError("until", "the day it ends on", "nothing")
    made = accounts.make_token(
        ledger, name, role, _day("until", until), made_by=settings.who(), now=now(), today=today
    )  # fmt: skip
    if as_json:
        show_json({**_token_said(made.token, today), "token": made.text})
        return
    click.echo(made.text)
    click.echo(
        f"Kept nowhere: copy it now. {made.token.name} may do what {made.token.role} may, until {made.token.ends_on}.", err=True
    )


def _token_said(one: Token, today: dt.date) -> dict[str, Any]:
    said = {"number": one.number, "name": one.name, "role": one.role, "until": one.ends_on.isoformat()}
    return {**said, "counts": one.counts(today)}


def _show_tokens(found: list[Token], today: dt.date, as_json: bool) -> None:
    if as_json:
        show_json({"tokens": [_token_said(one, today) for one in found]})
        return
    for one in found:
        click.echo(f"{one.number}  {one.name}  {one.role}, {'until' if one.counts(today) else 'ended, was until'} {one.ends_on}")
    if not found:
        click.echo("There is no token. Make one: labelsvc token NAME --role reader --until DAY")


def _kept(ledger: Ledger, name: str, role: str | None, pin: str, left: str | None) -> Person:
    """Keep what is said of a person, someone new or known before."""
    try:
        known = people.person_named(ledger, name)
    except NotFoundError:
        known = people.add_person(ledger, name, role or "bench_hand", pin)
    left_on = _day("left", left) if left else known.left_on
    return people.change_person(ledger, known.number, name=known.name, role=role or known.role, pin=pin, left_on=left_on)


def _said(one: Person) -> dict[str, Any]:
    return {
        "name": one.name,
        "role": one.role,
        "pin": one.pin_hash is not None,
        "badge": one.badge_digest is not None,
        "password": one.password_hash is not None,
        "left": one.left_on.isoformat() if one.left_on else None,
    }


def _show(found: list[dict[str, Any]], as_json: bool) -> None:
    if as_json:
        show_json({"people": found})
        return
    for one in found:
        ways = " and ".join(way for way in ("password", "pin", "badge") if one[way]) or "name alone"
        gone = f", left on {one['left']}" if one["left"] else ""
        click.echo(f"{one['name']}  {one['role']}, {ways}{gone}")
    if not found:
        click.echo("Nobody is recorded: names are typed. Record yourself first: labelsvc person NAME --pin")


def _typed(what: str) -> str:
    """Ask for a secret, twice at a terminal; a pipe gives it as one line."""
    is_terminal = sys.stdin.isatty()
    return str(click.prompt(what, hide_input=is_terminal, confirmation_prompt=is_terminal, err=True))


def _day(field: str, text: str) -> dt.date:
    try:
        return dt.date.fromisoformat(text)
    except ValueError:
        raise InputError(field, "a day such as 2026-03-02", text) from None
