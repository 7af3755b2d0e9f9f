"""The command line: one command a moment of work, calling the same operations as ``record`` and the web."""

from __future__ import annotations

from labelsvc.cli.group import run

__all__ = ["run"]
