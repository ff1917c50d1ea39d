"""Opening a database for use: what it is, is told before it is touched; an older one is kept aside and brought up."""

import sqlite3
from collections.abc import Callable
from contextlib import closing, suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from enum import Enum
from functools import cache
from pathlib import Path

from sqlalchemy import Connection, create_engine, event, inspect, make_url, text
from sqlalchemy.exc import DatabaseError, SQLAlchemyError
from sqlalchemy.pool import NullPool

from fleetbench.records.core.database import ACT_LOCK, Database, as_url, readable
from fleetbench.records.core.errors import Unreadable
from fleetbench.records.core.schema import APPLICATION_ID
from fleetbench.records.upkeep import tables as _tables  # noqa: F401 - whoever opens a database needs every table mapped
from fleetbench.shipped import shipped

SQLITE_MAGIC = b"SQLite format 3\x00"
VERSION_TABLE = "alembic_version"
READ_REVISION = f"SELECT version_num FROM {VERSION_TABLE}"
OWN_TABLES = frozenset({"centre", "unit", "fitting", "journal"})
"""Tables by which a database of ours is known on a server, where no application id can be set."""


class DatabaseState(Enum):
    """What a database is before it is opened."""

    EMPTY = "empty"
    CURRENT = "current"
    OLDER = "older"


@dataclass(frozen=True, slots=True)
class Found:
    """What was found at a place: its standing and the revision of its tables, None while there are none."""

    standing: DatabaseState
    revision: str | None


@cache
def known_revisions() -> tuple[str, ...]:
    """Every revision this program knows, oldest first, from the names of the migration files."""
    return tuple(sorted(path.name[:4] for path in (shipped("alembic") / "versions").glob("[0-9][0-9][0-9][0-9]_*.py")))


def head_revision() -> str:
    """The revision of the tables that this program works with."""
    return known_revisions()[-1]


def wall_clock() -> datetime:
    """Now, in UTC."""
    return datetime.now(UTC)


def open_database(
    where: str | Path, *, create: bool = True, backup: bool = True, clock: Callable[[], datetime] = wall_clock
) -> Database:
    """The database at a file or postgresql:// address, its tables brought up to this program's revision.

    An older SQLite file is copied to a sibling file first; an older server database is migrated only with
    `backup=False`, once a dump was taken. Raises Unreadable, with nothing touched, where there is none (and `create`
    is false), or where it is newer, foreign, torn, locked or read-only.
    """
    found = examine(where)
    if found is None:
        if not create:
            raise Unreadable(f"database: none at {where}; check --db, or start one with 'fleetbench import'")
        _make_sqlite_file(_sqlite_path(as_url(where)))
    if found is not None and found.standing is DatabaseState.OLDER and backup:
        _keep_aside(where, found, clock)
    if found is None or found.standing is not DatabaseState.CURRENT:
        _migrate(as_url(where))
    database = Database(where)
    database.upgraded = found is not None and found.standing is DatabaseState.OLDER
    return database


def examine(where: str | Path) -> Found | None:
    """What stands at a file or address, without writing to it; None where there is no file yet.

    Raises Unreadable with one clear line for a newer, foreign or torn one.
    """
    url = as_url(where)
    backend = make_url(url).get_backend_name()
    if backend == "sqlite":
        return _examine_sqlite(_sqlite_path(url))
    if backend == "postgresql":
        return _examine_server(url)
    raise Unreadable("database: give a file or a postgresql:// address in --db")


def _sqlite_path(url: str) -> Path:
    name = make_url(url).database
    if not name or name == ":memory:":
        raise Unreadable("database: give a file; one in memory keeps nothing")
    return Path(name)


def _examine_sqlite(path: Path) -> Found | None:
    if not path.exists():
        return None
    if not refuse_foreign(path):
        return Found(DatabaseState.EMPTY, None)
    return _standing(*_read_sqlite_revision(path), str(path))


def connect_to_read(path: Path) -> sqlite3.Connection:
    """A bare driver connection that cannot write the file."""
    return sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True)


def refuse_foreign(path: Path) -> bool:
    """Whether the file's own header says that it is ours, False where the file is empty; else it is Unreadable."""
    try:
        with path.open("rb") as file:
            header = file.read(100)
    except OSError as fault:
        raise Unreadable(f"database: {path} cannot be read ({fault.strerror}); check its rights") from fault
    if not header:
        return False
    if not header.startswith(SQLITE_MAGIC) or len(header) < 100:
        raise Unreadable(f"database: {path} is not a fleetbench database; choose another with --db")
    if int.from_bytes(header[68:72], "big") != APPLICATION_ID:
        raise Unreadable(f"database: {path} belongs to another program; choose another with --db")
    return True


def _read_sqlite_revision(path: Path) -> tuple[set[str], str | None]:
    beside = [path.with_name(path.name + end) for end in ("-wal", "-shm")]
    before = [each.exists() for each in beside]
    try:
        with closing(connect_to_read(path)) as connection:
            names = {name for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
            row = connection.execute(READ_REVISION).fetchone() if VERSION_TABLE in names else None
    except (sqlite3.Error, UnicodeDecodeError) as fault:
        told = readable(fault)
        torn = Unreadable(f"database: {path} cannot be read ({fault}); restore a backup with 'fleetbench restore'")
        raise (told if isinstance(told, Unreadable) else torn) from fault
    finally:
        _take_away(beside, before)
    return names, row[0] if row else None


def _take_away(beside: list[Path], before: list[bool]) -> None:
    # A read-only look at a file in WAL mode leaves empty companions, which would make a foreign folder look touched.
    if not any(before) and (not beside[0].exists() or beside[0].stat().st_size == 0):
        for each in beside:
            with suppress(OSError):
                each.unlink(missing_ok=True)


def _examine_server(url: str) -> Found:
    engine = create_engine(url, poolclass=NullPool)
    try:
        with engine.connect() as connection:
            names = set(inspect(connection).get_table_names())
            revision = connection.scalar(text(READ_REVISION)) if VERSION_TABLE in names else None
    except SQLAlchemyError as fault:
        raise readable(fault) from fault
    return _standing(names, revision, "the server's database")


def _standing(names: set[str], revision: str | None, place: str) -> Found:
    if not names - {VERSION_TABLE} and revision is None:
        return Found(DatabaseState.EMPTY, None)
    if revision is None or not names >= OWN_TABLES:
        raise Unreadable(f"database: {place} holds tables of another program; choose another with --db")
    if revision == head_revision():
        return Found(DatabaseState.CURRENT, revision)
    if revision in known_revisions():
        return Found(DatabaseState.OLDER, revision)
    raise Unreadable(
        f"database: {place} has tables of revision {revision}, newer than this program's {head_revision()};"
        " use the newer fleetbench"
    )


def _make_sqlite_file(path: Path) -> None:
    """Lay down an owner-only file that says whose it is, before any table is in it."""
    try:
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        path.touch(mode=0o600, exist_ok=False)
    except FileExistsError:
        return
    except OSError as fault:
        raise Unreadable(f"database: {path} cannot be made ({fault.strerror}); choose another with --db") from fault


def _keep_aside(where: str | Path, found: Found, clock: Callable[[], datetime]) -> None:
    from fleetbench.records.upkeep.backup import copy_file  # backup itself asks this module what a file is

    url = as_url(where)
    if make_url(url).get_backend_name() != "sqlite":
        raise Unreadable(
            f"database: its tables are of revision {found.revision} and must be brought to {head_revision()};"
            " take a dump of it with pg_dump, then start once with --no-backup"
        )
    path = _sqlite_path(url)
    copy_file(path, path.with_name(f"{path.name}.{found.revision}.{clock().astimezone(UTC):%Y%m%dT%H%M%SZ}.backup"))


def _migrate(url: str) -> None:
    """Bring the tables up in one transaction, alone; a failure leaves the database as it was."""
    is_sqlite = make_url(url).get_backend_name() == "sqlite"
    if is_sqlite:
        _mark_as_ours(_sqlite_path(url))
    engine = create_engine(url, poolclass=NullPool)
    if is_sqlite:
        event.listen(engine, "connect", _unguarded)
        event.listen(engine, "begin", lambda connection: connection.exec_driver_sql("BEGIN EXCLUSIVE"))
    try:
        with engine.begin() as connection:
            if not is_sqlite:
                connection.execute(text("SELECT pg_advisory_xact_lock(:key)"), {"key": ACT_LOCK})
            upgrade(connection)
            _refuse_orphans(connection, is_sqlite)
    except (DatabaseError, sqlite3.Error) as fault:
        raise readable(fault) from fault


def upgrade(connection: Connection, revision: str = "head") -> None:
    """Run the migrations up to a revision on an open transaction; nothing is committed here."""
    # alembic takes half as long to import as an empty window takes to show, so only a migration pays for it
    from alembic import command
    from alembic.config import Config

    settings = Config()
    settings.set_main_option("script_location", str(shipped("alembic")).replace("%", "%%"))
    settings.attributes["connection"] = connection
    command.upgrade(settings, revision)


def _mark_as_ours(path: Path) -> None:
    """Write the application id into the file itself, not its log, so that a kill never makes it look foreign."""
    try:
        with closing(sqlite3.connect(path, isolation_level=None)) as connection:
            if connection.execute("PRAGMA application_id").fetchone()[0] != APPLICATION_ID:
                connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
    except sqlite3.Error as fault:
        raise readable(fault) from fault


def _unguarded(connection: sqlite3.Connection, _record: object) -> None:
    # A batch migration makes a table anew and drops the old one, which must not take the rows that point at it.
    connection.isolation_level = None
    connection.execute("PRAGMA foreign_keys = OFF")
    connection.execute("PRAGMA busy_timeout = 15000")
    connection.execute("PRAGMA synchronous = FULL")


def _refuse_orphans(connection: Connection, is_sqlite: bool) -> None:
    if is_sqlite and (orphan := connection.exec_driver_sql("PRAGMA foreign_key_check").first()):
        raise Unreadable(f"database: {orphan[0]} row {orphan[1]} points at a missing {orphan[2]}; restore a backup")
