"""Run by Alembic for each upgrade: on the connection it is given, inside that connection's transaction."""

from __future__ import annotations

from alembic import context

from linemap.store.schema import metadata

context.configure(
    connection=context.config.attributes["connection"], target_metadata=metadata, transactional_ddl=True
)
with context.begin_transaction():
    context.run_migrations()
