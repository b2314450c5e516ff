"""Where Alembic begins: `mebuki.storage.migrate` gives it a connection in a transaction.

The connection comes with foreign keys off and is committed, or rolled back, by
its owner: tables that are made anew keep the children that point at them.
"""

from __future__ import annotations

from alembic import context

from mebuki.storage.schema import metadata

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=metadata,
    transactional_ddl=True,
    render_as_batch=True,
)
context.run_migrations()
