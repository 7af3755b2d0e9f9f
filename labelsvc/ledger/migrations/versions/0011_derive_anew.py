"""Say again what follows from the facts: a no typed as a word is a no, and incidents hold what was made since.

No table changes. After any migration everything is derived anew (``migrations/run.py``); this one stands for a change in what
follows from the facts.
"""

from __future__ import annotations

revision = "0011"
down_revision = "0010"


def upgrade() -> None:
    """Change no table."""


def downgrade() -> None:
    """Refuse: the ledger only goes forward."""
    raise NotImplementedError("restore a backup instead")
