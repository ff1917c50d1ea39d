"""Files that people name: what they are is told before they are read or written over, and nothing is left half written.

No more is read of a file than it may hold.
"""

import errno
import os
import sqlite3
import stat
import tempfile
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from itertools import count
from pathlib import Path
from typing import BinaryIO

from fleetbench.calc.core.languages import say
from fleetbench.records.core.errors import Refused

SQLITE_MAGIC = b"SQLite format 3\x00"
DUMP_MAGIC = b"PGDMP"
BEGINS = {
    ".pdf": (b"%PDF",),
    ".xlsx": (b"PK\x03\x04",),
    ".ics": (b"BEGIN:VCALENDAR",),
    ".png": (b"\x89PNG",),
    ".csv": (),
    ".txt": (),
}
"""What a file of that ending begins with (ISO 32000-1 7.5.2, PKWARE APPNOTE 4.3.7, RFC 5545 3.4, PNG 5.2); any text."""

HEAD_BYTES = 4096
PAGE_BYTES, LOOKED_AT = 4096, 64


def plain_name(words: str, ending: str) -> str:
    """A file name of what a user named: letters, digits, hyphens and underscores, and no folder or order in it."""
    return "".join(sign if sign.isalnum() or sign in "-_" else "-" for sign in words)[:80] + ending


def refuse_special(path: Path, named: str) -> None:
    """Refused for a pipe, a device, a socket or a folder, which could be read without end; named: what to call it."""
    kind = path.stat().st_mode
    if not stat.S_ISREG(kind):
        what = "folder" if stat.S_ISDIR(kind) else "pipe" if stat.S_ISFIFO(kind) else "device"
        raise Refused(say("{named} is a {what}, not a plain file; name the file itself", named=named, what=what))


def plain_bytes(path: Path, most: int, named: str) -> bytes:
    """What a plain file holds; Refused for anything else and for a larger one, OSError as the system gives it.

    most: bytes; told from the file's own size, before anything is read.
    """
    refuse_special(path, named)
    size = path.stat().st_size
    if size > most:
        raise Refused(
            say(
                "{named} has {size:,} bytes, and {most:,} is the most that is read; split it or save it smaller",
                named=named,
                size=size,
                most=most,
            )
        )
    with path.open("rb") as file:
        return file.read(most)


def refuse_other_kind(path: Path) -> None:
    """Refused where a page would take the place of a file that is none of its kind, a database for instance."""
    if not path.exists():
        return
    refuse_special(path, str(path))
    begins = BEGINS.get(path.suffix.lower())
    with path.open("rb") as file:
        head = file.read(HEAD_BYTES)
    if begins is None or not _is_of_kind(head, begins):
        raise Refused(say("{path}: is another kind of file, which is not overwritten; choose another name", path=path))


def _is_of_kind(head: bytes, begins: tuple[bytes, ...]) -> bool:
    if not head:
        return True
    if begins:
        return head.startswith(begins)
    return b"\x00" not in head and not head.startswith((SQLITE_MAGIC, b"%PDF", b"PK\x03\x04"))


def refuse_existing(path: Path, overwrite: bool) -> Path:
    """The path, where nothing stands there or it may be overwritten; links are followed, so that a link stays one."""
    if path.exists() and not overwrite:
        refuse_other_kind(path)
        raise Refused(say("{path}: exists already; choose another name, or add --overwrite", path=path))
    return Path(os.path.realpath(path))


Target = Path | str | BinaryIO


@contextmanager
def written(target: Target) -> Iterator[BinaryIO]:
    """A stream to write to; a path gets its content only when all of it is written, so no torn page is left.

    A file of another kind, such as a database, is never overwritten: Refused. Raises OSError as the system gives it
    (disk full, no such folder, not permitted); the old file then still stands.
    """
    if not isinstance(target, str | Path):
        yield target
        return
    path = Path(os.path.realpath(target))
    refuse_other_kind(path)
    handle, name = tempfile.mkstemp(prefix=f".{path.name[:40]}-", suffix=".part", dir=path.parent)
    try:
        with os.fdopen(handle, "wb") as stream:
            yield stream
            stream.flush()
            os.fsync(stream.fileno())
        Path(name).replace(path)
    except BaseException:
        with suppress(OSError):
            Path(name).unlink()
        raise


def save_pdf(pdf: bytes, path: Path) -> None:
    """Write a page that is there already; Refused with the remedy where the file cannot be written."""
    try:
        with written(path) as stream:
            stream.write(pdf)
    except OSError as fault:
        raise Refused(
            say("file: {path} cannot be written ({strerror}); choose another place", path=path, strerror=fault.strerror)
        ) from fault


def free_name(path: Path) -> Path:
    """The path, or with a number before its last ending where something has that name already."""
    for number in count(2):
        if not path.exists():
            return path
        path = path.with_name(f"{path.stem.removesuffix(f'-{number - 1}')}-{number}{path.suffix}")
    raise AssertionError("unreachable")


def put_in_place(part: Path, target: Path) -> None:
    """Give a finished file its name, never over another: FileExistsError where something stands there."""
    try:
        os.link(part, target)
    except FileExistsError:  # also a link that leads nowhere
        raise
    except OSError:  # a disk without hard links
        if target.exists():
            raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST), str(target)) from None
        part.rename(target)
        return
    part.unlink()


@contextmanager
def new_folder(target: Path, named: str) -> Iterator[Path]:
    """An empty folder of its owner's to write into; Refused where it holds anything, or cannot be written.

    named: what is written, as the refusal begins.
    """
    try:
        target.mkdir(mode=0o700, parents=True, exist_ok=True)
        if any(target.iterdir()):
            raise Refused(say("{named}: {target} is not empty; name a new folder", named=named, target=target))
        yield target
    except OSError as fault:
        raise Refused(
            say(
                "{named}: {target} cannot be written ({strerror}); choose another folder",
                named=named,
                target=target,
                strerror=fault.strerror,
            )
        ) from fault


def has_pages(path: Path) -> bool:
    """Whether a file that does not begin as a SQLite database goes on as one.

    Told by a page with the header of a b-tree (SQLite file format, section 1.6) among the first ones.
    """
    with path.open("rb") as file:
        file.seek(PAGE_BYTES)
        pages = [file.read(PAGE_BYTES) for _ in range(LOOKED_AT)]
    return any(len(page) == PAGE_BYTES and _is_tree(page) for page in pages)


def _is_tree(page: bytes) -> bool:
    kind, cells, starts, loose = page[0], int.from_bytes(page[3:5]), int.from_bytes(page[5:7]), page[7]
    header = 8 if kind in (10, 13) else 12
    return kind in (2, 5, 10, 13) and loose <= 60 and header + 2 * cells <= (starts or PAGE_BYTES) <= PAGE_BYTES


def head_at_a_glance(file: Path) -> str | None:
    """The hash of the journal's last entry; None where the file holds none or cannot be read as it stands.

    Through the bare driver, before anything that reads the tables' definitions: it serves to tell whether something
    that was kept of the records still belongs to them, and for nothing else.
    """
    try:
        with closing(sqlite3.connect(f"{file.resolve().as_uri()}?mode=ro", uri=True, timeout=0.2)) as bare:
            found = bare.execute("SELECT hash FROM journal ORDER BY id DESC LIMIT 1").fetchone()
    except (sqlite3.Error, OSError, ValueError):
        return None
    return str(found[0]) if found else None
