"""Hold what late entries made of held lots: no table changes, everything is derived anew as after any migration."""

from __future__ import annotations

revision = "0014"
down_revision = "0013"


def upgrade() -> None:
    """Change no table."""


def downgrade() -> None:
    """Refuse: the ledger only goes forward."""
    raise NotImplementedError("restore a backup instead")
