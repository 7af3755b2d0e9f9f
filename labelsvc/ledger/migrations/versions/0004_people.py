"""Keep the people who stand at the bench, outside the sealed chain: secrets change, and names must be able to go."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"


def upgrade() -> None:
    """Create the table of people."""
    text = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")
    number = sa.BigInteger().with_variant(sa.Integer, "sqlite")
    op.create_table(
        "people",
        sa.Column("id", number, primary_key=True),
        sa.Column("name", text, nullable=False),
        sa.Column("name_key", text, nullable=False),
        sa.Column("role", text, nullable=False),
        sa.Column("pin_hash", text),
        sa.Column("badge_digest", text),
        sa.Column("left_on", text),
        sa.Column("wrong_pins", sa.Integer, nullable=False),
        sa.Column("wait_until", text),
        sa.PrimaryKeyConstraint("id", name="pk_people"),
        sa.UniqueConstraint("name_key", name="uq_people_name_key"),
        sa.UniqueConstraint("badge_digest", name="uq_people_badge_digest"),
    )


def downgrade() -> None:
    """Refuse: the ledger only goes forward."""
    raise NotImplementedError("restore a backup instead")
