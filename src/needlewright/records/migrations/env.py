"""Run by Alembic: the steps are taken in the transaction of whoever asks."""

from alembic import context

from needlewright.records.tables import Base

connection = context.config.attributes.get("connection")
if connection is None:
    # Only to write the steps down as SQL for another database: nothing is run.
    context.configure(
        dialect_name=context.config.attributes.get("dialect", "sqlite"),
        target_metadata=Base.metadata,
        literal_binds=True,
    )
else:
    context.configure(connection=connection, target_metadata=Base.metadata, render_as_batch=True)
with context.begin_transaction():
    context.run_migrations()
