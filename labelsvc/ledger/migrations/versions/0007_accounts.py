"""Keep passwords, sign-ins, tokens of programs and wrong tries beside the people, outside the sealed chain."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"


def upgrade() -> None:
    """Create the tables; wrong PINs are counted where all wrong tries are."""
    text = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")
    number = sa.BigInteger().with_variant(sa.Integer, "sqlite")
    op.add_column("people", sa.Column("password_hash", text))
    op.drop_column("people", "wrong_pins")
    op.drop_column("people", "wait_until")
    op.create_table(
        "sign_ins",
        sa.Column("id", number, primary_key=True),
        sa.Column("digest", text, nullable=False),
        sa.Column("person", sa.BigInteger, nullable=False),
        sa.Column("device", text, nullable=False),
        sa.Column("is_station", sa.Boolean, nullable=False),
        sa.Column("began_at", text, nullable=False),
        sa.Column("seen_at", text, nullable=False),
        sa.Column("ended_at", text),
        sa.PrimaryKeyConstraint("id", name="pk_sign_ins"),
        sa.UniqueConstraint("digest", name="uq_sign_ins_digest"),
        sa.ForeignKeyConstraint(["person"], ["people.id"], name="fk_sign_ins_person"),
    )
    op.create_table(
        "tokens",
        sa.Column("id", number, primary_key=True),
        sa.Column("digest", text, nullable=False),
        sa.Column("name", text, nullable=False),
        sa.Column("role", text, nullable=False),
        sa.Column("made_by", text, nullable=False),
        sa.Column("made_at", text, nullable=False),
        sa.Column("ends_on", text, nullable=False),
        sa.Column("ended_at", text),
        sa.PrimaryKeyConstraint("id", name="pk_tokens"),
        sa.UniqueConstraint("digest", name="uq_tokens_digest"),
    )
    op.create_table(
        "tries",
        sa.Column("key", text, nullable=False),
        sa.Column("wrong", sa.Integer, nullable=False),
        sa.Column("last_at", text, nullable=False),
        sa.Column("wait_until", text),
        sa.PrimaryKeyConstraint("key", name="pk_tries"),
    )


def downgrade() -> None:
    """Refuse: the ledger only goes forward."""
    raise NotImplementedError("restore a backup instead")
