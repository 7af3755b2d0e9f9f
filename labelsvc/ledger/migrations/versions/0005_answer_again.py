"""Keep what was answered to requests that came with a key, so that a retry is safe."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"


def upgrade() -> None:
    """Create the table."""
    text = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")
    op.create_table(
        "requests",
        sa.Column("key", text, nullable=False),
        sa.Column("digest", text, nullable=False),
        sa.Column("fact", sa.BigInteger, nullable=False),
        sa.Column("answer", text, nullable=False),
        sa.PrimaryKeyConstraint("key", name="pk_requests"),
    )


def downgrade() -> None:
    """Refuse: the ledger only goes forward."""
    raise NotImplementedError("restore a backup instead")
