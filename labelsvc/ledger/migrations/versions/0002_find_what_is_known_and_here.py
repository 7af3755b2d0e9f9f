"""Index what is known of a subject and what is in the workshop: neither read grows with the years of facts any more."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    """Create the two partial indexes."""
    known = sa.text("state IS NOT NULL")
    op.create_index("ix_timeline_known", "timeline", ["subject", "at", "fact"], sqlite_where=known, postgresql_where=known)
    here = sa.text("milligrams > 0")
    op.create_index("ix_lots_here", "lots", ["state", "id"], sqlite_where=here, postgresql_where=here)


def downgrade() -> None:
    """Refuse: the ledger only goes forward."""
    raise NotImplementedError("restore a backup instead")
