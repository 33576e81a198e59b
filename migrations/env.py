"""Alembic's environment: runs the migrations over the connection and inside the transaction that the store hands in.

Never opens a database of its own: `taskdb store upgrade` is the only way in.
"""

from __future__ import annotations

from alembic import context

from taskdb.store.schema import metadata

connection = context.config.attributes["connection"]
context.configure(
    connection=connection,
    target_metadata=metadata,
    render_as_batch=connection.dialect.name == "sqlite",
    transactional_ddl=True,
)
with context.begin_transaction():
    context.run_migrations()
