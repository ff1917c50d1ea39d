"""Copies of a SQLite database with its photographs: taken while in use, checked before they count, and put back."""

import os
import sqlite3
from collections.abc import Callable
from contextlib import closing, suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from fleetbench.records.core.database import Database, readable
from fleetbench.records.core.errors import Refused, Unreadable
from fleetbench.records.tickets.photographs import FOLDER, copy_files, photograph_folder
from fleetbench.records.upkeep.migrate import connect_to_read, examine, refuse_foreign, wall_clock


@dataclass(frozen=True, slots=True)
class Copied:
    """A copy on disk and the journal's head in it; nought and no hash where nothing was ever recorded."""

    path: Path
    head_number: int
    head_hash: str | None

    @property
    def head(self) -> str:
        """Number and hash as they are printed and as `verify --head` reads them."""
        return f"{self.head_number}:{self.head_hash or '-'}"


def backup(database: Database, target: Path) -> Copied:
    """A checked copy of the database in a new owner-only file, with the journal's head in it; photographs go beside it.

    Raises Refused for a server (its own pg_dump does that) and for a target that exists; a failed copy leaves none.
    """
    if database.path is None:
        raise Refused("backup: a database on a server is backed up by pg_dump; this copies SQLite files only")
    copy_file(database.path, target)
    copy_files(photograph_folder(database.path), target.parent / FOLDER)
    return _head_of(target)


def restore(source: Path, where: Path, *, clock: Callable[[], datetime] = wall_clock) -> Copied:
    """The journal's head of a backup after it was put at `where`; what stood there is kept in a sibling file.

    Raises Unreadable for a torn, foreign or newer backup, before `where` is touched.
    """
    if source.resolve() == where.resolve():
        raise Refused("restore: the backup and the database are one file; name another place with --db")
    found = examine(source)
    if found is None or found.revision is None:
        raise Unreadable(f"restore: {source} holds no fleetbench database; check the path")
    _refuse_torn(source)
    if where.exists():
        _set_aside(where, where.with_name(f"{where.name}.{clock().astimezone(UTC):%Y%m%dT%H%M%SZ}.replaced"))
    copy_file(source, where)
    copy_files(source.parent / FOLDER, photograph_folder(where))
    return _head_of(where)


def copy_file(source: Path, target: Path) -> None:
    """Copy a SQLite database into a new owner-only file by the backup API; it is there whole and checked, or not."""
    if target.exists():
        raise Refused(f"backup: {target} exists already; choose another name")
    part = target.with_name(target.name + ".part")
    try:
        part.touch(mode=0o600, exist_ok=False)
        with closing(connect_to_read(source)) as old, closing(sqlite3.connect(part)) as new:
            old.backup(new)
            # A copy in WAL mode would need its two companions; one plain file can be carried anywhere.
            new.execute("PRAGMA journal_mode = DELETE")
        _refuse_torn(part)
        _to_disk(part)
        part.rename(target)
    except FileExistsError as fault:
        raise Refused(f"backup: {part} exists already; choose another name") from fault
    except OSError as fault:
        raise Unreadable(f"backup: {target} cannot be written ({fault.strerror}); choose another place") from fault
    except sqlite3.Error as fault:
        raise readable(fault) from fault
    finally:
        with suppress(OSError):
            part.unlink(missing_ok=True)


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
        raise Unreadable(f"database: {path} is torn ({said.splitlines()[0]}); use another backup")


def _set_aside(where: Path, aside: Path) -> None:
    """Take the present database out of the way whole, once nobody else has it open; a foreign file is refused."""
    refuse_foreign(where)
    try:
        with closing(sqlite3.connect(where, isolation_level=None, timeout=2)) as connection:
            connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
            connection.execute("PRAGMA journal_mode = DELETE")  # fails while another desk has the file open
    except sqlite3.OperationalError as fault:
        raise readable(fault) from fault
    except sqlite3.DatabaseError:
        pass  # it is torn, which is why it is being replaced; the pieces are kept as they are
    for end in ("", "-wal", "-shm"):
        piece = where.with_name(where.name + end)
        if piece.exists():
            piece.rename(aside.with_name(aside.name + end))


def _head_of(path: Path) -> Copied:
    with closing(connect_to_read(path)) as connection:
        head = connection.execute("SELECT id, hash FROM journal ORDER BY id DESC LIMIT 1").fetchone()
    return Copied(path, *head) if head else Copied(path, 0, None)
