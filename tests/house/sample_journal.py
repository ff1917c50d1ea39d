"""What the journal says of the sample's whole season: `python -m tests.house.sample_journal --write` renews it.

A line a table: how often its rows were written, and the SHA-256 of what was written, in order.
"""

import hashlib
import json
import sqlite3
import sys
import tempfile
from collections import Counter, defaultdict
from pathlib import Path
from typing import Any

KEPT = Path(__file__).with_name("sample_journal.txt")
DIGITS = 9
"""Figures are digested to so many significant digits: linear algebra differs in the last ones between processors."""


def lines_of(database: Path) -> list[str]:
    """The journal of that SQLite file, a line a table, acts and subjects first; when it was written does not count."""
    written: Counter[str] = Counter()
    digests: dict[str, Any] = defaultdict(hashlib.sha256)
    connection = sqlite3.connect(f"file:{database}?mode=ro", uri=True)
    try:
        for act, subject, content in connection.execute("SELECT act, subject, content FROM journal ORDER BY id"):
            for table, *row in ((" entries", act, subject), *json.loads(content)["rows"]):
                written[table] += 1
                digests[table].update((json.dumps(_rounded(row), sort_keys=True) + "\n").encode())
    finally:
        connection.close()
    return [f"{table.strip()} {written[table]} {digests[table].hexdigest()}" for table in sorted(written)]


def _rounded(told: Any) -> Any:
    """The same with every float rounded to DIGITS."""
    match told:
        case float():
            return float(f"{told:.{DIGITS}g}")
        case dict():
            return {name: _rounded(value) for name, value in told.items()}
        case list() | tuple():
            return [_rounded(value) for value in told]
    return told


def main() -> None:
    """Print the lines of a new sample, or keep them."""
    from tests.conftest import SAMPLE_NOW, Clock, import_sample

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "sample.db"
        import_sample(path, clock=Clock(SAMPLE_NOW), moved=False)
        text = "\n".join(lines_of(path)) + "\n"
    if "--write" in sys.argv:
        KEPT.write_text(text, encoding="utf-8")
    else:
        print(text, end="")


if __name__ == "__main__":
    main()
