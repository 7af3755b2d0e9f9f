"""How lots, places and sums are said on the command line."""

from __future__ import annotations

from typing import Any

import click


def show_balance(balance: dict[str, Any]) -> None:
    """Write where the grams of a set of lots went."""
    click.echo(f"Where the grams went: {balance['in']} g in")
    for where, grams in balance["out"].items():
        click.echo(f"  {grams:>14} g  {where}")
    click.echo(f"  {balance['difference']:>14} g  not explained")


def at_place(one: dict[str, Any]) -> str:
    """Return where a lot is, in brackets, and whether it is held."""
    held = ", held" if one.get("held") and one["state"] != "held" else ""
    return f" ({one['place']}){held}" if one.get("place") else held
