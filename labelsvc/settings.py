"""The only reader of the environment, and the only place that knows where shipped files lie."""

from __future__ import annotations

import os
from pathlib import Path

from labelsvc.errors import InputError
from labelsvc.labels.shelf import Shelf

DATABASE = "labelsvc.db"  # a file in the folder one works in, until a URL says otherwise


def database() -> str:
    """Return the database URL: LABELSVC_DATABASE, else a file in the present folder."""
    return os.environ.get("LABELSVC_DATABASE", DATABASE)


def who() -> str:
    """Return who is working: LABELSVC_WHO, else nobody."""
    return os.environ.get("LABELSVC_WHO", "")


def layouts() -> Shelf:
    """Return the layouts at hand: those of LABELSVC_LAYOUTS, a person's own folder, go before the shipped ones."""
    own = os.environ.get("LABELSVC_LAYOUTS")
    return Shelf(shipped("label_layouts"), Path(own) if own else None)


def idle_minutes() -> str:
    """Return how many minutes a bench may be left alone: LABELSVC_IDLE_MINUTES, else 30, a meal's length (common practice)."""
    return os.environ.get("LABELSVC_IDLE_MINUTES", "30")


def keep_months() -> int | None:
    """Return how many months what is personal of buyers is kept after the last time: LABELSVC_KEEP_MONTHS; None if not said.

    Raises:
        InputError: no whole number of months.
    """
    said = os.environ.get("LABELSVC_KEEP_MONTHS", "")
    if said and not (said.isascii() and said.isdigit() and len(said) <= 4):
        raise InputError("LABELSVC_KEEP_MONTHS", "a whole number of months", said)
    return int(said) if said else None


def proxy() -> str:
    """Return the address of the proxy whose word about who asks is taken: LABELSVC_PROXY, else nobody's."""
    return os.environ.get("LABELSVC_PROXY", "")


def shipped(name: str) -> Path:
    """Return a folder that comes with the program, from a wheel or from a checkout.

    Args:
        name: ``label_layouts`` or ``demo``.

    Raises:
        FileNotFoundError: neither is there, so the installation is broken.
    """
    package = Path(__file__).parent
    in_checkout = {"label_layouts": package.parent / "label_layouts", "demo": package.parent / "fixtures" / "demo"}[name]
    for folder in (package / "_shipped" / name, in_checkout):
        if folder.is_dir():
            return folder
    raise FileNotFoundError(f"the folder {name} is missing from this installation: install labelsvc again")
