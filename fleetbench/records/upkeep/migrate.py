"""Opening a database for use: what it is, is told before it is touched; an older one is kept aside and brought up."""

import os
import sqlite3
import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from enum import Enum
from functools import cache, partial
from glob import escape as glob_escape
from hashlib import sha256
from pathlib import Path
from tempfile import TemporaryDirectory

from sqlalchemy import Connection, create_engine, event, inspect, make_url, text
from sqlalchemy.exc import SQLAlchemyError
from sqlalchemy.pool import NullPool

from fleetbench.calc.core.languages import say, strung
from fleetbench.records.core.database import (
    ACT_LOCK,
    NOT_ITS_REVISION,
    VERSION_TABLE,
    WAITS,
    Database,
    as_url,
    connect_to_read,
    has_no_room,
    is_write_protected,
    readable,
    waits,
)
from fleetbench.records.core.errors import Unreadable
from fleetbench.records.core.plain_file import SQLITE_MAGIC, free_name, has_pages, put_in_place, refuse_special
from fleetbench.records.core.schema import APPLICATION_ID
from fleetbench.records.upkeep.tables import lay_down, rights_kept  # it maps every table, which an open database needs
from fleetbench.settings import data_folder
from fleetbench.shipped import shipped

LEFT_OVER_SECONDS = 3600
"""After how long a half-built file counts as left over, where files cannot be locked."""
READ_REVISION = f"SELECT version_num FROM {VERSION_TABLE}"
OWN_TABLES = frozenset({"centre", "unit", "fitting", "journal"})
"""Tables by which a database of ours is known on a server, where no application id can be set."""


class DatabaseState(Enum):
    """What a database is before it is opened."""

    EMPTY = "empty"
    CURRENT = "current"
    OLDER = "older"


@dataclass(frozen=True, slots=True)
class FoundDatabase:
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

    An older SQLite file is copied to a sibling file first, an older server database into the user's data folder; not
    with `backup=False`, once a dump was taken. A write-protected file, or one on a full disk, is opened for reading.
    What a killed restore left is taken away. All is told in `told`. Raises Unreadable, with nothing touched, where
    there is none (and `create` is false), or where it is newer, foreign, torn, empty or locked.
    """
    said = undo_interrupted(where)
    found = examine(where)
    if found is None or found.standing is DatabaseState.EMPTY:
        if not create:
            raise Unreadable(none_at(where))
        _make_new(where, found)
    elif found.standing is DatabaseState.OLDER:
        said = strung(" ", filter(None, (said, _bring_up(where, found, clock if backup else None))))
    only_read = _is_protected(where)
    database = Database(where, reading=only_read)
    database.upgraded = not only_read and waits(database)
    database.told = said or (ONLY_READ if only_read else "")
    return database


ONLY_READ = say(
    "The records can be looked at and nothing can be recorded: their file or folder is write-protected, or the disk "
    "has no room. Make them writable or free space, then start again."
)


def none_at(where: str | Path) -> str:
    """That no database is there, with what stands beside where one was."""
    url = as_url(where)
    on_server = make_url(url).get_backend_name() != "sqlite"
    place = say("on the server") if on_server else say("at {where}", where=where)
    kept = kept_beside(where)
    if kept:
        return say(
            "database: none {place}, though one was: {name} stands beside it; put it back with "
            "'fleetbench restore {name}', or choose another with --db", place=place, name=kept[-1].name)  # fmt: skip
    return say("database: none {place}; check --db, or start one with 'fleetbench import'", place=place)


def kept_beside(where: str | Path) -> list[Path]:
    """Copies that this program kept of a database that stood there, the newest last; none for a server."""
    url = as_url(where)
    if make_url(url).get_backend_name() != "sqlite":
        return []
    path = _sqlite_path(url)
    found = [each for end in ("replaced", "backup") for each in path.parent.glob(f"{glob_escape(path.name)}.*.{end}")]
    return sorted(found, key=lambda each: (each.stat().st_mtime, each.name))


@contextmanager
def opened_to_read(where: str | Path) -> Iterator[Database]:
    """A database as it stands, without a byte of it or beside it changed; an older file is brought up in a copy.

    Raises Unreadable as `open_database` does, and for an older database on a server.
    """
    found = examine(where)
    if found is None or found.standing is DatabaseState.EMPTY:
        raise Unreadable(none_at(where))
    url = as_url(where)
    if make_url(url).get_backend_name() != "sqlite":
        if found.standing is DatabaseState.OLDER:
            raise Unreadable(say("database: its tables are of revision {revision}; run 'fleetbench upgrade' first",
                                 revision=found.revision))  # fmt: skip
        with closing(Database(where)) as database:
            yield database
        return
    path = _sqlite_path(url)
    with TemporaryDirectory(prefix="fleetbench-") as folder:
        copy = Path(folder) / "copy.sqlite"
        if found.standing is DatabaseState.OLDER:
            copy_database(path, copy)
            bring_up(as_url(copy))
        with _untouched(path), closing(_to_read(path, copy)) as database:
            yield database


def _to_read(path: Path, copy: Path) -> Database:
    return Database(copy, beside=path) if copy.exists() else Database(path, reading=True)


def copy_database(source: Path, target: Path) -> None:
    """Copy a SQLite database page by page into a new or empty owner-only file without companions."""
    target.touch(mode=0o600)
    with closing(connect_to_read(source)) as old, closing(sqlite3.connect(target)) as new:
        old.backup(new)
        # A copy in WAL mode would need its two companions; one plain file can be carried anywhere.
        new.execute("PRAGMA journal_mode = DELETE")


def undo_interrupted(where: str | Path) -> str | None:
    """Take away what a killed restore left beside a file; one sentence where there was something.

    The database is exchanged in one step at the end, so nothing else is to be undone.
    """
    part = restoring_name(where)
    if not os.path.exists(part) or not is_left_over(part):  # noqa: PTH110 - where the folder is closed, none is there
        return None
    for end in ("", "-journal", "-wal", "-shm"):
        with suppress(OSError):
            part.with_name(part.name + end).unlink(missing_ok=True)
    return say("A restore was interrupted before it replaced anything; what it left was removed. "
               "Restore again if you wish.")  # fmt: skip


def restoring_name(where: str | Path) -> Path:
    """Where the new database is built while one is restored: beside a file, for a server in the user's data folder."""
    url = as_url(where)
    if make_url(url).get_backend_name() == "sqlite":
        resolved = _sqlite_path(url).resolve()
    else:
        resolved = data_folder() / f"server-{sha256(str(make_url(url)).encode()).hexdigest()[:12]}"
    return resolved.with_name(f"{resolved.name}.restoring")


def is_left_over(part: Path) -> bool:
    """Whether nobody is building that file any more."""
    try:
        import fcntl  # Windows has none
    except ImportError:
        return time.time() - part.stat().st_mtime > LEFT_OVER_SECONDS
    with suppress(OSError), part.open("rb+") as file:
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        return True
    return False


def _is_protected(where: str | Path) -> bool:
    url = as_url(where)
    if make_url(url).get_backend_name() != "sqlite":
        return False
    path = _sqlite_path(url)
    if is_write_protected(path):
        return True
    with closing(sqlite3.connect(path)) as connection:
        return has_no_room(path, connection)


def _make_new(where: str | Path, found: FoundDatabase | None) -> None:
    """Lay down a new database: built under another name and moved to its place whole, or nothing."""
    url = as_url(where)
    if found is not None or make_url(url).get_backend_name() != "sqlite":
        bring_up(url)
        return
    with suppress(FileExistsError), laid_down(_sqlite_path(url)) as part:  # another desk may be first
        bring_up(as_url(part))


@contextmanager
def laid_down(path: Path) -> Iterator[Path]:
    """A new file to fill under another name, which takes its place at the end; FileExistsError where one stands there.

    After any failure nothing is left of it.
    """
    part = path.with_name(f"{path.name}.{os.getpid()}.new")
    _make_sqlite_file(part)
    try:
        yield part
        put_in_place(part, path)
    finally:
        for end in ("", "-journal", "-wal", "-shm"):
            with suppress(OSError):
                part.with_name(part.name + end).unlink(missing_ok=True)


def examine(where: str | Path) -> FoundDatabase | None:
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
        raise Unreadable(say("database: give a file; one in memory keeps nothing"))
    return Path(name)


def _examine_sqlite(path: Path) -> FoundDatabase | None:
    try:
        if not path.exists():
            return None
    except OSError as fault:
        raise Unreadable(say("database: {path} cannot be read ({strerror}); check its rights", path=path,
            strerror=fault.strerror)) from fault  # fmt: skip
    if not refuse_foreign(path):
        raise Unreadable(say(
            "database: {path} is empty, no byte is in it, so a copy or a disk failed; restore a backup "
            "with 'fleetbench restore', or remove the file to start a new centre", path=path))  # fmt: skip
    return _standing(*_read_sqlite_revision(path), str(path))


def refuse_foreign(path: Path, *, replacing: bool = False) -> bool:
    """Whether the file's own header says that it is ours, False where the file is empty; else it is Unreadable.

    replacing: one whose first page alone is torn is taken for ours, since it is kept under another name.
    """
    try:
        refuse_special(path, f"database: {path}")
        with path.open("rb") as file:
            header = file.read(100)
    except OSError as fault:
        raise Unreadable(say("database: {path} cannot be read ({strerror}); check its rights", path=path,
            strerror=fault.strerror)) from fault  # fmt: skip
    if not header:
        return False
    if not header.startswith(SQLITE_MAGIC) and has_pages(path):
        if replacing:
            return True
        raise Unreadable(say("database: the beginning of {path} is torn; restore a backup with 'fleetbench restore'",
                             path=path))  # fmt: skip
    if not header.startswith(SQLITE_MAGIC) or len(header) < 100:
        raise Unreadable(say("database: {path} is not a fleetbench database; choose another with --db", path=path))
    if int.from_bytes(header[68:72], "big") != APPLICATION_ID:
        raise Unreadable(say("database: {path} belongs to another program; choose another with --db", path=path))
    return True


def _read_sqlite_revision(path: Path) -> tuple[set[str], str | None]:
    try:
        with _untouched(path):
            return _revision_in(connect_to_read(path))
    except (sqlite3.Error, UnicodeDecodeError) as fault:
        if _has_hot_journal(path):
            return _heal(path)
        told = readable(fault)
        torn = Unreadable(say("database: {path} cannot be read ({fault}); restore a backup with 'fleetbench restore'",
                              path=path, fault=str(fault)))  # fmt: skip
        raise (told if isinstance(told, Unreadable) else torn) from fault


def _revision_in(connection: sqlite3.Connection) -> tuple[set[str], str | None]:
    with closing(connection):
        names = {name for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
        row = connection.execute(READ_REVISION).fetchone() if VERSION_TABLE in names else None
    return names, row[0] if row else None


def _has_hot_journal(path: Path) -> bool:
    journal = path.resolve().with_name(f"{path.resolve().name}-journal")
    return journal.exists() and journal.stat().st_size > 0


def _heal(path: Path) -> tuple[set[str], str | None]:
    """Let SQLite take back what a killed program left half-written, as it does on opening."""
    try:
        return _revision_in(sqlite3.connect(path))
    except sqlite3.Error as fault:
        raise Unreadable(say(
            "database: {path} was left in the middle of a change, and it cannot be taken back here "
            "({fault}); open it where its folder can be written, together with its -journal file",
            path=path, fault=str(fault))) from fault  # fmt: skip


@contextmanager
def _untouched(path: Path) -> Iterator[None]:
    beside = [path.with_name(path.name + end) for end in ("-wal", "-shm")]
    before = [each.exists() for each in beside]
    try:
        yield
    finally:
        _take_away(beside, before)


def _take_away(beside: list[Path], before: list[bool]) -> None:
    # A read-only look at a file in WAL mode leaves empty companions, which would make a foreign folder look touched.
    if not any(before) and (not beside[0].exists() or beside[0].stat().st_size == 0):
        for each in beside:
            with suppress(OSError):
                each.unlink(missing_ok=True)


def _examine_server(url: str) -> FoundDatabase:
    engine = create_engine(url, poolclass=NullPool, hide_parameters=True)
    try:
        with engine.connect() as connection:
            names = set(inspect(connection).get_table_names())
            revision = connection.scalar(text(READ_REVISION)) if VERSION_TABLE in names else None
    except SQLAlchemyError as fault:
        raise readable(fault) from fault
    return _standing(names, revision, say("the server's database"))


def _standing(names: set[str], revision: str | None, place: str) -> FoundDatabase:
    if not names - {VERSION_TABLE} and revision is None:
        return FoundDatabase(DatabaseState.EMPTY, None)
    if revision is None or not names >= OWN_TABLES:
        raise Unreadable(say(
            "database: {place} holds tables of another program; choose another with --db", place=place))  # fmt: skip
    if revision == head_revision():
        return FoundDatabase(DatabaseState.CURRENT, revision)
    if revision in known_revisions():
        return FoundDatabase(DatabaseState.OLDER, revision)
    raise Unreadable(say(
        "database: {place} has tables of revision {revision}, newer than this program's "
        "{own}; use the newer fleetbench", place=place, revision=revision, own=head_revision()))  # fmt: skip


def _make_sqlite_file(path: Path) -> None:
    """Lay down an owner-only file that says whose it is, before any table is in it."""
    try:
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        path.touch(mode=0o600, exist_ok=False)
    except FileExistsError:
        return
    except OSError as fault:
        raise Unreadable(say(
            "database: {path} cannot be made ({strerror}); choose another with --db", path=path,
            strerror=fault.strerror)) from fault  # fmt: skip


def _bring_up(where: str | Path, found: FoundDatabase, clock: Callable[[], datetime] | None) -> str:
    """Bring an older database up; what it was is kept first, unless no clock is given. Of a server it says where."""
    url = as_url(where)
    if clock is None:
        bring_up(url)
        return ""
    from fleetbench.records.upkeep.backup import copy_file, keep_server  # backup itself asks this module what a file is

    ending = f"{found.revision}.{clock().astimezone(UTC):%Y%m%dT%H%M%SZ}"
    if make_url(url).get_backend_name() != "sqlite":
        name = make_url(url).database or "server"
        place = data_folder() / f"{name}.{ending}"
        return bring_up(url, partial(keep_server, url, place))
    path = _sqlite_path(url)
    copy_file(path, free_name(path.with_name(f"{path.name}.{ending}.backup")))
    return bring_up(url)


def bring_up(url: str, keep: Callable[[Connection], str] | None = None) -> str:
    """Bring the tables up in one transaction, alone; a failure leaves the database as it was.

    keep: what keeps a copy of a server's database first, while no desk acts, and says where; not where another desk
    brought it up meanwhile.
    """
    with writing_alone(url) as connection:
        is_older = keep is not None and connection.scalar(text(READ_REVISION)) != head_revision()
        said = keep(connection) if keep is not None and is_older else ""
        upgrade(connection)
    return said


@contextmanager
def writing_alone(url: str) -> Iterator[Connection]:
    """One transaction in which tables may be made and rows stand in any order; nobody else writes meanwhile.

    Keys are checked at its end on SQLite; on a server desks keep their rights. A failure leaves the database as it was.
    """
    is_sqlite = make_url(url).get_backend_name() == "sqlite"
    if is_sqlite:
        _mark_as_ours(_sqlite_path(url))
    engine = create_engine(url, poolclass=NullPool, hide_parameters=True)
    if is_sqlite:
        event.listen(engine, "connect", _unguarded)
        event.listen(engine, "begin", lambda connection: connection.exec_driver_sql("BEGIN EXCLUSIVE"))
    try:
        with engine.begin() as connection:
            if not is_sqlite:
                connection.execute(text("SELECT pg_advisory_xact_lock(:key)"), {"key": ACT_LOCK})
            with rights_kept(connection):
                yield connection
            _refuse_orphans(connection, is_sqlite)
    # of tables that are not as stated a migration may ask anything
    except (SQLAlchemyError, sqlite3.Error, KeyError, ValueError) as fault:
        told = readable(fault)
        raise (told if isinstance(told, Unreadable) else Unreadable(f"database: {NOT_ITS_REVISION}")) from fault


def upgrade(connection: Connection, revision: str = "head") -> None:
    """Run the migrations up to a revision on an open transaction, or lay down what they end at; nothing is kept yet."""
    is_old = inspect(connection).has_table(VERSION_TABLE)
    if not is_old and revision in ("head", head_revision()) and lay_down(connection) == head_revision():
        return
    # alembic takes half as long to import as an empty window takes to show, so only a migration pays for it
    from alembic import command
    from alembic.config import Config

    settings = Config()
    settings.set_main_option("script_location", str(shipped("alembic")).replace("%", "%%"))
    settings.attributes["connection"] = connection
    command.upgrade(settings, revision)
    if is_old:
        connection.execute(text(WAITS[connection.dialect.name].format("1", "'calculate again'")))


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
    connection.execute("PRAGMA secure_delete = ON")  # the old table may hold names
    connection.execute("PRAGMA busy_timeout = 15000")
    connection.execute("PRAGMA synchronous = FULL")


def _refuse_orphans(connection: Connection, is_sqlite: bool) -> None:
    if is_sqlite and (orphan := connection.exec_driver_sql("PRAGMA foreign_key_check").first()):
        raise Unreadable(say("database: {table} row {row} points at a missing {other}; restore a backup",
                             table=orphan[0], row=orphan[1], other=orphan[2]))  # fmt: skip
