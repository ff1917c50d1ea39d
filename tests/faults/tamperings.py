"""Twenty kinds of tampering with a file, each found by `verify`, or named as what no chain can show."""

import random
import shutil
import sqlite3
import time
from contextlib import closing
from pathlib import Path

from fleetbench.records.core.database import Database
from fleetbench.records.core.errors import Refused
from fleetbench.records.upkeep.verify import journal_head, verify
from tests.faults.places import Places
from tests.faults.table import Outcome
from tests.fuzz_tampering import (
    Tamper,
    emptied,
    filled_in,
    one_byte,
    row_gone,
    row_twice,
    rows_exchanged,
    tables,
    whole_file,
)


def _entry(connection: sqlite3.Connection, chance: random.Random) -> int:
    return int(chance.choice(connection.execute("SELECT id FROM journal").fetchall())[0])


def entry_changed(connection: sqlite3.Connection, chance: random.Random) -> str | None:
    """One word of a journal entry."""
    key, column = _entry(connection, chance), chance.choice(("act", "subject", "hash", "at"))
    names = [row[1] for row in connection.execute("PRAGMA table_info(journal)")]
    if column not in names:
        return None
    connection.execute(f"UPDATE journal SET {column} = {column} || 'x' WHERE id = ?", (key,))
    return f"journal {key} {column}"


def entry_gone(connection: sqlite3.Connection, chance: random.Random) -> str | None:
    """An entry within the chain."""
    key = _entry(connection, chance)
    last = connection.execute("SELECT max(id) FROM journal").fetchone()[0]
    connection.execute("DELETE FROM journal WHERE id = ?", (key,))
    return None if key == last else f"journal {key} dropped"


def entries_exchanged(connection: sqlite3.Connection, chance: random.Random) -> str | None:
    """Two neighbours change places."""
    key = _entry(connection, chance)
    if connection.execute("SELECT 1 FROM journal WHERE id = ?", (key + 1,)).fetchone() is None:
        return None
    for was, becomes in ((key, -1), (key + 1, key), (-1, key + 1)):
        connection.execute("UPDATE journal SET id = ? WHERE id = ?", (becomes, was))
    return f"journal {key} and {key + 1}"


def last_entry_gone(connection: sqlite3.Connection, _chance: random.Random) -> str | None:
    """The last entry alone, while its rows stay."""
    connection.execute("DELETE FROM journal WHERE id = (SELECT max(id) FROM journal)")
    return "last entry dropped"


def _schema(statement: str) -> Tamper:
    def change(connection: sqlite3.Connection, chance: random.Random) -> str | None:
        table = chance.choice(tables(connection))
        connection.execute(statement.format(table=table))
        return statement.format(table=table)

    return change


def index_gone(connection: sqlite3.Connection, chance: random.Random) -> str | None:
    """An index is dropped."""
    found = connection.execute("SELECT name FROM sqlite_master WHERE type = 'index' AND sql IS NOT NULL").fetchall()
    (name,) = chance.choice(found)
    connection.execute(f'DROP INDEX "{name}"')
    return f"index {name} dropped"


def check_loosened(connection: sqlite3.Connection, chance: random.Random) -> str | None:
    """A CHECK of a table is written away."""
    rows = connection.execute("SELECT name, sql FROM sqlite_master WHERE type = 'table' AND sql LIKE '%CHECK (%'")
    name, sql = chance.choice(rows.fetchall())
    connection.execute("PRAGMA writable_schema = ON")
    connection.execute(
        "UPDATE sqlite_master SET sql = ? WHERE name = ?", (sql.replace("CHECK (", "CHECK (1 OR ", 1), name)
    )
    return f"check of {name}"


def names_exchanged(connection: sqlite3.Connection, chance: random.Random) -> str | None:
    """Two people are given each other's names."""
    rows = connection.execute("SELECT person_id, name FROM person_private WHERE name IS NOT NULL").fetchall()
    (one, name), (two, other) = chance.sample(rows, 2)
    for key, said in ((one, other), (two, name)):
        connection.execute("UPDATE person_private SET name = ? WHERE person_id = ?", (said, key))
    return f"names of {one} and {two}"


def pin_changed(connection: sqlite3.Connection, chance: random.Random) -> str | None:
    """The hash of a PIN is another."""
    rows = connection.execute("SELECT * FROM person_pin")
    column = next(each[0] for each in rows.description if "hash" in each[0])
    key = chance.choice(connection.execute("SELECT person_id FROM person_pin").fetchall())[0]
    connection.execute(f"UPDATE person_pin SET {column} = {column} || 'x' WHERE person_id = ?", (key,))
    return f"PIN of {key}"


def revision_changed(connection: sqlite3.Connection, chance: random.Random) -> str | None:
    """The file says that it is of another revision."""
    connection.execute("UPDATE alembic_version SET version_num = ?", (f"{chance.randrange(30, 9999):04d}",))
    return "revision"


IN_TABLES: dict[str, Tamper] = {
    "a byte of a value": one_byte,
    "a value taken away": emptied,
    "a value filled in": filled_in,
    "a row dropped": row_gone,
    "a row copied": row_twice,
    "rows exchanged": rows_exchanged,
    "a journal entry changed": entry_changed,
    "a journal entry dropped": entry_gone,
    "journal entries exchanged": entries_exchanged,
    "the last entry dropped": last_entry_gone,
    "a planted trigger": _schema('CREATE TRIGGER planted AFTER INSERT ON "{table}" BEGIN SELECT 1; END'),
    "a planted view": _schema('CREATE VIEW planted AS SELECT * FROM "{table}"'),
    "a planted table": _schema('CREATE TABLE planted AS SELECT * FROM "{table}"'),
    "a planted column": _schema('ALTER TABLE "{table}" ADD COLUMN planted'),
    "a dropped index": index_gone,
    "a check written away": check_loosened,
    "names exchanged": names_exchanged,
    "a PIN changed": pin_changed,
    "another revision": revision_changed,
}
LATEST = "the last act undone whole"
"""What no chain can show by itself: it is found by a head that was printed or kept elsewhere."""


def tamperings(places: Places, tries: int, seed: int) -> list[Outcome]:
    """So many tamperings, shared out among the kinds."""
    room = places.room()
    whole = whole_file(room / "whole.db")
    with closing(Database(room / "whole.db")) as database:
        head = journal_head(database)
    each = max(1, tries // (len(IN_TABLES) + 1))
    found = [_tampered(room, whole, name, each, random.Random(f"{seed} {name}")) for name in IN_TABLES]
    return [*found, _undone(room, whole, head)]


def _tampered(room: Path, whole: bytes, name: str, tries: int, chance: random.Random) -> Outcome:
    outcome = Outcome(f"tampering: {name}", "written into the file by another program")
    begun = time.monotonic()
    while outcome.tries < tries:
        path = room / "tampered.db"
        path.write_bytes(whole)
        with closing(sqlite3.connect(path, isolation_level=None)) as connection:
            connection.execute("PRAGMA ignore_check_constraints = ON")
            connection.execute("PRAGMA foreign_keys = OFF")
            said = IN_TABLES[name](connection, chance)
        if said is not None:
            outcome.tries += 1
            outcome.hold(_is_found(path), f"not found: {said}")
        for left in room.glob("tampered.db*"):
            left.unlink()
    outcome.seconds = time.monotonic() - begun
    return outcome


def _is_found(path: Path, head: str | None = None) -> bool:
    try:
        with closing(Database(path)) as database:
            return verify(database, head).first_break is not None
    except Refused:
        return True


def _undone(room: Path, whole: bytes, head: str) -> Outcome:
    """An earlier copy in the place of a later one fits together; the head that was kept of the later one tells."""
    outcome = Outcome(
        f"tampering: {LATEST}", "an earlier copy put in the place of the file; NOT to be found without --head"
    )
    earlier = Path(shutil.copy(room / "whole.db", room / "earlier.db"))
    earlier.write_bytes(whole)
    number, _, digest = head.partition(":")
    outcome.tries = 1
    outcome.hold(_is_found(earlier, f"{int(number) + 1}:{digest}"), "an earlier copy was not told by a later head")
    outcome.hear("the head that was printed names an entry that is no longer there")
    return outcome
