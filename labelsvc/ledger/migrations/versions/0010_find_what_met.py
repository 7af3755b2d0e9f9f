"""Count the days of a stay, and index kinds of facts and lots: who met whom, and who had what, is found without all the years."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0010"
down_revision = "0009"


def upgrade() -> None:
    """Add the days, count them for the stays that are there, and create the indexes."""
    op.add_column("contacts", sa.Column("first_day", sa.Integer, nullable=False, server_default="0"))
    op.add_column("contacts", sa.Column("days", sa.Integer))
    dialect = op.get_context().dialect.name
    op.execute(_count_days(dialect))
    if dialect == "postgresql":
        op.alter_column("contacts", "first_day", server_default=None)
    op.create_index("ix_contacts_first_day", "contacts", ["kind", "thing", "first_day"])
    op.create_index("ix_contacts_days", "contacts", ["kind", "thing", "days"])
    lasts = sa.text("ends IS NULL")
    op.create_index("ix_contacts_lasting", "contacts", ["kind", "thing"], sqlite_where=lasts, postgresql_where=lasts)
    op.create_index("ix_effective_kind", "effective", ["kind", "fact"])
    op.create_index("ix_lots_kind", "lots", ["kind", "id"])


def _count_days(dialect: str) -> str:
    """One statement for all of them: a ledger of many years has millions of stays."""
    if dialect == "postgresql":
        first, last = (f"(substr({at}, 1, 10)::date - DATE '0001-01-01') + 1" for at in ("begins", "ends"))
    else:
        # the year 1 begins at 1721425.5 in Julian days
        first, last = (f"CAST(julianday(substr({at}, 1, 10)) - 1721424.5 AS INTEGER)" for at in ("begins", "ends"))
    return f"UPDATE contacts SET first_day = {first}, days = {last} - ({first})"


def downgrade() -> None:
    """Refuse: the ledger only goes forward."""
    raise NotImplementedError("restore a backup instead")
