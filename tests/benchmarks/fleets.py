"""Databases of invented fleets of any size, made by the sample's own generator and taken in by the importer."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

from fleetbench.records.upkeep.migrate import open_database
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.import_export import files
from fleetbench.workshop.import_export.import_folder import import_folder
from tests.fleet_maker import history, sheets

SEED = 20


def build(folder: Path, units: int, months: int, server: str | None = None) -> Path:
    """A file with that many units and months of history, or the database at an address of a server filled instead.

    Its clock's today is the stated day moved to now. What stands in the folder from an earlier run of the day is taken.
    """
    made = folder / f"sheets-{units}"
    path = folder / f"fleet-{units}.sqlite"
    if not made.exists():
        made.mkdir(parents=True)
        sheets.write(history.make(units, SEED, months).grid(timedelta(0)), made)
    elif path.exists() and server is None:
        return path
    files.MOST_BYTES = files.MOST_BYTES_TOGETHER  # the readings of 10,000 units are one sheet here, not split
    workplace = Workplace(open_database(server or path))
    report = import_folder(workplace, made, shift_to=datetime.now(UTC).date())
    workplace.database.close()
    if report.faults:
        raise ValueError(f"sheets of {units} units: {report.faults[0]}")
    return path
