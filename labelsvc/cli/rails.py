"""A counted lot over several rails: how many and what weight on each; every rail has its code, and is weighed by itself."""

from __future__ import annotations

from typing import Any

import click

from labelsvc.cli.options import now, opened, recording, show_json
from labelsvc.errors import InputError


@click.command()
@click.argument("lot")
@click.option("--place", required=True, help="Room or rack.")
@click.option(
    "--rail", "rails", multiple=True, required=True, metavar='"count=weight=tare"',
    help='A rail: how many pieces, what the scale shows, and string and net where not the product\'s: "8=2440 g"; repeat.',
)  # fmt: skip
@recording
def rails(lot: str, place: str, rails: tuple[str, ...], *, at: str | None, as_json: bool, database: str, **how: Any) -> None:
    """String a counted lot over several rails: each gets a code, a tag and a stop weight of its own."""
    from labelsvc.operations.rails import string_over_rails

    given = {"from": lot, "place": place, "rails": [_rail(text, number) for number, text in enumerate(rails)], "at": at}
    said = {"who": how["who"], "confirmed": how["yes"], "once": how["once"]}
    done = string_over_rails(opened(database), given, now=now(), **said)
    if as_json:
        show_json(done.as_json())
        return
    click.echo(f"Recorded as fact {done.fact}. Codes: {', '.join(done.codes)}")
    click.echo(f"Next: print the tags: {'; '.join(f'labelsvc tag {code} --output {code}.pdf' for code in done.codes)}")


def _rail(text: str, number: int) -> dict[str, Any]:
    count, *weights = [word.strip() for word in text.split("=")]
    if not (count.isascii() and count.isdigit()) or not 1 <= len(weights) <= 2:
        raise InputError(f"rails[{number}]", 'how many and what weight, such as "8=2440 g"', f'"{text}"')
    return {"count": int(count), **dict(zip(("weight", "tare"), weights, strict=False))}
