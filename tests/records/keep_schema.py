"""Keeps a small real file of the present revision: `python -m tests.records.keep_schema`, once before a release."""

import gzip
import sqlite3
import tempfile
from contextlib import closing
from pathlib import Path

from fleetbench.records.upkeep.migrate import head_revision, open_database
from tests.records.few_rows import write_few_rows

SCHEMAS = Path(__file__).parent / "schemas"


def keep() -> Path:
    """The kept file, made anew."""
    kept = SCHEMAS / f"{head_revision()}.db.gz"
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "kept.db"
        database = open_database(path)
        write_few_rows(database)
        database.close()
        with closing(sqlite3.connect(path)) as connection:
            connection.execute("PRAGMA journal_mode = DELETE")
            connection.execute("VACUUM")
        kept.write_bytes(gzip.compress(path.read_bytes(), mtime=0))
    return kept


if __name__ == "__main__":
    print(keep())
