"""Rows held and written together give the rows, the entries and the head that writing each at once gives."""

import shutil
from datetime import timedelta
from pathlib import Path

from fleetbench.records.bench.tables import Opening
from fleetbench.records.core.database import Database
from fleetbench.records.core.transaction import transaction
from fleetbench.records.upkeep.migrate import open_database
from fleetbench.records.upkeep.verify import journal_head, verify
from fleetbench.workshop.core.workplace import Workplace
from tests.centres.ready_centre import Centre
from tests.conftest import Clock


def written(database: Database, clock: Clock, unit_id: int, *, together: bool) -> str | None:
    """The head after three entries of openings in one act."""
    with transaction(database, clock, None, "import", "openings") as act, act.gathering() as write:
        for number in range(3):
            rows = [{"unit_id": unit_id, "at": clock() - timedelta(hours=number), "kind": "workshop", "what": what,
                     "ref": f"O-{number}-{what}"} for what in ("hose", "head")]  # fmt: skip
            act.bulk(Opening, rows)
            act.close_entry(subject=f"openings {number}")
            if not together:
                write()
    return journal_head(database)


def test_what_is_written_together_is_chained_as_what_is_written_one_by_one(
    sqlite_database: Database, clock: Clock, tmp_path: Path
) -> None:
    centre = Centre(Workplace(sqlite_database, clock), clock)
    assert sqlite_database.path is not None
    with sqlite_database.engine.connect() as connection:
        connection.exec_driver_sql("PRAGMA wal_checkpoint(TRUNCATE)")
    other = open_database(Path(shutil.copy(sqlite_database.path, tmp_path / "other.db")))
    first = written(sqlite_database, clock, centre.one, together=True)
    assert written(other, clock, centre.one, together=False) == first
    assert verify(sqlite_database).whole
    assert verify(other).whole
    other.close()
