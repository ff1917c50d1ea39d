"""Photographs under a ticket: a row that the journal holds, and a file beside the database named by its SHA-256."""

import hashlib
import os
from contextlib import suppress
from datetime import datetime
from pathlib import Path

from sqlalchemy import Connection, String, UniqueConstraint, select
from sqlalchemy.orm import Mapped, mapped_column

from fleetbench.records.core.errors import Refused, Unreadable
from fleetbench.records.core.schema import Base, Key, Ref, to

FOLDER = "fleetbench-photographs"
JPEG = b"\xff\xd8\xff"
MOST_BYTES = 100_000_000
ENVIRONMENT = "FLEETBENCH_PHOTOGRAPHS"


class Photograph(Base):
    """One photograph of a ticket; the picture itself is the file of that SHA-256."""

    __tablename__ = "photograph"
    id: Mapped[Key]
    ref: Mapped[Ref]
    ticket_id: Mapped[int] = to("ticket")
    at: Mapped[datetime]
    person_id: Mapped[int | None] = to("person", nullable=True)
    sha256: Mapped[str] = mapped_column(String(64))
    size: Mapped[int]
    wide: Mapped[int]
    high: Mapped[int]
    caption: Mapped[str] = mapped_column(String(200))
    __table_args__ = (UniqueConstraint("ticket_id", "sha256", name="uq_photograph_ticket_sha256"),)


def photograph_folder(database_file: Path | None) -> Path:
    """Where the files of photographs are: beside a database file, or where FLEETBENCH_PHOTOGRAPHS says.

    Raises Refused for a server without that variable: every desk must reach the same folder.
    """
    said = os.environ.get(ENVIRONMENT)
    if said:
        return Path(said)
    if database_file is None:
        raise Refused(f"photographs: a server keeps no files; set {ENVIRONMENT} to a folder that every desk reaches")
    return database_file.parent / FOLDER


def keep_file(folder: Path, data: bytes) -> str:
    """The SHA-256 of a picture after its file is in the folder, readable by its owner only; one is kept once."""
    digest = hashlib.sha256(data).hexdigest()
    path = _path(folder, digest)
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        if path.exists() and hashlib.sha256(path.read_bytes()).hexdigest() == digest:
            return digest
        part = path.with_suffix(f".{os.getpid()}.part")
        with os.fdopen(os.open(part, os.O_CREAT | os.O_WRONLY | os.O_TRUNC, 0o600), "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        part.replace(path)
    except OSError as fault:
        raise Unreadable(f"photographs: {folder} cannot be written ({fault.strerror}); free it") from fault
    return digest


def read_file(folder: Path, digest: str) -> bytes:
    """The picture of that SHA-256; Refused where its file is missing or was changed."""
    said = _fault(folder, digest)
    if said is not None:
        raise Refused(f"photograph {digest[:12]}: {said}; restore it from a backup")
    return _path(folder, digest).read_bytes()


def copy_files(source: Path, target: Path) -> int:
    """How many pictures were copied that the other folder lacked; one that was changed is left behind."""
    if not source.is_dir() or source.resolve() == target.resolve():
        return 0
    copied = 0
    for path in sorted(source.glob("*.jpg")):
        if path.is_symlink() or not path.is_file() or path.stat().st_size > MOST_BYTES:
            continue  # a backup brings pictures, and nothing that only leads to a file
        if not _path(target, path.stem).exists() and _fault(source, path.stem) is None:
            data = path.read_bytes()
            if not data.startswith(JPEG):
                continue
            keep_file(target, data)
            copied += 1
    return copied


def broken_photograph(connection: Connection, database_file: Path | None) -> str | None:
    """The first photograph whose file is missing or is not what its row says, in words, or None; one statement."""
    found = connection.execute(select(Photograph.id, Photograph.sha256, Photograph.size).order_by(Photograph.id)).all()
    if not found:
        return None
    folder = photograph_folder(database_file)
    for key, digest, size in found:
        said = _fault(folder, digest)
        if said is None and _path(folder, digest).stat().st_size != size:
            said = "its file has another size"
        if said is not None:
            return f"photograph row {key}: {said}"
    return None


def _fault(folder: Path, digest: str) -> str | None:
    with suppress(OSError):
        data = _path(folder, digest).read_bytes()
        return None if hashlib.sha256(data).hexdigest() == digest else "its file was changed"
    return "its file is missing"


def _path(folder: Path, digest: str) -> Path:
    """The file of a picture; a digest comes from a row and is never a path."""
    return folder / f"{''.join(char for char in digest if char in '0123456789abcdef')}.jpg"
