"""The grams to weigh out: by a recipe for several pieces, or for targets for one piece, with what the law says to them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import click

from labelsvc.cli.options import as_json, database, now, opened, show_json

_SCALE = click.option("--scale-step", help='The step of the scale, such as "0.1 g": says what it can make of the dose.')


@click.command()
@click.argument("recipe")
@click.argument("pieces", nargs=-1, required=True)
@click.option("--container", "containers", multiple=True, help="A bag it is taken from: its own strength counts; repeat.")
@_SCALE
@click.option("--working", is_flag=True, help="Show the sums with their numbers.")
@as_json
@database
def doses(
    recipe: str, pieces: tuple[str, ...], containers: tuple[str, ...], scale_step: str | None, working: bool, as_json: bool,
    database: str,
) -> None:  # fmt: skip
    """Show the grams to weigh out for these pieces by a recipe, each and together."""
    from labelsvc.operations.dosing import grams_to_weigh
    from labelsvc.operations.looking import today

    ledger = opened(database)
    on = today(ledger, now())
    answer = grams_to_weigh(ledger, recipe, pieces, on=on, containers=containers, scale_step=scale_step)
    if as_json:
        show_json(answer)
        return
    for piece in answer["pieces"]:
        click.echo(f"{piece['code']}  {piece['name']}, green {piece['green_grams']} g")
        _show_lines(piece["weigh"])
        _show_dose(piece, working)
    if len(answer["pieces"]) > 1:
        click.echo("Together")
        _show_lines(answer["together"])
    for caution in answer["cautions"]:
        click.echo(caution)


@click.command()
@click.argument("piece")
@click.option("--container", required=True, help="The bag of curing salt: its own strength counts.")
@click.option("--nitrite-ppm", help="Wanted nitrite, mg/kg of green weight as sodium nitrite.")
@click.option("--salt-percent", help="Wanted salt, percent of green weight, that of the curing salt included.")
@click.option("--sugar-percent", help="Wanted sugar, percent of green weight.")
@_SCALE
@click.option("--working", is_flag=True, help="Show the sums with their numbers.")
@as_json
@database
def dose(
    piece: str, container: str, nitrite_ppm: str | None, salt_percent: str | None, sugar_percent: str | None,
    scale_step: str | None, working: bool, as_json: bool, database: str,
) -> None:  # fmt: skip
    """Show the grams that bring a piece to wanted nitrite, salt and sugar, from one bag of curing salt."""
    from labelsvc.operations.dosing import grams_for_targets
    from labelsvc.operations.looking import today

    wanted = {"nitrite_ppm": nitrite_ppm, "salt_percent": salt_percent, "sugar_percent": sugar_percent}
    targets = {name: value for name, value in wanted.items() if value is not None}
    ledger = opened(database)
    answer = grams_for_targets(ledger, piece, container, targets, on=today(ledger, now()), scale_step=scale_step)
    if as_json:
        show_json(answer)
        return
    click.echo(f"{answer['code']}  {answer['name']}, green {answer['green_grams']} g, from {answer['container']}")
    for line in answer["weigh"]:
        click.echo(f"  {line['weight']:>12}  {line['name']}")
    if scale_step:
        _show_worst(answer["worst"])
    _show_findings([{**one, "market": said["market"]} for said in answer["markets"] for one in said["findings"]])
    for caution in answer["cautions"]:
        click.echo(caution)
    _show_working(answer["working"], working)


@click.command()
@click.argument("name")
@click.argument("volume_", metavar="VOLUME")
@click.option("--database", expose_value=False, metavar="URL", help="Taken as by every command; this one needs no database.")
@as_json
def volume(name: str, volume_: str, as_json: bool) -> None:
    """Show what a spoon or cup of a spice weighs by an open table; a curing salt is never measured by the spoon."""
    from labelsvc.curing.volumes import compute_volume

    answer = compute_volume({"name": name, "volume": volume_})
    if as_json:
        show_json(answer)
        return
    click.echo(f"{answer['volume']} of {name}: about {answer['weight']} ({answer['source']})")
    for finding in answer["findings"]:
        click.echo(f"  ! {finding['message']}")


def _show_lines(lines: Sequence[dict[str, str]]) -> None:
    for line in lines:
        container = f" from {line['container']}" if "container" in line else ""
        why = f" ({line['why']})" if "why" in line else ""
        click.echo(f"  {line['weight']:>12}  {line['ingredient']}{container}{why}")


def _show_dose(piece: dict[str, Any], working: bool) -> None:
    click.echo(f"  {piece['said']}")
    if "worst" in piece:
        _show_worst(piece["worst"])
    _show_findings(piece["findings"])
    _show_working(piece["working"], working)


def _show_worst(worst: dict[str, str]) -> None:
    click.echo(f"  on this scale {worst['nitrite_ppm_low']} to {worst['nitrite_ppm_high']} ppm as sodium nitrite")


def _show_findings(findings: Sequence[dict[str, Any]]) -> None:
    """Say what matters: what warns or stops, and the caution."""
    said = (one["message"] for one in findings if one["severity"] != "note")
    for message in dict.fromkeys(said):
        click.echo(f"  ! {message}")


def _show_working(lines: Sequence[str], working: bool) -> None:
    for line in lines if working else ():
        click.echo(f"    {line}")
