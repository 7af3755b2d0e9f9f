"""Called by alembic: runs the migrations on the connection that ``run.upgrade`` hands over."""

from __future__ import annotations

from alembic import context

from labelsvc.ledger.tables import metadata

context.configure(connection=context.config.attributes["connection"], target_metadata=metadata, transactional_ddl=True)
context.run_migrations()
