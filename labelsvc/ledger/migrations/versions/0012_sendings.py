"""Keep what was sent to printers, outside the sealed chain."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0012"
down_revision = "0011"


def upgrade() -> None:
    """Create the table."""
    text = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")
    number = sa.BigInteger().with_variant(sa.Integer, "sqlite")
    op.create_table(
        "sendings",
        sa.Column("id", number, primary_key=True),
        sa.Column("printer", text, nullable=False),
        sa.Column("uri", text, nullable=False),
        sa.Column("dots_per_mm", sa.Integer),
        sa.Column("kind", text, nullable=False),
        sa.Column("labels", text, nullable=False),
        sa.Column("problem", text, nullable=False),
        sa.Column("is_sent", sa.Boolean, nullable=False),
        sa.Column("again", sa.BigInteger),
        sa.PrimaryKeyConstraint("id", name="pk_sendings"),
    )


def downgrade() -> None:
    """Refuse: the ledger only goes forward."""
    raise NotImplementedError("restore a backup instead")
