"""Let PostgreSQL order and compare text by code points, as SQLite does: ranges of subjects and instants rely on it."""

from __future__ import annotations

from alembic import op

revision = "0003"
down_revision = "0002"

_COLUMNS = {
    "effective": ("kind", "at", "day", "body", "codes", "read_as", "issues"),
    "timeline": ("subject", "at", "state"),
    "lots": ("code", "kind", "name", "state", "place", "supplier_key", "ingredient_key", "began_at", "at", "known"),
    "postings": ("account", "kind"),
    "contacts": ("thing", "kind", "begins", "ends"),
    "aliases": ("alias",),
    "counters": ("day",),
    "facts": ("kind", "happened_at", "recorded_at", "recorded_by", "body", "previous_hash", "hash"),
}


def upgrade() -> None:
    """Change how the columns compare; their contents, and the triggers on the facts, stay."""
    if op.get_bind().dialect.name != "postgresql":
        return
    for table, columns in _COLUMNS.items():
        changes = ", ".join(f'ALTER COLUMN {column} TYPE text COLLATE "C"' for column in columns)
        op.execute(f"ALTER TABLE {table} {changes}")


def downgrade() -> None:
    """Refuse: the ledger only goes forward."""
    raise NotImplementedError("restore a backup instead")
