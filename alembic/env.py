"""Runs migrations on a connection handed in by the program, or on FLEETBENCH_DB from the command line."""

import os
from typing import Any, Literal

from alembic import context
from sqlalchemy import Connection, create_engine

from fleetbench.records.core.database import as_url
from fleetbench.records.core.schema import Figure, UtcTimestamp
from fleetbench.records.upkeep.tables import metadata


def _plain_type(kind: str, item: Any, _context: Any) -> str | Literal[False]:
    """The type as SQLAlchemy's own, since a revision is frozen and imports nothing that may change later."""
    if kind == "type" and isinstance(item, UtcTimestamp):
        return "sa.DateTime(timezone=True)"
    if kind == "type" and isinstance(item, Figure):
        return "sa.Float(53)"
    return False


def _run(connection: Connection) -> None:
    # SQLite can undo DDL once the driver leaves BEGIN to us, so a migration is taken whole or not at all there too.
    context.configure(
        connection=connection,
        target_metadata=metadata,
        render_as_batch=True,
        transactional_ddl=True,
        compare_type=True,
        compare_server_default=True,
        render_item=_plain_type,
    )
    with context.begin_transaction():
        context.run_migrations()


def _from_command_line() -> None:
    where = os.environ.get("FLEETBENCH_DB")
    if not where:
        raise SystemExit("FLEETBENCH_DB: name the database to compare with, a file or a postgresql:// address")
    with create_engine(as_url(where)).connect() as connection:
        _run(connection)
        connection.commit()


handed_in = context.config.attributes.get("connection")
if handed_in is None:
    _from_command_line()
else:
    _run(handed_in)
