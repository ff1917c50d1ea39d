"""Import, verify, export and backup of a whole database, each beside the least that any program must do for it."""

import csv
import hashlib
import io
import json
import shutil
import sqlite3
import tempfile
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

from fleetbench.records.upkeep.backup import backup
from fleetbench.records.upkeep.migrate import open_database
from fleetbench.records.upkeep.verify import verify
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.import_export.export import export_folder
from fleetbench.workshop.import_export.import_folder import import_folder
from tests.benchmarks.reads import seconds
from tests.benchmarks.startup import Pair


def measure_import(sheets: Path, database: Path) -> Pair:
    """Sheets taken in; the floor reads them by csv and writes the resulting rows, the journal's too, by executemany."""
    with tempfile.TemporaryDirectory() as folder:
        workplace = Workplace(open_database(Path(folder) / "fleet.sqlite"))
        program = seconds(lambda: import_folder(workplace, sheets, shift_to=datetime.now(UTC).date()))
        workplace.database.close()
        return Pair(program, seconds(lambda: _bare_import(sheets, database, Path(folder) / "bare.sqlite")))


def _bare_import(sheets: Path, database: Path, target: Path) -> None:
    for sheet in sheets.glob("*.csv"):
        with sheet.open(encoding="utf-8", newline="") as file:
            for _ in csv.DictReader(file):
                pass
    source, bare = sqlite3.connect(database), sqlite3.connect(target)
    for (made,) in source.execute("SELECT sql FROM sqlite_master WHERE sql IS NOT NULL AND name NOT LIKE 'sqlite_%'"):
        bare.execute(made)
    for name in _tables(source):
        rows = source.execute(f'SELECT * FROM "{name}"').fetchall()
        if rows:
            bare.executemany(f'INSERT INTO "{name}" VALUES ({",".join("?" * len(rows[0]))})', rows)
    bare.commit()
    bare.close()
    source.close()


def _tables(connection: sqlite3.Connection) -> list[str]:
    asked = "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%'"
    return [name for (name,) in connection.execute(asked)]


def measure_verify(database: Path) -> Pair:
    """The whole chain; the floor checks the file, hashes every entry and parses its content."""
    workplace = Workplace(open_database(database))
    program = seconds(lambda: verify(workplace.database))
    workplace.database.close()
    return Pair(program, _with(database, _bare_verify))


def _bare_verify(bare: sqlite3.Connection) -> None:
    bare.execute("PRAGMA integrity_check").fetchall()
    for (content,) in bare.execute("SELECT content FROM journal ORDER BY id"):
        hashlib.sha256(content.encode()).hexdigest()
        json.loads(content)
    for name in _tables(bare):
        bare.execute(f'SELECT * FROM "{name}"').fetchall()


def measure_export(database: Path) -> Pair:
    """Every sheet written; the floor writes every table by csv."""
    workplace = Workplace(open_database(database))
    with tempfile.TemporaryDirectory() as folder:
        program = seconds(lambda: export_folder(workplace, Path(folder) / "out"))
    workplace.database.close()
    return Pair(program, _with(database, _bare_export))


def _bare_export(bare: sqlite3.Connection) -> None:
    for name in _tables(bare):
        csv.writer(io.StringIO()).writerows(bare.execute(f'SELECT * FROM "{name}"'))


def measure_backup(database: Path) -> Pair:
    """A copy that was checked; the floor copies by the database's own means."""
    workplace = Workplace(open_database(database))
    with tempfile.TemporaryDirectory() as folder:
        program = seconds(lambda: backup(workplace.database, Path(folder) / "copy.sqlite"))

        def bare_backup(bare: sqlite3.Connection) -> None:
            target = sqlite3.connect(Path(folder) / "bare.sqlite")
            bare.backup(target)
            target.close()

        floor = _with(database, bare_backup)
    workplace.database.close()
    return Pair(program, floor)


def _with(database: Path, act: Callable[[sqlite3.Connection], None]) -> float:
    bare = sqlite3.connect(database)
    try:
        return seconds(lambda: act(bare))
    finally:
        bare.close()


def copied(database: Path, folder: Path) -> Path:
    """A copy to write in."""
    return Path(shutil.copy(database, folder / f"copy-{database.name}"))
