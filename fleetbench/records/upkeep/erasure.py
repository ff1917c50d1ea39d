"""What is left of an erased person outside the records: overwritten where the program can, told by name where not.

Whom a centre erased is listed beside its file, so that a restore of an older backup brings nobody back.
"""

import json
import os
import re
import sqlite3
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing, suppress
from datetime import UTC, datetime
from functools import partial
from itertools import islice
from pathlib import Path

from sqlalchemy import text
from sqlalchemy.exc import SQLAlchemyError

from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.core.wall_time import no_doubt
from fleetbench.records.core.database import Database, connect_to_read
from fleetbench.records.core.plain_file import DUMP_MAGIC, SQLITE_MAGIC
from fleetbench.records.core.transaction import last_entry, transaction
from fleetbench.records.people.retention import erase_within, pages_of
from fleetbench.records.people.tables import Person, PersonPrivate
from fleetbench.records.tickets.photographs import PDF, photograph_folder, remove_files
from fleetbench.records.upkeep.tables import metadata

OWN_FOLDERS = ("half-done", "to-finish", "layouts")
"""Where half-done work and lists to finish stand beside the records; each file is JSON of this program."""

OWN_FILES = ("today-*.json", "*.log")
"""What the program keeps beside its settings."""

SHORTEST = 4
"""Letters of a name or contact that is looked for in files; anything shorter would be found in every one."""

MOST_FILES, LARGEST = 2000, 20_000_000
"""How many files of a folder are looked through, and the bytes of the largest."""

SERVER_KEEPS = say(
    "The server's log of changes, its dumps and its copies on other machines may still hold "
    "what was erased; ask who runs the server."
)


def words_of(private: PersonPrivate | None) -> tuple[str, ...]:
    """What a person is looked for by in files: the name, the contact, and addresses and numbers in it."""
    if private is None:
        return ()
    said = [private.name, private.contact or ""]
    parts = [each for each in re.split(r"[,;\n]", private.contact or "") if "@" in each or re.search(r"\d{6}", each)]
    whole = {each.strip() for each in (*said, *parts)}
    return tuple(sorted((each for each in whole if len(each) >= SHORTEST), key=len, reverse=True))


def clear_traces(
    database: Database, person_id: int, code: str, words: Sequence[str], folders: Sequence[Path] = ()
) -> tuple[str, ...]:
    """Overwrite what is left of an erased person, and tell by name what still holds them, a sentence each.

    The file is compacted and its log emptied, and the program's own files are rewritten with the code in place of the
    words. folders: where to look besides the folder of the records, such as that of backups. Nothing is raised.
    """
    if database.path is None:
        told = [*_compact_server(database)]
        live = None
    else:
        told = [*_compact_file(database.path)]
        live = database.path.resolve()
        folders = (live.parent, *folders)
    holding: list[str] = []
    for folder in dict.fromkeys(each.resolve() for each in folders):
        holding += _clear_folder(folder, live, (person_id, code), words)
    if holding:
        told.append(
            say(
                "These still hold the person: {holding}; delete them once nothing else needs them.",
                holding=strung(", ", holding),
            )
        )
    told.append(
        say("Printed pages, exported files and backups kept elsewhere may hold the name; they cannot be reached.")
    )
    return tuple(told)


def _compact_file(path: Path) -> Iterator[str]:
    """Write the file again without what was deleted, and empty its log; a sentence where another desk is in the way."""
    try:
        with closing(sqlite3.connect(path, isolation_level=None, timeout=2)) as connection:
            connection.execute("PRAGMA secure_delete = ON")
            connection.execute("VACUUM")
            busy = connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()[0]
    except sqlite3.Error:
        busy = 1
    if busy:
        yield (
            say(
                "What was erased may stand in the records' log until every desk is closed once, since "
                "another one reads them now."
            )
        )


def _compact_server(database: Database) -> Iterator[str]:
    names = sorted(table.name for table in metadata.tables.values() if table.info.get("erasable"))
    try:
        with database.engine.connect() as plain:
            connection = plain.execution_options(isolation_level="AUTOCOMMIT")
            for name in names:
                connection.execute(text(f'VACUUM FULL "{name}"'))
            held = "SELECT table_schema FROM information_schema.tables WHERE table_name = 'person_private'"
            copies = sorted(connection.scalars(text(f"{held} AND table_schema LIKE 'fleetbench\\_%'")))
    except SQLAlchemyError:
        yield say(
            "The server's tables could not be compacted ({names}); let its owner run VACUUM FULL on them.",
            names=strung(", ", names),
        )
        copies = []
    if copies:
        yield say(
            "Copies of older tables on the server still hold the person: schemas {copies}.", copies=strung(", ", copies)
        )
    yield SERVER_KEEPS


def _clear_folder(folder: Path, live: Path | None, person: tuple[int, str], words: Sequence[str]) -> Iterator[str]:
    """Rewrite the program's own files of a folder; the names of others that hold the person."""
    own = [each for name in OWN_FOLDERS for each in (folder / name).glob("*") if each.is_file()]
    own += [each for pattern in OWN_FILES for each in folder.glob(pattern)]
    for path in own:
        with suppress(OSError):
            _rewrite(path, person[1], words)
    beside = {live.with_name(live.name + end) for end in ("", "-wal", "-shm", "-journal", ".erased")} if live else set()
    with suppress(OSError):
        others = (each for each in sorted(folder.iterdir()) if each.is_file() and each not in beside)
        for path in islice(others, MOST_FILES):
            if _holds(path, person, words):
                yield str(path)


def _rewrite(path: Path, code: str, words: Sequence[str]) -> None:
    said = path.read_text(encoding="utf-8", errors="surrogateescape")
    found = re.sub("|".join(map(re.escape, words)), code, said, flags=re.IGNORECASE) if words else said
    if found == said:
        return
    fresh = path.with_name(f"{path.name}.new")
    fresh.touch(mode=0o600)
    fresh.write_text(found, encoding="utf-8", errors="surrogateescape")
    fresh.replace(path)


def _holds(path: Path, person: tuple[int, str], words: Sequence[str]) -> bool:
    try:
        with path.open("rb") as file:
            if file.read(len(SQLITE_MAGIC)) == SQLITE_MAGIC:
                return _database_holds(path, person)
            file.seek(0)
            if file.read(len(DUMP_MAGIC)) == DUMP_MAGIC:
                return True  # a server's dump is packed; everybody who was recorded by then stands in it
            if path.stat().st_size > LARGEST:
                return False
            file.seek(0)
            said = file.read().decode("utf-8", errors="replace").lower()
    except OSError:
        return False
    return any(each.lower() in said for each in words)


def _database_holds(path: Path, person: tuple[int, str]) -> bool:
    """Whether a copy of the records holds the person's name; one that cannot be read counts as holding it."""
    query = "SELECT 1 FROM person JOIN person_private ON person_id = person.id WHERE person.id = ? AND code = ?"
    try:
        with closing(connect_to_read(path)) as connection:
            return connection.execute(query, person).fetchone() is not None
    except sqlite3.Error as fault:
        return "no such table" not in str(fault)


def note_erasure(database: Database, person_id: int, code: str, at: datetime) -> None:
    """List beside the database that a person was erased, by code and day; not on a server."""
    if database.path is None:
        return
    line = json.dumps({"person": person_id, "code": code, "on": at.astimezone(UTC).date().isoformat()})
    held = os.open(_erased_name(database.path), os.O_CREAT | os.O_APPEND | os.O_WRONLY, 0o600)
    with os.fdopen(held, "a", encoding="utf-8") as file:
        file.write(line + "\n")
        file.flush()
        os.fsync(file.fileno())


def _erased_name(path: Path) -> Path:
    resolved = path.resolve()
    return resolved.with_name(f"{resolved.name}.erased")


def erased_there(where: Path) -> set[tuple[int, str]]:
    """Key and code of everybody who was erased in the database there, from the list beside it and from itself."""
    found: set[tuple[int, str]] = set()
    with suppress(OSError):
        for line in _erased_name(where).read_bytes().splitlines():
            with suppress(ValueError, KeyError, TypeError):  # one that was cut short hides no other
                said = json.loads(line)
                found.add((int(said["person"]), str(said["code"])))
    with suppress(sqlite3.Error, OSError):
        if where.exists():
            with closing(connect_to_read(where)) as connection:
                found |= set(connection.execute("SELECT id, code FROM person WHERE erased_at IS NOT NULL").fetchall())
    return found


def erase_again(
    part: Path, wanted: set[tuple[int, str]], where: Path | None, clock: Callable[[], datetime]
) -> tuple[str, ...]:
    """Codes of people who stood in the new database though the present one erased them; they are erased in it now."""
    done: list[str] = []
    pages: list[str] = []
    if not wanted:
        return ()
    with closing(Database(part)) as database:
        for key, code in sorted(wanted):
            with database.read_session() as session:
                person = session.get(Person, key)
                pages += pages_of(session, key)
                present = person is not None and person.code == code and person.erased_at is None
                last = last_entry(session).at
            if present:
                at = partial(no_doubt, clock(), last)
                with transaction(database, at, None, "erase person", f"person {key}") as act:
                    erase_within(act, act.get(Person, key, "person"))
                done.append(code)
        with closing(sqlite3.connect(part, isolation_level=None)) as connection:
            database.close()
            connection.execute("PRAGMA secure_delete = ON")
            connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
            connection.execute("PRAGMA journal_mode = DELETE")
    if done and pages:
        remove_files(photograph_folder(where), pages, PDF)
    return tuple(done)
