"""Keep what answers show, what came into each lot and who got what: a recall of tens of thousands of lots adds them up."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0013"
down_revision = "0012"


def upgrade() -> None:
    """Add the columns, the table and the indexes; what is in them is derived anew, as after any migration."""
    dialect = op.get_context().dialect.name
    op.add_column("lots", sa.Column("came_in", sa.BigInteger, nullable=False, server_default="0"))
    text = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")
    op.add_column("lots", sa.Column("shown", text, nullable=False, server_default=""))
    op.add_column("postings", sa.Column("alone_with", text))
    op.create_table(
        "handed_over",
        sa.Column("id", sa.BigInteger().with_variant(sa.Integer, "sqlite"), nullable=False),
        sa.Column("fact", sa.BigInteger, nullable=False),
        sa.Column("lot", sa.BigInteger, sa.ForeignKey("lots.id", name="fk_handed_over_lot"), nullable=False),
        sa.Column("account", text, nullable=False),
        sa.Column("kind", text, nullable=False),
        sa.Column("name", text, nullable=False),
        sa.Column("name_key", text, nullable=False),
        sa.Column("milligrams", sa.BigInteger, nullable=False),
        sa.Column("at", text, nullable=False),
        sa.Column("day", text, nullable=False),
        sa.Column("document", text),
        sa.PrimaryKeyConstraint("id", name="pk_handed_over"),
    )
    if dialect == "postgresql":
        op.alter_column("lots", "came_in", server_default=None)
        op.alter_column("lots", "shown", server_default=None)
    op.drop_index("ix_postings_lot", "postings")
    op.create_index("ix_postings_lot", "postings", ["lot", "alone_with", "fact", "flow", "milligrams"])
    op.create_index("ix_handed_over_fact", "handed_over", ["fact"])
    op.create_index("ix_handed_over_lot", "handed_over", ["lot"])
    op.create_index("ix_handed_over_name_key", "handed_over", ["name_key", "day"])
    op.create_index("ix_handed_over_day", "handed_over", ["day"])


def downgrade() -> None:
    """Refuse: the ledger only goes forward."""
    raise NotImplementedError("restore a backup instead")
