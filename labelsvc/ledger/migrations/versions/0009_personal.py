"""Keep what is personal in new facts beside the sealed chain, so that it can be erased."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0009"
down_revision = "0008"


def upgrade() -> None:
    """Create the table; what was sealed before stays as it is."""
    text = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")
    op.create_table(
        "personal",
        sa.Column("key", text, nullable=False),
        sa.Column("fact", sa.BigInteger, nullable=False),
        sa.Column("whose", text, nullable=False),
        sa.Column("text", text, nullable=False),
        sa.Column("salt", text),
        sa.Column("erased_on", text),
        sa.Column("erased_by", text),
        sa.Column("erased_why", text),
        sa.PrimaryKeyConstraint("key", name="pk_personal"),
    )
    op.create_index("ix_personal_whose", "personal", ["whose"])
    op.create_index("ix_personal_fact", "personal", ["fact"])


def downgrade() -> None:
    """Refuse: the ledger only goes forward."""
    raise NotImplementedError("restore a backup instead")
