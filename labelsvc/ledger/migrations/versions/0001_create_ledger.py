"""Create the facts, which only ever grow, and the projections."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None

_ID = sa.BigInteger().with_variant(sa.Integer, "sqlite")
_NEVER = "facts are only ever appended: record a correction instead"


def upgrade() -> None:
    """Create the tables and the triggers that refuse every change of a fact."""
    _create_facts()
    _create_projections()
    _create_indexes()
    if op.get_bind().dialect.name == "sqlite":
        _refuse_change_on_sqlite()
    else:
        _refuse_change_on_postgresql()


def downgrade() -> None:
    """Refuse: the ledger only goes forward."""
    raise NotImplementedError("restore a backup instead")


def _create_facts() -> None:
    op.create_table(
        "facts",
        sa.Column("seq", _ID, autoincrement=False, nullable=False),
        sa.Column("kind", sa.Text, nullable=False),
        sa.Column("version", sa.Integer, nullable=False),
        sa.Column("happened_at", sa.Text, nullable=False),
        sa.Column("recorded_at", sa.Text, nullable=False),
        sa.Column("recorded_by", sa.Text, nullable=False),
        sa.Column("body", sa.Text, nullable=False),
        sa.Column("previous_hash", sa.Text, nullable=False),
        sa.Column("hash", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("seq", name="pk_facts"),
    )


def _create_projections() -> None:
    op.create_table(
        "effective",
        sa.Column("fact", _ID, autoincrement=False, nullable=False),
        sa.Column("kind", sa.Text, nullable=False),
        sa.Column("at", sa.Text, nullable=False),
        sa.Column("day", sa.Text, nullable=False),
        sa.Column("body", sa.Text),
        sa.Column("codes", sa.Text, nullable=False),
        sa.Column("read_as", sa.Text, nullable=False),
        sa.Column("corrected_by", sa.BigInteger),
        sa.Column("issues", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("fact", name="pk_effective"),
    )
    op.create_table(
        "timeline",
        sa.Column("id", _ID, primary_key=True),
        sa.Column("subject", sa.Text, nullable=False),
        sa.Column("at", sa.Text, nullable=False),
        sa.Column("fact", sa.BigInteger, nullable=False),
        sa.Column("state", sa.Text),
    )
    op.create_table(
        "lots",
        sa.Column("id", _ID, primary_key=True),
        sa.Column("code", sa.Text, nullable=False),
        sa.Column("kind", sa.Text, nullable=False),
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("state", sa.Text, nullable=False),
        sa.Column("place", sa.Text),
        sa.Column("milligrams", sa.BigInteger, nullable=False),
        sa.Column("made_milligrams", sa.BigInteger, nullable=False),
        sa.Column("supplier_key", sa.Text),
        sa.Column("ingredient_key", sa.Text),
        sa.Column("began_at", sa.Text, nullable=False),
        sa.Column("at", sa.Text, nullable=False),
        sa.Column("fact", sa.BigInteger, nullable=False),
        sa.Column("known", sa.Text, nullable=False),
        sa.UniqueConstraint("code", name="uq_lots_code"),
    )
    op.create_table(
        "postings",
        sa.Column("id", _ID, primary_key=True),
        sa.Column("fact", sa.BigInteger, nullable=False),
        sa.Column("flow", sa.Integer, nullable=False),
        sa.Column("account", sa.Text, nullable=False),
        sa.Column("kind", sa.Text, nullable=False),
        sa.Column("milligrams", sa.BigInteger, nullable=False),
        sa.Column("lot", sa.BigInteger, sa.ForeignKey("lots.id", name="fk_postings_lot")),
    )
    op.create_table(
        "links",
        sa.Column("id", _ID, primary_key=True),
        sa.Column("fact", sa.BigInteger, nullable=False),
        sa.Column("giver", sa.BigInteger, sa.ForeignKey("lots.id", name="fk_links_giver"), nullable=False),
        sa.Column("receiver", sa.BigInteger, sa.ForeignKey("lots.id", name="fk_links_receiver"), nullable=False),
        sa.Column("milligrams", sa.BigInteger, nullable=False),
    )
    op.create_table(
        "contacts",
        sa.Column("id", _ID, primary_key=True),
        sa.Column("lot", sa.BigInteger, sa.ForeignKey("lots.id", name="fk_contacts_lot"), nullable=False),
        sa.Column("thing", sa.Text, nullable=False),
        sa.Column("kind", sa.Text, nullable=False),
        sa.Column("begins", sa.Text, nullable=False),
        sa.Column("ends", sa.Text),
    )
    op.create_table(
        "aliases",
        sa.Column("id", _ID, primary_key=True),
        sa.Column("alias", sa.Text, nullable=False),
        sa.Column("lot", sa.BigInteger, sa.ForeignKey("lots.id", name="fk_aliases_lot"), nullable=False),
    )
    op.create_table(
        "counters",
        sa.Column("day", sa.Text, nullable=False),
        sa.Column("last", sa.Integer, nullable=False),
        sa.PrimaryKeyConstraint("day", name="pk_counters"),
    )


def _create_indexes() -> None:
    for name, table, columns, unique in (
        ("ix_effective_at", "effective", ["at", "fact"], False),
        ("ix_timeline_subject", "timeline", ["subject", "at", "fact"], True),
        ("ix_timeline_fact", "timeline", ["fact"], False),
        ("ix_lots_supplier_key", "lots", ["supplier_key", "began_at"], False),
        ("ix_lots_ingredient_key", "lots", ["ingredient_key", "began_at"], False),
        ("ix_lots_began_at", "lots", ["began_at", "kind"], False),
        ("ix_postings_fact", "postings", ["fact", "flow"], False),
        ("ix_postings_lot", "postings", ["lot"], False),
        ("ix_links_down", "links", ["giver", "receiver", "milligrams"], False),
        ("ix_links_up", "links", ["receiver", "giver", "milligrams"], False),
        ("ix_links_fact", "links", ["fact"], False),
        ("ix_contacts_thing", "contacts", ["kind", "thing", "begins"], False),
        ("ix_contacts_lot", "contacts", ["lot"], False),
        ("ix_aliases_alias", "aliases", ["alias"], False),
        ("ix_aliases_lot", "aliases", ["lot"], False),
    ):
        op.create_index(name, table, columns, unique=unique)


def _refuse_change_on_sqlite() -> None:
    # INSERT OR REPLACE deletes without firing the delete trigger; the insert trigger sees the number that is there already.
    for name, moment, condition in (
        ("facts_no_update", "UPDATE", ""),
        ("facts_no_delete", "DELETE", ""),
        ("facts_no_replace", "INSERT", "WHEN EXISTS (SELECT 1 FROM facts WHERE seq = NEW.seq)"),
    ):
        op.execute(f"CREATE TRIGGER {name} BEFORE {moment} ON facts {condition} BEGIN SELECT RAISE(ABORT, '{_NEVER}'); END")


def _refuse_change_on_postgresql() -> None:
    op.execute(
        f"CREATE FUNCTION refuse_change_of_fact() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN RAISE EXCEPTION '{_NEVER}'; END $$"
    )
    op.execute(
        "CREATE TRIGGER facts_no_change BEFORE UPDATE OR DELETE ON facts FOR EACH ROW EXECUTE FUNCTION refuse_change_of_fact()"
    )
    op.execute(
        "CREATE TRIGGER facts_no_truncate BEFORE TRUNCATE ON facts FOR EACH STATEMENT EXECUTE FUNCTION refuse_change_of_fact()"
    )
