"""``compute NAME``: one JSON object in, one out; touches no database."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Mapping
from typing import Any

import click

from labelsvc.cli.options import read_json, show_json
from labelsvc.errors import InputError, LabelsvcError

Computing = Callable[[Mapping[str, Any]], dict[str, Any]]


@click.command()
@click.argument("name")
@click.option("--lines", is_flag=True, help="One object a line in, one a line out; an error object in its place where one fails.")
@click.option("--json", "as_json", is_flag=True, help="Answer in JSON; this command always does.")
@click.option("--database", expose_value=False, metavar="URL", help="Taken as by every command; this one needs no database.")
def compute(name: str, lines: bool, as_json: bool) -> None:
    """Compute something from a JSON object on standard input: see the list of names with an unknown one."""
    computing = _named(name)
    source = sys.stdin
    if not lines:
        show_json(computing(_object(source.read(), name)))
        return
    for line in source:
        if line.strip():
            try:
                show_json(computing(_object(line, name)))
            except LabelsvcError as error:
                show_json({"error": error.as_json()})


def _object(text: str, name: str) -> Mapping[str, Any]:
    given = read_json(text, name)
    if not isinstance(given, dict):
        raise InputError(name, "one JSON object", json.dumps(given)[:60])
    return given


def _named(name: str) -> Computing:
    from labelsvc.operations.computing import COMPUTATIONS

    if name not in COMPUTATIONS:
        raise InputError("name", f"one of {', '.join(COMPUTATIONS)}", name)
    return COMPUTATIONS[name]
