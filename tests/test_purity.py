"""What no linter checks: no binary float in regulated sums, and the same commands and fields in code and in the documents."""

from __future__ import annotations

import ast
from pathlib import Path

import click
import msgspec
import pytest

from labelsvc import facts
from labelsvc.cli.group import labelsvc

ROOT = Path(__file__).parents[1]
EXACT = ("declaration", "curing", "codes", "trace", "rules", "facts", "recipe.py", "shape.py", "units.py")
ESTIMATES = ("drying.py", "drying_fit.py", "water.py")  # called estimates wherever they are shown


def exact_modules() -> list[Path]:
    package = ROOT / "labelsvc"
    found = [path for name in EXACT for path in ([package / name] if name.endswith(".py") else (package / name).rglob("*.py"))]
    return [path for path in found if path.name not in ESTIMATES]


@pytest.mark.parametrize("module", exact_modules(), ids=lambda path: path.stem)
def test_regulated_module_has_no_float_literal_and_makes_no_float(module: Path) -> None:
    tree = ast.parse(module.read_text(encoding="utf-8"))
    literals = [node.lineno for node in ast.walk(tree) if isinstance(node, ast.Constant) and isinstance(node.value, float)]
    calls = [
        node.lineno
        for node in ast.walk(tree)
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "float"
    ]
    assert (literals, calls) == ([], [])


def test_purity_check_sees_the_modules_it_is_for() -> None:
    assert len(exact_modules()) > 30


@pytest.mark.parametrize("kind", facts.KINDS)
def test_kind_of_fact_is_described_for_developers_with_each_field(kind: str) -> None:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    line = next((line for line in text.splitlines() if line.startswith(f"- `{kind}` {{")), "")
    listed = [name.strip().rstrip("?") for name in line.partition("{")[2].partition("}")[0].split(",")]
    assert listed == [field.encode_name for field in msgspec.structs.fields(facts.KINDS[kind])]


def test_readme_opens_with_the_job_and_gives_two_commands_of_one_line() -> None:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    assert text.split("\n\n")[1].startswith("A small curing workshop")
    assert "python3 -m venv .venv && .venv/bin/pip install -q . && .venv/bin/labelsvc demo\n" in text
    assert "python3 -m venv .venv && .venv/bin/pip install -q '.[test]' && .venv/bin/pytest\n" in text


def test_readme_shows_only_commands_and_options_that_exist() -> None:
    shown = [line for line in (ROOT / "README.md").read_text(encoding="utf-8").splitlines() if line.startswith("labelsvc ")]
    assert len(shown) > 10
    for line in shown:
        words = line.partition("#")[0].split()
        command = labelsvc.get_command(None, words[1])  # type: ignore[arg-type]
        assert command is not None, line
        if isinstance(command, click.Group) and len(words) > 2:  # as printers add
            assert words[2] in command.commands, line
            command = command.commands[words[2]]
        options = {name for parameter in command.params for name in parameter.opts}
        unknown = [word for word in words if word.startswith("--") and word not in options]
        assert unknown == [], line
