"""Brings a database up to the newest shape."""

from __future__ import annotations

from alembic import command
from alembic.config import Config

from labelsvc.ledger.database import Ledger
from labelsvc.ledger.replay import rebuild


def upgrade(ledger: Ledger) -> None:
    """Run the migrations that the database has not seen, in one transaction; of several stations, one does it.

    What an earlier program derived from the facts may not be what this one derives: all of it is derived anew, from the facts
    as they stand; whether these hold is for ``verify`` to say.
    """
    with ledger.writing() as connection:
        configuration = configured()
        configuration.attributes["connection"] = connection
        command.upgrade(configuration, "head")
        rebuild(connection)


def configured() -> Config:
    """Return the configuration, without a file."""
    configuration = Config()
    configuration.set_main_option("script_location", "labelsvc.ledger:migrations")
    return configuration
