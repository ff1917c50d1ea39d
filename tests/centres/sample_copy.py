"""The sample fleet on an empty server database: every row of the imported file copied, which takes a second where an
import takes many.
"""

from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Table, select, text

from fleetbench.records.core.database import Database, learn_sizes
from fleetbench.records.upkeep.tables import metadata


def copy_sample(sample_file: Path, target: Database) -> None:
    """Copy all rows from the imported file, which is only read."""
    source = Database(sample_file)
    try:
        with source.engine.connect() as old, target.engine.begin() as new:
            new.execute(text("SET LOCAL session_replication_role = replica"))
            for table in metadata.sorted_tables:
                _copy(old, new, table)
            learn_sizes(new)
    finally:
        source.close()


def _copy(old: Connection, new: Connection, table: Table) -> None:
    binds = [column.type.dialect_impl(new.dialect).bind_processor(new.dialect) for column in table.columns]
    names = ", ".join(f'"{column.name}"' for column in table.columns)
    cursor: Any = new.connection.cursor()
    with cursor.copy(f'COPY "{table.name}" ({names}) FROM STDIN') as into:
        for row in old.execute(select(*table.columns)):
            into.write_row([value if bind is None else bind(value) for bind, value in zip(binds, row, strict=True)])
    cursor.close()
