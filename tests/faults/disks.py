"""Disks, rights and files that are not as they should be: what is read, what is refused, and that nothing is left."""

import os
import random
import shutil
import sqlite3
import subprocess
import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from fleetbench.records.core import database as database_module
from fleetbench.records.core.database import Database
from fleetbench.records.core.plain_file import save_pdf
from fleetbench.records.upkeep.backup import backup
from fleetbench.records.upkeep.migrate import open_database
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.units.list import list_units
from tests.faults.places import SQLITE, Places, act_often, opened, rows_in, wall
from tests.faults.table import NOBODY, Outcome, Say, forked, heard, left_in

PDF = b"%PDF-1.4\n" + b"x" * 100_000
Made = Callable[[Path, random.Random], None]
"""Makes the fault of a database file."""


def read_and_write(where: Path, say: Say) -> None:
    """Open it, look, act three times, back it up and save a page; each tells of itself."""
    database_module.BUSY_SECONDS = 0.3
    for name, work in (
        ("reading", lambda: _read(where)),
        ("acting", lambda: act_often(where, lambda _: None, 3)),
        ("backup", lambda: _back(where)),
        ("page", lambda: save_pdf(PDF, where.parent / "page.pdf")),
    ):
        try:
            work()
            say(f"did {name}")
        except database_module.Unreadable as refusal:
            say(f"refused {refusal}")
        except Exception as fault:
            kind = "refused" if isinstance(fault, database_module.Unreadable.__mro__[1]) else "trace"
            say(f"{kind} {fault if kind == 'refused' else f'{name} {type(fault).__name__} {fault}'}")


def _read(where: Path) -> None:
    with closing(open_database(where, create=False)) as database:
        list_units(Workplace(database, wall))


def _back(where: Path) -> None:
    with closing(open_database(where, create=False)) as database:
        backup(database, where.parent / "copy.db")


def _file_mode(mode: int) -> Made:
    return lambda where, _chance: where.chmod(mode)


def _folder_mode(mode: int) -> Made:
    return lambda where, _chance: where.parent.chmod(mode)


def _another_users(mode: int) -> Made:
    def make(where: Path, _chance: random.Random) -> None:
        os.chown(where, 0, 0)
        where.chmod(mode)

    return make


def _cut(where: Path, chance: random.Random) -> None:
    whole = where.read_bytes()
    where.write_bytes(whole[: chance.randrange(1, len(whole))])


def _garbage(where: Path, chance: random.Random) -> None:
    whole = bytearray(where.read_bytes())
    at = chance.randrange(0, len(whole) - 4096)
    whole[at : at + 4096] = chance.randbytes(4096)
    where.write_bytes(whole)


def _foreign(where: Path, chance: random.Random) -> None:
    where.unlink()
    if chance.random() < 0.5:
        where.write_text("a letter to a friend\n" * chance.randrange(1, 500))
        return
    with closing(sqlite3.connect(where)) as other:
        other.execute("CREATE TABLE letters (words)")


def _newer(where: Path, _chance: random.Random) -> None:
    with closing(sqlite3.connect(where)) as connection, connection:
        connection.execute("UPDATE alembic_version SET version_num = '9999'")


def _other_revision(where: Path, chance: random.Random) -> None:
    said = f"{chance.randrange(1, 19):04d}"
    with closing(sqlite3.connect(where)) as connection, connection:
        connection.execute("UPDATE alembic_version SET version_num = ?", (said,))


def _pipe(where: Path, _chance: random.Random) -> None:
    where.unlink()
    os.mkfifo(where)


def _device(where: Path, chance: random.Random) -> None:
    where.unlink()
    where.symlink_to(chance.choice(("/dev/zero", "/dev/null", "/dev/full", "/dev/random")))


def _folder(where: Path, _chance: random.Random) -> None:
    where.unlink()
    where.mkdir()


def _nothing(_where: Path, _chance: random.Random) -> None:
    pass


READS = frozenset(["read-only file", "read-only folder", "another user's file, to be read", "quota", "no space"])
"""Where what is recorded can still be read."""
FAULTS: dict[str, tuple[str, Made, bool]] = {
    "read-only file": ("chmod 0400, by its owner", _file_mode(0o400), True),
    "read-only folder": ("chmod 0500 of the folder", _folder_mode(0o500), True),
    "a closed folder": ("chmod 0000 of the folder", _folder_mode(0o000), True),
    "another user's file": ("owned by root, mode 0600", _another_users(0o600), True),
    "another user's file, to be read": ("owned by root, mode 0644", _another_users(0o644), True),
    "a device": ("a link to /dev/zero, null, full or random", _device, False),
    "a pipe": ("mkfifo in the place of the file", _pipe, False),
    "a folder": ("a folder in the place of the file", _folder, False),
    "torn copy": ("cut short at a random byte", _cut, False),
    "a damaged page": ("4096 random bytes at a random place", _garbage, False),
    "no byte in it": ("truncated to nothing", lambda where, _chance: where.write_bytes(b"") and None, False),
    "foreign file": ("a letter, or another program's database", _foreign, False),
    "newer file": ("its revision set to 9999", _newer, False),
    "not of its revision": ("an earlier revision written into it", _other_revision, False),
}
"""Fault: how it is made, and whether by a user without rights."""
OF_ROOT = frozenset(name for name in FAULTS if name.startswith("another user"))
NOT_TRIED = "; not tried: needs root"
"""Said of what only root can make: a file of another user, a disk of its own."""


def disks(places: Places, tries: int, seed: int) -> list[Outcome]:
    """So many tries of each fault of a disk or file."""
    found = [_tried(places, name, tries, random.Random(f"{seed} {name}")) for name in FAULTS]
    found += [_bounded(places, tries, random.Random(seed)), _full(places, tries), _held(places, tries)]
    return found


@contextmanager
def _copy(places: Places, outcome: Outcome) -> Iterator[Path]:
    begun = time.monotonic()
    with places.database(SQLITE) as where:
        yield Path(where)
        Path(where).parent.chmod(0o700)
    outcome.tries += 1
    outcome.seconds += time.monotonic() - begun


def _tried(places: Places, name: str, tries: int, chance: random.Random) -> Outcome:
    how, make, as_nobody = FAULTS[name]
    outcome, is_root = Outcome(name, how), not os.getuid()
    if name in OF_ROOT and not is_root:
        outcome.how += NOT_TRIED
        return outcome
    for _ in range(tries):
        with _copy(places, outcome) as where:
            if as_nobody and is_root:
                for each in (where, where.parent):
                    os.chown(each, NOBODY, NOBODY)
            make(where, chance)
            before = _bytes(where)
            said = forked(lambda say, at=where: read_and_write(at, say), user=NOBODY if as_nobody and is_root else None)
            heard(outcome, said)
            if name in READS:
                outcome.hold("did reading" in said, f"cannot be read: {said}")
            if name != "a damaged page":  # one in a page that nobody looks at does no harm to an act
                outcome.hold("did acting" not in said, "an act was recorded")
                outcome.hold(_bytes(where) == before, "the file was changed")
            where.parent.chmod(0o700)
            left = [each for each in left_in(where.parent, "fleet.db", "page.pdf", "copy.db")]
            outcome.hold(not left, f"left behind: {left}")
    return outcome


def _bytes(where: Path) -> bytes | None:
    return where.read_bytes() if where.is_file() and not where.is_symlink() else None


def _looked_at(outcome: Outcome, where: Path, said: list[str]) -> None:
    heard(outcome, said)
    outcome.hold("did reading" in said, f"cannot be read: {said}")
    for each in (where, where.parent / "copy.db"):
        if each.exists():
            with opened(outcome, each) as database:
                outcome.hold(database is not None and rows_in(database) > 0, f"{each.name} holds nothing")
    page = where.parent / "page.pdf"
    outcome.hold(not page.exists() or page.read_bytes() == PDF, "a page is torn")
    left = left_in(where.parent, "fleet.db", "page.pdf", "copy.db", "lost+found")
    outcome.hold(not left, f"left behind: {left}")


def _bounded(places: Places, tries: int, chance: random.Random) -> Outcome:
    """A limit on the size of files is what a quota is to a program: its writes end with an error at some byte."""
    outcome = Outcome("quota", "RLIMIT_FSIZE at a random byte up to 1.3 times the file")
    for _ in range(tries):
        with _copy(places, outcome) as where:
            most = chance.randrange(4096, int(1.3 * where.stat().st_size))
            _looked_at(outcome, where, forked(lambda say, at=where: read_and_write(at, say), file=most))
    return outcome


def _full(places: Places, tries: int) -> Outcome:
    """A small disk of its own, as much of it filled as leaves a few pages."""
    outcome = Outcome("no space", "a tmpfs filled up to a few pages")
    room = places.room()
    if os.getuid() or subprocess.run(["mount", "-t", "tmpfs", "-o", "size=6m", "tmpfs", room], check=False).returncode:
        outcome.how += NOT_TRIED if os.getuid() else "; not tried: nothing can be mounted here"
        return outcome
    try:
        for free in range(tries):
            begun, where = time.monotonic(), Path(shutil.copy(places.whole, room / "fleet.db"))
            usage = shutil.disk_usage(room)
            (room / "fleet.db-filling").write_bytes(b"x" * max(0, usage.free - 4096 * (1 + 7 * free % 400)))
            said = forked(lambda say, at=where: read_and_write(at, say))
            (room / "fleet.db-filling").unlink()
            _looked_at(outcome, where, said)
            for each in room.iterdir():
                each.unlink()
            outcome.tries += 1
            outcome.seconds += time.monotonic() - begun
    finally:
        subprocess.run(["umount", room], check=False)
    return outcome


def _held(places: Places, tries: int) -> Outcome:
    """Another process holds the file, and lets it go when it is killed."""
    outcome = Outcome("held by another process", "BEGIN EXCLUSIVE elsewhere, as a share does that never lets a lock go")
    for _ in range(tries):
        with _copy(places, outcome) as where, closing(sqlite3.connect(where, isolation_level=None)) as holder:
            holder.execute("BEGIN EXCLUSIVE")
            said = forked(lambda say, at=where: read_and_write(at, say))
            holder.execute("ROLLBACK")
            heard(outcome, said)
            outcome.hold("did acting" not in said, "an act was recorded")
            with closing(Database(where)) as database:
                outcome.hold(rows_in(database) > 0, "nothing in it")
    return outcome
