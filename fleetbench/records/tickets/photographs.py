"""Photographs under a ticket: a row that the journal holds, and a file beside the database named by its SHA-256.

Pages as they were signed are kept as such files too.
"""

import hashlib
import os
from collections.abc import Collection, Iterable
from contextlib import suppress
from datetime import datetime
from pathlib import Path

from sqlalchemy import Connection, String, UniqueConstraint, select
from sqlalchemy.orm import Mapped, mapped_column

from fleetbench.calc.core.languages import say
from fleetbench.records.core.errors import Refused, Unreadable
from fleetbench.records.core.schema import Base, Key, Ref, to

FOLDER = "fleetbench-photographs"
JPEG, PDF = ".jpg", ".pdf"
BEGINS = {JPEG: b"\xff\xd8\xff", PDF: b"%PDF"}
"""How the files of each ending begin."""

MOST_BYTES = 100_000_000
ENVIRONMENT = "FLEETBENCH_PHOTOGRAPHS"


class Photograph(Base):
    """One photograph of a ticket, or beside what was recorded of a unit; the picture is the file of that SHA-256.

    Of ticket_id, calibration_id and bench_test_id one is set.
    """

    __tablename__ = "photograph"
    id: Mapped[Key]
    ref: Mapped[Ref]
    ticket_id: Mapped[int | None] = to("ticket", nullable=True)
    at: Mapped[datetime]
    person_id: Mapped[int | None] = to("person", nullable=True)
    sha256: Mapped[str] = mapped_column(String(64))
    size: Mapped[int]
    wide: Mapped[int]
    high: Mapped[int]
    caption: Mapped[str] = mapped_column(String(200))
    calibration_id: Mapped[int | None] = to("calibration", nullable=True)
    bench_test_id: Mapped[int | None] = to("bench_test", nullable=True)
    __table_args__ = (UniqueConstraint("ticket_id", "sha256", name="uq_photograph_ticket_sha256"),)


def photograph_folder(database_file: Path | None) -> Path:
    """Where the files of photographs are: beside a database file, or where FLEETBENCH_PHOTOGRAPHS says.

    Raises Refused for a server without that variable: every desk must reach the same folder.
    """
    said = os.environ.get(ENVIRONMENT)
    if said:
        return Path(said)
    if database_file is None:
        what = say("photographs and signed pages: a server keeps no files")
        raise Refused(
            say("{what}; set {environment} to a folder that every desk reaches", what=what, environment=ENVIRONMENT)
        )
    return database_file.parent / FOLDER


def keep_file(folder: Path, data: bytes, ending: str = JPEG) -> str:
    """The SHA-256 of a picture or page after its file is in the folder, its owner's only; one is kept once."""
    digest = hashlib.sha256(data).hexdigest()
    path = _path(folder, digest, ending)
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
        raise Unreadable(
            say("photographs: {folder} cannot be written ({strerror}); free it", folder=folder, strerror=fault.strerror)
        ) from fault
    return digest


def read_file(folder: Path, digest: str, ending: str = JPEG) -> bytes:
    """The picture or page of that SHA-256; Refused where its file is missing or was changed."""
    said = file_fault(folder, digest, None, ending)
    if said is not None:
        what = say("photograph") if ending == JPEG else say("signed page")
        raise Refused(
            say("{what} {digest}: {said}; restore it from a backup", what=what, digest=digest[:12], said=said)
        )
    return _path(folder, digest, ending).read_bytes()


def remove_files(folder: Path, digests: Iterable[str], ending: str) -> None:
    """Delete the files of these digests, those that are there."""
    for digest in digests:
        _path(folder, digest, ending).unlink(missing_ok=True)


def copy_files(source: Path, target: Path, pages: Collection[str] | None = None) -> int:
    """How many pictures and pages were copied that the other folder lacked; one that was changed is left behind.

    pages: the digests of the only pages that are copied, so that one that was erased does not come back; None is all.
    """
    if not source.is_dir() or source.resolve() == target.resolve():
        return 0
    copied = 0
    for ending, begins in BEGINS.items():
        for path in sorted(source.glob(f"*{ending}")):
            if path.is_symlink() or not path.is_file() or path.stat().st_size > MOST_BYTES:
                continue  # a backup brings pictures and pages, and nothing that only leads to a file
            if ending == PDF and pages is not None and path.stem not in pages:
                continue
            if not _path(target, path.stem, ending).exists() and file_fault(source, path.stem, None, ending) is None:
                data = path.read_bytes()
                if not data.startswith(begins):
                    continue
                keep_file(target, data, ending)
                copied += 1
    return copied


def broken_photograph(connection: Connection, database_file: Path | None) -> str | None:
    """The first photograph whose file is missing or is not what its row says, in words, or None; one statement."""
    found = connection.execute(select(Photograph.id, Photograph.sha256, Photograph.size).order_by(Photograph.id)).all()
    if not found:
        return None
    folder = photograph_folder(database_file)
    for key, digest, size in found:
        if (said := file_fault(folder, digest, size)) is not None:
            return say("photograph row {key}: {said}", key=key, said=said)
    return None


def file_fault(folder: Path, digest: str, size: int | None, ending: str = JPEG) -> str | None:
    """What is wrong with a kept file, in words, or None; size None is not asked."""
    with suppress(OSError):
        data = _path(folder, digest, ending).read_bytes()
        if hashlib.sha256(data).hexdigest() != digest:
            return say("its file was changed")
        return None if size is None or len(data) == size else say("its file has another size")
    return say("its file is missing")


def _path(folder: Path, digest: str, ending: str) -> Path:
    """The file of a picture or page; a digest comes from a row and is never a path."""
    return folder / f"{''.join(char for char in digest if char in '0123456789abcdef')}{ending}"
