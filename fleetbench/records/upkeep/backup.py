"""Copies of a database with its photographs: taken while in use, checked before they count, and put back.

A copy is a SQLite file, of a server's database too, and goes back into either. Whom a centre erased is listed beside
the file, so that an older backup brings nobody back; of a server, its own records say it.
"""

import os
import shutil
import sqlite3
import subprocess
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import Connection, exists, func, inspect, make_url, select, text

from fleetbench.calc.core.languages import say
from fleetbench.records.core.database import (
    JOURNAL_MOVED,
    VERSION_TABLE,
    Database,
    as_url,
    connect_to_read,
    learn_sizes,
    readable,
    spoken_to,
)
from fleetbench.records.core.errors import Refused, Unreadable
from fleetbench.records.core.plain_file import DUMP_MAGIC, free_name, put_in_place
from fleetbench.records.hires.tables import SignedPage
from fleetbench.records.tickets.photographs import (
    ENVIRONMENT,
    FOLDER,
    Photograph,
    copy_files,
    photograph_folder,
)
from fleetbench.records.upkeep.erasure import erase_again, erased_there
from fleetbench.records.upkeep.migrate import (
    READ_REVISION,
    DatabaseState,
    bring_up,
    copy_database,
    examine,
    head_revision,
    is_left_over,
    kept_beside,
    opened_to_read,
    refuse_foreign,
    restoring_name,
    undo_interrupted,
    upgrade,
    wall_clock,
    writing_alone,
)
from fleetbench.records.upkeep.records_folder import carry_tables, make_tables
from fleetbench.records.upkeep.verify import verify, verify_on

LOOK_SECONDS = 5.0
"""How long a start looks for damaged pages, in the background: some gigabytes; common practice, no published source."""


@dataclass(frozen=True, slots=True)
class Copied:
    """A copy on disk and the journal's head in it; zero and no hash where nothing was ever recorded.

    kept: where what stood there before is kept, None where nothing stood there. erased: codes of people whom a restore
    erased again.
    """

    path: Path | str
    head_number: int
    head_hash: str | None
    kept: Path | str | None = None
    erased: tuple[str, ...] = ()

    @property
    def head(self) -> str:
        """Number and hash as they are printed and as `verify --head` reads them."""
        return f"{self.head_number}:{self.head_hash or '-'}"

    @property
    def told(self) -> tuple[str, ...]:
        """What to know after a restore, a sentence each: who was erased in it again, and where the rest is."""
        again = say("Erased again: {codes}.", codes=", ".join(self.erased))
        kept = say("What stood there is kept as {kept}; it holds people who were erased since, too.", kept=self.kept)
        return (*([again] if self.erased else []), *([kept] if self.kept is not None else []))


def backup(database: Database, target: Path) -> Copied:
    """A checked copy of the database in a new owner-only file, with the journal's head in it.

    Photographs and signed pages go beside it. Of a server it is the rows as one moment has them.

    Raises Refused for a target that exists; a failed copy leaves none.
    """
    if target.exists():
        raise Refused(say("backup: {target} exists already; choose another name", target=target))
    if target.parent.is_dir() and (database.path is not None or os.environ.get(ENVIRONMENT) or _has_files(database)):
        copy_files(photograph_folder(database.path), target.parent / FOLDER)
    if database.path is not None:
        copy_file(database.path, target)
    else:
        with database.reading() as connection:
            _copy_rows(connection, target)
    return _head_of(target)


def _has_files(database: Database) -> bool:
    with database.reading() as connection:
        return any(connection.scalar(select(exists().where(each.id > 0))) for each in (Photograph, SignedPage))


def restore(
    source: Path, where: str | Path, *, clock: Callable[[], datetime] = wall_clock, with_breaks: bool = False
) -> Copied:
    """The journal's head of a backup after it was put at `where`; what stood there is kept, as a sibling or a schema.

    The new database is built and checked beside it, pages and records, and takes its place in one step. with_breaks:
    take a backup whose records do not fit its journal all the same. Raises Unreadable for a torn, foreign, empty or
    newer backup, and Refused for one with breaks, before `where` is touched. A link to a database stays a link.
    """
    url, stamp = as_url(where), f"{clock().astimezone(UTC):%Y%m%dT%H%M%SZ}"
    undo_interrupted(where)
    found = examine(source)
    if found is None or found.revision is None:
        raise Unreadable(say("restore: {source} holds no fleetbench database; check the path", source=source))
    _refuse_torn(source)
    if make_url(url).get_backend_name() != "sqlite":
        return _restore_on_server(source, url, f"fleetbench_{stamp}".lower(), clock, with_breaks=with_breaks)
    where = Path(str(make_url(url).database)).resolve()
    if source.resolve() == where:
        raise Refused(say("restore: the backup and the database are one file; name another place with --db"))
    if where.exists():
        refuse_foreign(where, replacing=True)
    part = restoring_name(where)
    with _building(part):
        _copy_in(source, part)
        copy_files(source.parent / FOLDER, photograph_folder(where), _pages_in(part))
        if not with_breaks:
            _refuse_broken(part, source)
        again = erase_again(part, erased_there(where), where, clock)
        _to_disk(part)
        kept = _exchange(part, where, free_name(where.with_name(f"{where.name}.{stamp}.replaced")))
    examine(where)
    made = _head_of(where)
    return Copied(made.path, head_number=made.head_number, head_hash=made.head_hash, kept=kept, erased=again)


def _restore_on_server(
    source: Path, url: str, schema: str, clock: Callable[[], datetime], *, with_breaks: bool
) -> Copied:
    """The same on a server: what stands there moves to a schema, and the rows take its place, in one transaction."""
    there = examine(url)
    part, again, database = restoring_name(url), tuple[str, ...](), Database(url)
    with _building(part), closing(database):
        _copy_in(source, part)
        if any((source.parent / FOLDER).glob("*")):
            copy_files(source.parent / FOLDER, photograph_folder(None), _pages_in(part))
        if not with_breaks:
            _refuse_broken(part, source)
        with writing_alone(url) as connection:
            kept = _set_aside(connection, schema)
            if kept:
                gone = connection.execute(text(f'SELECT id, code FROM "{kept}".person WHERE erased_at IS NOT NULL'))
                again = erase_again(part, {(key, code) for key, code in gone}, None, clock)
            make_tables(connection, head_revision(), there.revision if there is not None and not kept else None)
            with opened_to_read(part) as built, built.reading() as rows:
                carry_tables(head_revision(), rows, connection)
                breaks = verify_on(built, rows).breaks if with_breaks else ()
            learn_sizes(connection)
            report = verify_on(database, connection)
            if set(report.breaks) - set(breaks):
                words = say("restore: what it makes does not verify ({told}); nothing was changed", told=report.told)
                raise Refused(words)
            connection.execute(select(func.pg_notify(JOURNAL_MOVED, str(report.head_number))))
            part.unlink()  # before it is committed, so that what is found there was of a restore that replaced nothing
    told = say("schema {kept} on the server", kept=kept) if kept else None
    return Copied(
        say("the server's database"),
        head_number=report.head_number,
        head_hash=report.head_hash,
        kept=told,
        erased=again,
    )


def _copy_in(source: Path, part: Path) -> None:
    """Copy a sound backup and bring its tables up, so that whom it would bring back can be erased in it."""
    copy_database(source, part)
    _refuse_torn(part)
    found = examine(part)
    if found is not None and found.standing is DatabaseState.OLDER:
        bring_up(as_url(part))


def _set_aside(connection: Connection, schema: str) -> str:
    """The schema to which every table on a server moved; empty where none of them held a row."""
    names = sorted(inspect(connection).get_table_names())
    filled = (name for name in names if name != VERSION_TABLE)
    if not any(connection.scalar(text(f'SELECT EXISTS (SELECT 1 FROM "{name}")')) for name in filled):
        return ""
    if not connection.scalar(text("SELECT has_database_privilege(current_database(), 'CREATE')")):
        raise Unreadable(
            "restore: this user may not keep what stands on the server; give it CREATE on the database, or name an"
            " empty one with --db"
        )
    connection.execute(text(f'CREATE SCHEMA "{schema}"'))
    for name in names:
        connection.execute(text(f'ALTER TABLE "{name}" SET SCHEMA "{schema}"'))
    return schema


def keep_server(url: str, place: Path, connection: Connection) -> str:
    """Keep what stands on a server in a new file of that name, .dump or .backup, and say where.

    pg_dump writes it where it is at hand and fits the server; else it is a SQLite file, as a backup is.
    """
    fault, dump = _dumped(url, free_name(place.with_name(f"{place.name}.dump")))
    if not fault:
        return say("The tables were brought up; {kept} holds what they were, for pg_restore.", kept=dump)
    copy = free_name(place.with_name(f"{place.name}.backup"))
    _copy_rows(connection, copy)
    return say("The tables were brought up; {kept} holds what they were ({fault}).", kept=copy, fault=fault)


def _dumped(url: str, target: Path) -> tuple[str, Path]:
    """Why there is no dump, and where it is; the password goes to pg_dump in its surroundings alone."""
    program = shutil.which("pg_dump")
    if program is None:
        return say("pg_dump is not installed"), target
    said, secret = spoken_to(url)
    around = os.environ | {"PGCONNECT_TIMEOUT": "10"} | ({"PGPASSWORD": secret} if secret else {})
    _sweep(target.parent)
    part = target.with_name(f"{target.name}.{os.getpid()}.part")
    how = ("--format=custom", "--no-password", "--lock-wait-timeout=15s", "--exclude-schema=fleetbench_*")
    with _building(part):
        try:
            command = [program, *how, f"--file={part}", f"--dbname={said}"]
            done = subprocess.run(command, env=around, capture_output=True, check=False)
        except OSError as fault:
            return say("pg_dump did not start: {fault}", fault=fault.strerror), target
        if done.returncode or part.read_bytes()[: len(DUMP_MAGIC)] != DUMP_MAGIC:
            return say("pg_dump failed; its version may not fit the server's"), target
        put_in_place(part, target)
    return "", target


def _copy_rows(connection: Connection, target: Path) -> None:
    """Copy every row on a server into a new SQLite file with the tables of its revision."""
    revision = str(connection.scalar(text(READ_REVISION)))
    with _built(target) as part, writing_alone(as_url(part)) as made:
        upgrade(made, revision)
        carry_tables(revision, connection, made)


def copy_file(source: Path, target: Path) -> None:
    """Copy a SQLite database into a new owner-only file by the backup API; it is there whole and checked, or not."""
    with _built(target) as part:
        copy_database(source, part)


@contextmanager
def _built(target: Path) -> Iterator[Path]:
    """A file to fill, which is checked and takes the name of a new one at the end."""
    if target.exists():
        raise Refused(say("backup: {target} exists already; choose another name", target=target))
    _sweep(target.parent)
    part = target.with_name(f"{target.name}.{os.getpid()}.part")
    with _building(part):
        yield part
        _refuse_torn(part)
        _to_disk(part)
        try:
            put_in_place(part, target)
        except FileExistsError as fault:
            raise Refused(say("backup: {target} exists already; choose another name", target=target)) from fault


def _sweep(folder: Path) -> None:
    """Take away what copies left that were killed; a living one holds its own."""
    for left in folder.glob("*.[0-9]*.part"):
        if left.is_file() and is_left_over(left):
            for end in ("-journal", "-wal", "-shm", ""):
                left.with_name(left.name + end).unlink(missing_ok=True)


@contextmanager
def _building(part: Path) -> Iterator[None]:
    """Hold a file that is being built, so that nobody takes it for left over; whatever is left of it goes away."""
    held: int | None = None
    try:
        part.unlink(missing_ok=True)
        held = _claim(part)
        yield
    except OSError as fault:
        raise Unreadable(say("backup: {part} cannot be written ({strerror}); choose another place", part=part,
                             strerror=fault.strerror)) from fault  # fmt: skip
    except sqlite3.Error as fault:
        raise readable(fault) from fault
    finally:
        if held is not None:
            os.close(held)
        for end in ("", "-journal", "-wal", "-shm"):
            with suppress(OSError):
                part.with_name(part.name + end).unlink(missing_ok=True)


def _claim(part: Path) -> int:
    """An open file that nobody else can lock; it is closed when the part is done or the program ends."""
    held = os.open(part, os.O_CREAT | os.O_EXCL | os.O_RDWR, 0o600)
    with suppress(ImportError):
        import fcntl  # Windows has none

        fcntl.flock(held, fcntl.LOCK_EX)
    return held


def _to_disk(path: Path) -> None:
    with path.open("rb+") as file:
        os.fsync(file.fileno())


def _refuse_torn(path: Path) -> None:
    try:
        with closing(connect_to_read(path)) as connection:
            said = connection.execute("PRAGMA integrity_check(1)").fetchone()[0]
    except sqlite3.Error as fault:
        raise readable(fault) from fault
    if said != "ok":
        torn = said.splitlines()[0]
        raise Unreadable(say("database: {path} is torn ({fault}); use another backup", path=path, fault=torn))


def damage(database: Database, backups: Iterable[Path] = (), seconds: float = LOOK_SECONDS) -> str:
    """What to say of a live file with a damaged page, with the last sound copy named; empty where none was found.

    backups: copies elsewhere, the newest first. It looks no longer than so many seconds, and at no server.
    """
    if database.path is None:
        return ""
    said = _quick_check(database.path, seconds)
    if said == "ok":
        return ""
    copies = (*backups, *reversed(kept_beside(database.path)))
    sound = next((each for each in copies if each.exists() and _quick_check(each, seconds) == "ok"), None)
    way = say("no sound copy was found beside it")
    if sound:
        way = say("the last sound copy is {sound}: 'fleetbench restore'", sound=sound)
    return say("A page of the database file is damaged ({fault}). Record nothing more in it; {way}.",
               fault=said.splitlines()[-1], way=way)  # fmt: skip


def _quick_check(path: Path, seconds: float) -> str:
    until = time.monotonic() + seconds
    try:
        with closing(connect_to_read(path)) as connection:
            connection.set_progress_handler(lambda: time.monotonic() > until, 10_000)
            return str(connection.execute("PRAGMA quick_check(1)").fetchone()[0])
    except sqlite3.DatabaseError as fault:
        late = (sqlite3.SQLITE_INTERRUPT, sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED)
        return "ok" if getattr(fault, "sqlite_errorcode", 0) & 0xFF in late else str(fault)


def _refuse_broken(part: Path, source: Path) -> None:
    with opened_to_read(part) as database:
        breaks = verify(database).breaks
    if breaks:
        told = say("{fault} and {count} more", fault=breaks[0], count=len(breaks) - 1) if len(breaks) > 1 else breaks[0]
        raise Refused(say("restore: the records in {source} do not fit their journal: {told}; use another backup, or"
                          " --with-breaks to take it as it is", source=source, told=told))  # fmt: skip


def _exchange(part: Path, where: Path, kept: Path) -> Path | None:
    """Put the new database in the place of the present one in one step; the present one keeps another name."""
    if not where.exists():
        part.replace(where)
        _folder_to_disk(where.parent)
        return None
    _settle(where)
    for end in ("-wal", "-shm", "-journal"):
        piece = where.with_name(where.name + end)
        if piece.exists():
            piece.rename(kept.with_name(kept.name + end))
    _second_name(where, kept)
    part.replace(where)
    _folder_to_disk(where.parent)
    return kept


def _second_name(where: Path, kept: Path) -> None:
    try:
        os.link(where, kept)
    except OSError:  # a disk without hard links
        shutil.copy2(where, kept)
        _to_disk(kept)


def _folder_to_disk(folder: Path) -> None:
    with suppress(OSError):  # Windows opens no folder
        held = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(held)
        finally:
            os.close(held)


def _settle(where: Path) -> None:
    """Write what stands in the log of the present database into its file, once nobody else has it open."""
    try:
        with closing(sqlite3.connect(where, isolation_level=None, timeout=2)) as connection:
            connection.execute("PRAGMA secure_delete = ON")
            connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
            connection.execute("PRAGMA journal_mode = DELETE")  # fails while another desk has the file open
    except sqlite3.OperationalError as fault:
        raise readable(fault) from fault
    except sqlite3.DatabaseError:
        pass  # it is torn, which is why it is being replaced; the pieces are kept as they are


def _pages_in(path: Path) -> set[str]:
    """Digests of the signed pages that a database knows; none of one from before pages were kept."""
    with closing(connect_to_read(path)) as connection:
        try:
            return {digest for (digest,) in connection.execute("SELECT sha256 FROM signed_page")}
        except sqlite3.OperationalError:
            return set()


def _head_of(path: Path) -> Copied:
    with closing(connect_to_read(path)) as connection:
        head = connection.execute("SELECT id, hash FROM journal ORDER BY id DESC LIMIT 1").fetchone()
    return Copied(path, *head) if head else Copied(path, 0, None)
