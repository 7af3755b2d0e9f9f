"""Keep photographs and papers outside the sealed chain: a fact holds a hash, so that one can be erased."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"


def upgrade() -> None:
    """Create the table of attachments."""
    text = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")
    op.create_table(
        "attachments",
        sa.Column("digest", text, nullable=False),
        sa.Column("media_type", text, nullable=False),
        sa.Column("content", sa.LargeBinary),
        sa.Column("kept_at", text, nullable=False),
        sa.Column("kept_by", text, nullable=False),
        sa.Column("erased_on", text),
        sa.PrimaryKeyConstraint("digest", name="pk_attachments"),
    )


def downgrade() -> None:
    """Refuse: the ledger only goes forward."""
    raise NotImplementedError("restore a backup instead")
