"""The group of commands, and the one table from error to exit code."""

from __future__ import annotations

import importlib
import json
import sys
from collections.abc import Sequence
from typing import Any, cast

import click

from labelsvc.errors import (
    BlockedError,
    ConflictError,
    InputError,
    LabelsvcError,
    LedgerIntegrityError,
    NotFoundError,
    PrinterError,
    StorageError,
)

EXIT_CODES: tuple[tuple[type[LabelsvcError], int], ...] = (
    (NotFoundError, 1),
    (ConflictError, 1),
    (StorageError, 1),
    (PrinterError, 1),
    (InputError, 2),
    (BlockedError, 3),
    (LedgerIntegrityError, 4),
)
# Where each command lives: a command's module is imported when it is called, so that printing a tag does not wait for others.
_MODULES = {
    "record": "recording",
    "tag": "printing",
    "sale-label": "printing",
    "counter-card": "printing",
    "hold-tag": "printing",
    "tub-card": "printing",
    "container-label": "printing",
    "case-label": "printing",
    "markers": "printing",
    "reprint": "printing",
    "void": "printing",
    "layouts": "printing",
    "preview": "printing",
    "printers": "printers",
    "rails": "rails",
    "lot": "reading",
    "declaration": "reading",
    "list": "reading",
    "doses": "dosing",
    "dose": "dosing",
    "volume": "dosing",
    "rules": "lawbook",
    "classes": "lawbook",
    "trace": "reading",
    "recall": "recalling",
    "case": "recalling",
    "complaints": "recalling",
    "paper": "papers",
    "export": "exporting",
    "compute": "computing",
    "person": "people",
    "token": "people",
    "personal": "personal",
    "erase": "personal",
    "verify": "keeping",
    "head": "keeping",
    "backup": "keeping",
    "restore": "keeping",
    "import": "keeping",
    "rebuild": "keeping",
    "demo": "demonstrating",
    "serve": "serving",
}
_ATTRIBUTES = {"list": "list_", "import": "import_"}  # a name that would hide one of Python's own
_FRIENDLY = (
    "workshop",
    "supplier",
    "customer",
    "ingredient",
    "product",
    "recipe",
    "figure",
    "receive",
    "reserve",
    "cut",
    "cure",
    "salt-again",
    "coat",
    "turn",
    "move",
    "take-out",
    "split",
    "string",
    "weigh",
    "check",
    "release",
    "pack",
    "sell",
    "give",
    "return",
    "dispose",
    "count",
    "hold",
    "lift",
    "incident",
    "clean",
    "complaint",
    "answer-complaint",
    "open-case",
    "tell",
    "case-step",
    "publish",
    "unpublish",
    "close-case",
    "correct",
)


class Commands(click.Group):
    """A group that imports a command's module when the command is called."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the names of all commands in the order of the work."""
        return [*_FRIENDLY, *_MODULES]

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Return a command by name."""
        if cmd_name in _FRIENDLY:
            module: Any = importlib.import_module("labelsvc.cli.friendly")
            return cast(click.Command, module.command(cmd_name))
        if cmd_name not in _MODULES:
            return None
        module = importlib.import_module(f"labelsvc.cli.{_MODULES[cmd_name]}")
        return cast(click.Command, getattr(module, _ATTRIBUTES.get(cmd_name, cmd_name.replace("-", "_"))))


@click.group(cls=Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="labelsvc")
def labelsvc() -> None:
    """Labels and traceability for a small curing workshop.

    From goods in to a recall: print a hanging tag when a piece is strung, a sale label at packing, trace a lot after a
    complaint, search a recall. Weights carry a unit ("638 g", "1 lb 4 oz"). Start with: labelsvc demo
    """


def run(arguments: Sequence[str]) -> int:
    """Run a command line and return its exit code; errors are one line on standard error.

    With ``--json`` standard output also carries the error object.
    """
    try:
        result = labelsvc.main(list(arguments), prog_name="labelsvc", standalone_mode=False)
        return result if isinstance(result, int) else 0
    except LabelsvcError as error:
        return _tell(error.message, error.as_json(), _exit_code(error), arguments)
    except click.exceptions.NoArgsIsHelpError as error:
        click.echo(error.format_message())
        return 2
    except click.UsageError as error:
        return _tell_usage(error, arguments)
    except (click.Abort, KeyboardInterrupt):
        return _tell("stopped", {"message": "stopped"}, 2, arguments)
    except BrokenPipeError:
        sys.stderr.close()  # the reader went away; there is nobody to tell
        return 0


def _tell_usage(error: click.UsageError, arguments: Sequence[str]) -> int:
    """Say which argument or option is wrong, in the pattern of all errors."""
    parameter = getattr(error, "param", None)
    named = (parameter.name or "").rstrip("_") if parameter else getattr(error, "option_name", None) or "command"
    field = parameter.opts[0] if parameter and parameter.param_type_name == "option" else named
    where = f"See: {error.ctx.command_path} --help" if error.ctx else "See: labelsvc --help"
    if isinstance(error, click.MissingParameter):
        told: InputError = InputError(field, "a value", "nothing", where)
    elif isinstance(error, click.NoSuchOption):
        told = InputError("command", "only options that it has", error.option_name, where)
    else:
        told = InputError(field, "something the command takes", error.message.rstrip("."), where)
    return _tell(told.message, told.as_json(), 2, arguments)


def _exit_code(error: LabelsvcError) -> int:
    return next((code for kind, code in EXIT_CODES if isinstance(error, kind)), 1)


def _tell(message: str, body: dict[str, Any], code: int, arguments: Sequence[str]) -> int:
    click.echo(" ".join(message.split()), err=True)
    if "--json" in arguments or (arguments and arguments[0] in ("record", "compute")):
        click.echo(json.dumps({"error": body}, ensure_ascii=False))
    return code
