"""The sample fleet in any empty database: every row of the imported file copied, which takes seconds where an import
takes many.
"""

from pathlib import Path

from sqlalchemy import insert, select, text

from fleetbench.records.core.database import Database, learn_sizes
from fleetbench.records.upkeep.tables import metadata

STEP = 5000


def copy_sample(sample_file: Path, target: Database) -> None:
    """Copy all rows from the imported file, which is only read."""
    source = Database(sample_file)
    try:
        with source.engine.connect() as old, target.engine.begin() as new:
            if target.is_sqlite:
                new.exec_driver_sql("PRAGMA defer_foreign_keys = ON")
            else:
                new.execute(text("SET LOCAL session_replication_role = replica"))
            for table in metadata.sorted_tables:
                rows = [dict(row) for row in old.execute(select(table)).mappings()]
                for place in range(0, len(rows), STEP):
                    new.execute(insert(table), rows[place : place + STEP])
            learn_sizes(new)
    finally:
        source.close()
