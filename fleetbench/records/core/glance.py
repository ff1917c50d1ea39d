"""The journal's head of a file, seen through the bare driver before anything that reads the tables' definitions.

It serves to tell whether something that was kept of the records still belongs to them, and for nothing else.
"""

import sqlite3
from contextlib import closing
from pathlib import Path


def head_at_a_glance(file: Path) -> str | None:
    """The hash of the last entry; None where the file holds none or cannot be read as it stands."""
    try:
        with closing(sqlite3.connect(f"{file.resolve().as_uri()}?mode=ro", uri=True, timeout=0.2)) as bare:
            found = bare.execute("SELECT hash FROM journal ORDER BY id DESC LIMIT 1").fetchone()
    except (sqlite3.Error, OSError, ValueError):
        return None
    return str(found[0]) if found else None
