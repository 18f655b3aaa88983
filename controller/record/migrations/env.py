"""What the migrations run in: the connection, already in its transaction, that `opening` hands over."""

from __future__ import annotations

from alembic import context

from controller.record.tables import metadata

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=metadata,
    transactional_ddl=True,  # SQLite undoes a half-made table too, when the transaction is begun in words
    render_as_batch=True,
)
context.run_migrations()
