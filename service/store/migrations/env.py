"""Run migrations on the connection that the store hands over."""

from alembic import context
from sqlmodel import SQLModel

import service.store.cycle_tables
import service.store.identity_tables
import service.store.tables  # noqa: F401  (fills the metadata)

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=SQLModel.metadata,
    render_as_batch=True,
)
with context.begin_transaction():
    context.run_migrations()
