"""Brings a database up to the newest shape."""

from __future__ import annotations

from alembic import command
from alembic.config import Config

from labelsvc.ledger.database import Ledger


def upgrade(ledger: Ledger) -> None:
    """Run the migrations that the database has not seen, in one transaction; of several stations, one does it."""
    with ledger.writing() as connection:
        configuration = configured()
        configuration.attributes["connection"] = connection
        command.upgrade(configuration, "head")


def configured() -> Config:
    """Return the configuration, without a file."""
    configuration = Config()
    configuration.set_main_option("script_location", "labelsvc.ledger:migrations")
    return configuration
