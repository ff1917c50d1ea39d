"""Opening a database, with the pragmas and begin modes under which acts queue up and nothing is lost."""

import os
import re
import sqlite3
import stat
from collections import deque
from collections.abc import Iterator, MutableMapping, Sequence
from contextlib import contextmanager, suppress
from functools import partial
from pathlib import Path
from threading import Lock
from typing import Any

from sqlalchemy import Connection, Dialect, Engine, create_engine, event, make_url, text
from sqlalchemy.exc import ArgumentError, DatabaseError, SQLAlchemyError
from sqlalchemy.orm import Session
from sqlalchemy.pool import QueuePool

from fleetbench.calc.core.languages import say
from fleetbench.records.core.errors import Refused, Unreadable, end_if_unwanted

BUSY_SECONDS = 15.0
ACT_LOCK = 0x666C6274
"""Key of the PostgreSQL advisory lock that lets one act in at a time."""

NOT_ITS_REVISION = say("the database's tables are not those of the revision it states; restore a backup")

LAST_ENTRY = "SELECT coalesce(max(id), 0) FROM journal"
JOURNAL_MOVED = "fleetbench_journal"
"""The channel on which PostgreSQL tells every desk of an act."""

CUT = say("the connection to the database server was cut; nothing was recorded, try again in a moment")

PATIENCE = {
    "connect_timeout": 5, "keepalives_idle": 15, "keepalives_interval": 5, "keepalives_count": 3,
    "tcp_user_timeout": 15000,
}  # fmt: skip
"""How long a server may be silent, in seconds and (the last) milliseconds, where the address says nothing of it; the
names are libpq's own: PostgreSQL, documentation, "Parameter Key Words"."""

ASLEEP_SECONDS = 300
"""An act that does nothing for so long, as on a computer put to sleep, is ended by the server: others wait for it."""

NO_LOCKS = say("the drive grants no locks, as some network drives do; keep the database on a local disk or a server")
LOCKS_REFUSED = (
    "sqlite_protocol", "sqlite_perm", "ioerr_lock", "ioerr_unlock", "ioerr_rdlock", "ioerr_checkreservedlock",
    "ioerr_shmlock",
)  # fmt: skip
"""SQLite's own names of faults of a disk that cannot lock (sqlite.org, "Result and Error Codes")."""

TROUBLES = (
    *((name, NO_LOCKS) for name in LOCKS_REFUSED),
    ("database is locked", say("the database is busy at another desk; try again in a moment")),
    ("readonly", say("the database file is read-only; make it writable or choose another with --db")),
    ("read-only", say("the database file is read-only; make it writable or choose another with --db")),
    ("disk is full", say("the disk is full; free some space, nothing was written")),
    (
        "disk i/o",
        say("the disk could not be read or written: it is full, over its quota or failing; free space or check it"),
    ),
    ("not a database", say("the file is not a fleetbench database; choose another with --db")),
    ("malformed", say("the database file is torn; restore a backup with 'fleetbench restore'")),
    ("unable to open", say("the database file cannot be opened; check the folder and its rights")),
    ("connection refused", say("the database server does not answer; check that it runs and the address in --db")),
    ("is the server running", say("the database server does not answer; check that it runs and the address in --db")),
    ("lock timeout", say("the database is busy at another desk; try again in a moment")),
    ("locknotavailable", say("the database is busy at another desk; try again in a moment")),
    ("server closed the connection", CUT),
    ("connection is lost", CUT),
    ("terminating connection", CUT),
    ("failed to resolve host", say("the database server's name is not known; check the address in --db")),
    ("could not translate host", say("the database server's name is not known; check the address in --db")),
    ("name or service not known", say("the database server's name is not known; check the address in --db")),
    ("invalid port", say("the port in --db is not a number; correct the address")),
    ("invalid integer value", say("the port in --db is not a number; correct the address")),
    ("timeout expired", say("the database server does not answer; check that it runs and the address in --db")),
    ("no such table", NOT_ITS_REVISION),
    ("no such column", NOT_ITS_REVISION),
    ("has no column named", NOT_ITS_REVISION),
    ("undefinedtable", NOT_ITS_REVISION),
    ("undefinedcolumn", NOT_ITS_REVISION),
    ("does not exist", say("the database server has no such database or user; check the address in --db")),
    ("permission denied", say("the database server gives this user no right to do that; ask who manages it")),
    ("must be owner", say("the database server gives this user no right to change tables; upgrade as their owner")),
    ("too many clients", say("the database server has no connection free; close a desk or try again in a moment")),
    ("connection slots", say("the database server has no connection free; close a desk or try again in a moment")),
    ("no space left", say("the disk of the database server is full; free some space, nothing was written")),
    ("could not extend", say("the disk of the database server is full; free some space, nothing was written")),
    ("starting up", say("the database server is starting or stopping; try again in a moment")),
    ("accepting connections", say("the database server is starting or stopping; try again in a moment")),
    ("recovery mode", say("the database server is starting or stopping; try again in a moment")),
    ("shutting down", say("the database server is starting or stopping; try again in a moment")),
    ("network is unreachable", say("the database server cannot be reached; check the network and the address in --db")),
    ("no route to host", say("the database server cannot be reached; check the network and the address in --db")),
    ("no password supplied", say("the database server asks for a password; keep it in a service file or .pgpass")),
    ("fe_sendauth", say("the database server asks for a password; keep it in a service file or .pgpass")),
    ("definition of service", say("the service named in --db is not in the service file; correct one of them")),
    ("certificate", say("the database server's certificate is not trusted; check sslmode and sslrootcert in --db")),
    ("no pg_hba.conf entry", say("the database server lets nobody in from here; ask who manages it")),
    ("connection reset", CUT),
    ("connection timed out", CUT),
    ("could not receive data", CUT),
    ("consuming input failed", CUT),
    ("password authentication failed", say("the database server refused the user or password in --db")),
)


def readable(fault: Exception) -> Exception:
    """The fault as a line that a person can act on, or the fault itself where it is a fault of ours."""
    cause = getattr(fault, "orig", fault)
    said = f"{type(cause).__name__} {getattr(cause, 'sqlite_errorname', '')} {cause}".lower()
    if isinstance(cause, UnicodeEncodeError) or "nul (0x00)" in said:
        return Refused(say("text: holds a sign that no record can hold; enter it again by hand"))
    for mark, line in TROUBLES:
        if mark in said:
            return Unreadable(line)
    return fault


def sqlite_url(path: Path) -> str:
    """The URL of a SQLite file."""
    return f"sqlite:///{path.resolve()}"


MISWRITTEN = re.compile(r"[A-Za-z][A-Za-z0-9+.]+(:/|//.*@)|(?![/.])[^\\]*:[^/\\]*@|.*password\s*=")
"""What only an address that is written wrong begins with; no file is named so, and it may hold a password."""


def as_url(where: str | Path) -> str:
    """A database URL from a URL or a file path; PostgreSQL goes through psycopg.

    Raises Unreadable for an address that is written wrong, without repeating it: it may hold a password.
    """
    said = str(where)
    if said.startswith(("postgresql://", "postgres://")):
        said = "postgresql+psycopg://" + said.split("://", 1)[1]
    elif not said.startswith(("sqlite://", "postgresql+psycopg://")):
        if MISWRITTEN.match(said):
            raise Unreadable(NO_ADDRESS)
        return sqlite_url(Path(said))
    try:
        make_url(said)
    except (ArgumentError, ValueError) as fault:
        raise Unreadable(NO_ADDRESS) from fault
    return said


NO_ADDRESS = "database: the address is not written as postgresql://user@host/name; correct it in --db"


def refuse_password(where: str) -> None:
    """Nothing where an address holds no password; Unreadable otherwise, without a word of it."""
    if not where.startswith(("postgresql", "postgres")) or "://" not in where:
        return
    url = make_url(as_url(where))
    if url.password is None and "password" not in url.query:
        return
    raise Unreadable(
        "database: the address holds a password, which others can read in the list of processes; keep it in a service "
        "file (postgresql:///?service=NAME) or in .pgpass, and leave it out of --db"
    )


KEPT_AS = "fleetbench"
"""The name under which a desk's keyring holds passwords of servers, each for `user@host/database`."""


def kept_password(user: str, host: str, name: str) -> str | None:
    """A server's password from the desk's keyring; None where none is installed, it is locked or holds none."""
    try:
        import keyring  # only who installed it has it, and it takes its time
    except ImportError:
        return None
    try:
        found: str | None = keyring.get_password(KEPT_AS, f"{user}@{host}/{name}")
    except keyring.errors.KeyringError:
        return None
    return found


def _with_password(dialect: Dialect, _record: Any, _words: Any, named: MutableMapping[str, Any]) -> None:
    """Give a connection to a server the password that is kept for it; without one the server's own files have it."""
    if dialect.name != "postgresql" or "password" in named or "user" not in named:
        return
    kept = kept_password(named["user"], named.get("host", ""), named.get("dbname", ""))
    named.update({"password": kept} if kept else {})


event.listen(Engine, "do_connect", _with_password)


def _named(url: str) -> tuple[Sequence[str], MutableMapping[str, Any]]:
    dialect = make_url(url).get_dialect()()
    words, named = dialect.create_connect_args(make_url(url))
    _with_password(dialect, None, words, named)
    return words, named


def spoken_to(url: str) -> tuple[str, str]:
    """A server's address as PostgreSQL's own programs take it, without the password, and the password or nothing."""
    from psycopg.conninfo import make_conninfo  # only a desk of a server has it

    named = _named(url)[1]
    secret = str(named.pop("password", "") or "")
    return make_conninfo(**named), secret


def learn_sizes(connection: Connection) -> None:
    """Let a server know how large its tables are now.

    After many rows at once it plans reads as for the tables before, and one read of the fleet took over 20 s; it finds
    out by itself only a minute later. PostgreSQL documentation, "Populating a Database": run ANALYZE afterwards.
    """
    if connection.dialect.name == "postgresql":
        connection.execute(text("ANALYZE"))


VERSION_TABLE = "alembic_version"
WAITS = {"sqlite": "PRAGMA user_version = {0}", "postgresql": f"COMMENT ON TABLE {VERSION_TABLE} IS {{1}}"}
"""Notes, in the transaction that brings tables up, that what the program keeps beside records is not calculated yet."""


def waits(database: "Database") -> bool:
    """Whether that still waits."""
    with database.reading() as connection:
        return is_waiting(connection)


def is_waiting(connection: Connection) -> bool:
    """The same on an open connection."""
    comment = f"SELECT obj_description('{VERSION_TABLE}'::regclass, 'pg_class')"
    return bool(connection.scalar(text("PRAGMA user_version" if connection.dialect.name == "sqlite" else comment)))


def calculated(database: "Database") -> None:
    """Note that nothing waits any more; a desk without rights to the tables leaves that to their owner."""
    with suppress(SQLAlchemyError), database.engine.begin() as connection:
        connection.execute(text(WAITS[connection.dialect.name].format("0", "NULL")))
    database.upgraded = False


class Database:
    """One database: reads BEGIN, acts BEGIN IMMEDIATE (or take the advisory lock first).

    reading: open it so that not a byte of it changes. beside: the file whose photographs belong to it, where this is a
    copy of that one.
    """

    def __init__(self, where: str | Path, *, reading: bool = False, beside: Path | None = None) -> None:
        self.url = as_url(where)
        self._reading, self._beside = reading, beside
        self.upgraded = False
        """Whether its tables were brought up and what the program keeps beside records was not calculated since."""
        self.is_sqlite = make_url(self.url).get_backend_name() == "sqlite"
        self.told = ""
        """What was found and finished or undone when it was opened, in one sentence; empty for nothing."""
        self.engine = self._sqlite_engine() if self.is_sqlite else self._server_engine()
        self.in_doubt: tuple[str, str] | None = None
        """Hash and name of an act whose answer was lost with the server; see records.core.transaction.settle_doubt."""
        self._wrote: deque[range] = deque(maxlen=200)
        self._looks = Lock()
        self._bare: sqlite3.Connection | None = None
        self._rests = False
        event.listen(self.engine, "connect", self._on_used)
        event.listen(self.engine, "before_cursor_execute", _before_statement)

    @property
    def path(self) -> Path | None:
        """The SQLite file, or nothing for a server."""
        return self._beside or self._file

    @property
    def is_copy(self) -> bool:
        """Whether this is a copy of a file that is looked at without being touched."""
        return self._beside is not None

    @property
    def _file(self) -> Path | None:
        name = make_url(self.url).database
        return Path(name) if self.is_sqlite and name else None

    def _server_engine(self) -> Engine:
        engine = create_engine(self.url, pool_pre_ping=True, hide_parameters=True, connect_args=self._patience())
        event.listen(engine, "connect", _prepare_server)
        return engine

    def _patience(self) -> dict[str, int]:
        given = make_url(self.url).query
        return {name: value for name, value in PATIENCE.items() if name not in given}

    def listening(self) -> Any:
        """A bare connection to the server that is told of every act; the caller closes it."""
        dialect = self.engine.dialect
        words, named = _named(self.url)
        connection: Any = dialect.connect(*words, **named, **self._patience(), autocommit=True)
        connection.execute(f"LISTEN {JOURNAL_MOVED}")
        return connection

    def _reading_engine(self, path: Path) -> Engine:
        engine = create_engine(
            "sqlite://", creator=partial(connect_to_read, path), poolclass=QueuePool, hide_parameters=True
        )
        event.listen(engine, "connect", _out_of_transactions)
        event.listen(engine, "begin", _begin_sqlite)
        return engine

    def _sqlite_engine(self) -> Engine:
        path = self._file
        if path is not None and self._reading:
            return self._reading_engine(path)
        if path is not None and path.parent.is_dir() and not path.exists():
            os.close(os.open(path, os.O_CREAT | os.O_RDWR, stat.S_IRUSR | stat.S_IWUSR))
        engine = create_engine(self.url, connect_args={"timeout": BUSY_SECONDS}, hide_parameters=True)
        event.listen(engine, "connect", _prepare_sqlite)
        event.listen(engine, "begin", _begin_sqlite)
        return engine

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """A connection on which every read sees one state; nothing written on it is kept."""
        try:
            with self.engine.connect() as connection:
                if not self.is_sqlite:
                    connection.execution_options(isolation_level="REPEATABLE READ")
                with connection.begin() as transaction:
                    yield connection
                    transaction.rollback()
        except (DatabaseError, sqlite3.Error, UnicodeEncodeError) as fault:
            raise readable(fault) from fault

    @contextmanager
    def read_session(self) -> Iterator[Session]:
        """A session for reading rows as objects; nothing written on it is kept."""
        with self.reading() as connection, Session(connection, autoflush=False) as session:
            yield session

    @contextmanager
    def writing(self) -> Iterator[Session]:
        """A session in which one act happens alone; the caller commits, otherwise all of it is undone."""
        try:
            with self.engine.connect() as connection:
                options: dict[str, Any] = (
                    {"fleetbench_act": True} if self.is_sqlite else {"isolation_level": "READ COMMITTED"}
                )
                with Session(
                    connection.execution_options(**options), expire_on_commit=False, autoflush=False
                ) as session:
                    if not self.is_sqlite:
                        session.execute(text("SELECT pg_advisory_xact_lock(:key)"), {"key": ACT_LOCK})
                    yield session
        except (DatabaseError, sqlite3.Error, UnicodeEncodeError) as fault:
            raise readable(fault) from fault

    def writes(self, entries: range) -> None:
        """Know these entries of the journal as written here, before they are committed."""
        self._wrote.append(entries)

    def wrote_not(self, entries: range) -> None:
        """Know that they were not committed after all."""
        with suppress(ValueError):
            self._wrote.remove(entries)

    def wrote_all(self, after: int, last: int) -> bool:
        """Whether every entry after the one, up to the other, was written here and by no other desk."""
        return after <= last and all(any(n in own for own in tuple(self._wrote)) for n in range(after + 1, last + 1))

    def acts_among(self, after: int, last: int) -> int | None:
        """How many acts wrote the entries after the one, up to the other; None where other desks' may be of one act."""
        own = [each for each in tuple(self._wrote) if each and after < each[0] and each[-1] <= last]
        others = last - after - sum(map(len, own))
        return len(own) + others if 0 <= others <= 1 else None

    def file_entry(self, before: object) -> tuple[object, int | None]:
        """What moves with every commit to the file, by whomever, and the journal's last entry where it moved.

        before: what it was. It is asked on a bare connection, which lasts until the database is closed; a closed one
        does not move until it is used again. Raises sqlite3.Error or Unreadable where the file cannot be read.
        """
        path = self._file
        with self._looks:
            if self._rests or path is None:
                return before, None
            if self._bare is None:
                if not path.exists():
                    raise Unreadable(
                        say("the database file is not there any more; check the folder or the network drive")
                    )
                self._bare = connect_to_read(path)
                self._bare.isolation_level = None
            now = self._bare, self._bare.execute("PRAGMA data_version").fetchone()[0]
            return now, None if now == before else int(self._bare.execute(LAST_ENTRY).fetchone()[0])

    def _on_used(self, _connection: Any, _record: Any) -> None:
        self._rests = False

    def close_look(self) -> None:
        """Look at the file no more, until it is looked at again."""
        with self._looks, suppress(sqlite3.Error):
            if self._bare is not None:
                self._bare.close()
            self._bare = None

    def close(self) -> None:
        """Give back every connection; one in use yet is closed when its work is done."""
        self._rests = True
        self.close_look()
        pool = self.engine.pool
        self.engine.dispose()
        event.listen(pool, "checkin", _let_go)


def connect_to_read(path: Path) -> sqlite3.Connection:
    """A bare driver connection that cannot write the file; of a write-protected one not even its companions."""
    kept = _connect_as(path, "immutable=1") if is_write_protected(path) else _connect_as(path, "mode=ro")
    if has_no_room(path, kept):
        kept.close()
        kept = _connect_as(path, "immutable=1")
    return kept


def _connect_as(path: Path, how: str) -> sqlite3.Connection:
    uri = f"{path.resolve().as_uri()}?{how}"
    return sqlite3.connect(uri, uri=True, timeout=BUSY_SECONDS, check_same_thread=False)


def has_no_room(path: Path, connection: sqlite3.Connection) -> bool:
    """Whether a file without a log cannot even be looked at, since its disk has no room for the companions it needs."""
    try:
        connection.execute("PRAGMA schema_version").fetchone()
    except sqlite3.OperationalError as fault:
        if any(name in fault.sqlite_errorname.lower() for name in LOCKS_REFUSED):
            return False
        return (fault.sqlite_errorcode & 0xFF) in (sqlite3.SQLITE_IOERR, sqlite3.SQLITE_FULL) and not _has_log(path)
    except sqlite3.DatabaseError:
        return False  # torn or foreign, which is told where it is read
    return False


def is_write_protected(path: Path) -> bool:
    """Whether a file, or the folder in which its companions would stand, cannot be written, and nobody writes it."""
    with suppress(OSError):
        written = path.stat().st_mode & 0o222 and os.access(path, os.W_OK) and os.access(path.resolve().parent, os.W_OK)
        return not written and not _has_log(path)
    return False


def _has_log(path: Path) -> bool:
    beside = path.with_name(f"{path.name}-wal")
    return beside.exists() and beside.stat().st_size > 0


def _out_of_transactions(connection: Any, _record: Any) -> None:
    connection.isolation_level = None


def _prepare_server(connection: Any, _record: Any) -> None:
    # Set where it holds for the connection, whatever becomes of its first transaction.
    was, connection.autocommit = connection.autocommit, True
    connection.execute(f"SET lock_timeout = '{int(BUSY_SECONDS)}s'")
    connection.execute(f"SET idle_in_transaction_session_timeout = '{ASLEEP_SECONDS}s'")
    connection.autocommit = was


def _prepare_sqlite(connection: Any, _record: Any) -> None:
    connection.isolation_level = None
    cursor = connection.cursor()
    for pragma in (
        "foreign_keys=ON",
        "journal_mode=WAL",
        "synchronous=FULL",
        "secure_delete=ON",
        f"busy_timeout={int(BUSY_SECONDS * 1000)}",
    ):
        cursor.execute(f"PRAGMA {pragma}")
    cursor.close()


def _let_go(_connection: Any, record: Any) -> None:
    record.invalidate()


def _before_statement(*_about: Any) -> None:
    end_if_unwanted()


def _begin_sqlite(connection: Connection) -> None:
    act = connection.get_execution_options().get("fleetbench_act", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if act else "BEGIN")
