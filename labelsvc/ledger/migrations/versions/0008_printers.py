"""Keep the printers of the workshop, outside the sealed chain."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0008"
down_revision = "0007"


def upgrade() -> None:
    """Create the table."""
    text = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")
    number = sa.BigInteger().with_variant(sa.Integer, "sqlite")
    op.create_table(
        "printers",
        sa.Column("id", number, primary_key=True),
        sa.Column("name", text, nullable=False),
        sa.Column("name_key", text, nullable=False),
        sa.Column("uri", text, nullable=False),
        sa.Column("layouts", text, nullable=False),
        sa.Column("dots_per_mm", sa.Integer),
        sa.PrimaryKeyConstraint("id", name="pk_printers"),
        sa.UniqueConstraint("name_key", name="uq_printers_name_key"),
    )


def downgrade() -> None:
    """Refuse: the ledger only goes forward."""
    raise NotImplementedError("restore a backup instead")
