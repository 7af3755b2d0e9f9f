"""${message}.

Never batch-alter ``facts``: on SQLite that rebuilds the table and silently drops the triggers that keep it append-only.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = ${repr(up_revision)}
down_revision = ${repr(down_revision)}


def upgrade() -> None:
    """Change the tables."""


def downgrade() -> None:
    """Refuse: the ledger only goes forward."""
    raise NotImplementedError("restore a backup instead")
