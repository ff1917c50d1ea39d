"""The invented sample fleet in a folder of its own, to look at and to throw away."""

import shutil
from pathlib import Path

from fleetbench.calc.core.languages import say
from fleetbench.records.core.errors import Refused
from fleetbench.records.upkeep.migrate import open_database
from fleetbench.shipped import shipped
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.import_export.files import Progress
from fleetbench.workshop.import_export.import_folder import import_folder

FOLDER, FILE = "sample", "sample.sqlite"


def sample_path(data: Path) -> Path:
    """Where the sample's records are, beside the user's own data."""
    return data / FOLDER / FILE


def build_sample(data: Path, progress: Progress | None = None) -> Path:
    """The sample's records, written again from the invented files; what stood there is thrown away."""
    throw_away_sample(data)
    path = sample_path(data)
    path.parent.mkdir(parents=True, mode=0o700)
    workplace = Workplace(open_database(path))
    try:
        report = import_folder(workplace, shipped("sample_fleet"), shift_to=workplace.clock().date(), progress=progress)
    except BaseException:
        workplace.database.close()
        throw_away_sample(data)
        raise
    workplace.database.close()
    if report.faults:
        first = report.faults[0]
        raise Refused(
            say(
                "sample fleet: {file}, row {row}, {column}: {message}",
                file=first.sheet,
                row=first.row,
                column=first.column,
                message=first.message,
            )
        )
    return path


def throw_away_sample(data: Path) -> None:
    """Delete the sample's folder; nothing else is touched."""
    shutil.rmtree(data / FOLDER, ignore_errors=True)
