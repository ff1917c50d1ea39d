"""Tampers with single bytes and single rows and sees that verify finds each: `python -m tests.fuzz_tampering [TIMES]`.

A thousand times by default; the suite runs sixty. Only how often a PIN was entered wrongly is in no journal: left out.
"""

import random
import sqlite3
import sys
import tempfile
from collections.abc import Callable
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

from PIL import Image

from fleetbench.records.core.database import Database
from fleetbench.records.tickets.photographs import FOLDER
from fleetbench.records.upkeep.migrate import open_database
from fleetbench.records.upkeep.verify import verify
from fleetbench.workshop.bench.tests import record_test
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.parts.fit import fit_part
from fleetbench.workshop.people.acts import enter_person, see_paper
from fleetbench.workshop.tickets.page import add_minutes, correct_minutes, last_entry_to_correct, start_work
from fleetbench.workshop.tickets.photographs import add_photograph
from fleetbench.workshop.tickets.work import SecondPerson, add_finding, open_ticket, sign_ticket
from fleetbench.workshop.units.holds import note_near_miss
from tests.centres.bench_centre import write_centre
from tests.centres.pins import give_pin

TIMES, SEED = 1000, 20260504
NOW = datetime(2026, 5, 4, 7, 30, tzinfo=UTC)
UNCHECKED = {("person_pin", "tries"), ("person_pin", "last_wrong")}
Value = int | float | str | bytes | None
Tamper = Callable[[sqlite3.Connection, random.Random], str | None]
"""Changes one thing and tells what, or None where the database itself would not have it."""


def write_history(database: Database) -> None:
    """A small centre in which a ticket was worked on and signed, and another was left open."""
    keys = write_centre(database, NOW)
    workplace = Workplace(database, lambda: NOW).as_person(keys.technician)
    ticket = open_ticket(workplace, "LK-01", cause="failed test", reason="Inhale valve leaks", tasks=("Replace it",))
    fit_part(workplace, "C-NEW", "LK-01", "cell 1", why_old="age", ticket_id=ticket)
    add_finding(workplace, ticket, "Ångström’s note: sealing face nicked")
    record_test(workplace, "LK-01", "loop negative", held=True, watched_minutes=3, ticket_id=ticket)
    for reason in ("Look it over", "Battery door is stiff"):
        other = open_ticket(workplace, "LK-02", cause="by hand", reason=reason)
        add_finding(workplace, other, "Nothing found")
    add_minutes(workplace, ticket, 25)
    slip = last_entry_to_correct(workplace, ticket)
    correct_minutes(workplace, slip.key if slip is not None else 0, 52)
    start_work(workplace, ticket)
    picture = (database.path or Path()).parent / "seen.png"
    Image.new("RGB", (24, 16), "grey").save(picture)
    add_photograph(workplace, ticket, picture, "Nick in the sealing face")
    renter = enter_person(workplace, "R-7", "renter", "Zoë Ångström")
    see_paper(workplace, renter, "medical", unit_type=None, seen_on=NOW.date(), valid_until=None)
    note_near_miss(workplace, "LK-02", "Oxygen valve found shut on the surface")
    for person, pin in ((keys.technician, "4711"), (keys.manager, "2468")):
        give_pin(workplace, person, pin)
    sign_ticket(workplace, other, signer_id=keys.technician, pin="4711", second=SecondPerson(keys.manager, "2468"))


def tables(connection: sqlite3.Connection) -> list[str]:
    """Every table with rows that the journal answers for."""
    names = [name for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
    kept = [name for name in names if name != "alembic_version"]
    return sorted(name for name in kept if connection.execute(f'SELECT 1 FROM "{name}" LIMIT 1').fetchone())


def one_byte(connection: sqlite3.Connection, chance: random.Random) -> str | None:
    """Turns one bit of one byte of one stored value, a number in its written form."""
    table, key, column, value = _some_value(connection, chance)
    said = value if isinstance(value, bytes) else str(value).encode()
    if value is None or not said:
        return None
    place = chance.randrange(len(said))
    turned = said[:place] + bytes([said[place] ^ (1 << chance.randrange(8))]) + said[place + 1 :]
    kind = {int: "NUMERIC", float: "NUMERIC", str: "TEXT"}.get(type(value), "BLOB")
    return _put(connection, table, key, column, value, f"CAST(? AS {kind})", turned)


def emptied(connection: sqlite3.Connection, chance: random.Random) -> str | None:
    """Takes one value away."""
    table, key, column, value = _some_value(connection, chance)
    return None if value is None else _put(connection, table, key, column, value, "?", None)


def filled_in(connection: sqlite3.Connection, chance: random.Random) -> str | None:
    """Puts a value where none was."""
    table, key, column, value = _some_value(connection, chance)
    new = chance.choice((0, 1, "x", "2026-01-01"))
    return _put(connection, table, key, column, value, "?", new) if value is None else None


def row_gone(connection: sqlite3.Connection, chance: random.Random) -> str | None:
    """Drops a row."""
    table = chance.choice(tables(connection))
    (key,) = chance.choice(connection.execute(f'SELECT id FROM "{table}"').fetchall())
    connection.execute(f'DELETE FROM "{table}" WHERE id = ?', (key,))
    return f"{table} {key} dropped"


def row_twice(connection: sqlite3.Connection, chance: random.Random) -> str | None:
    """Copies a row under a new key."""
    table = chance.choice(tables(connection))
    rows = connection.execute(f'SELECT * FROM "{table}"')
    names = [each[0] for each in rows.description]
    row = list(chance.choice(rows.fetchall()))
    row[names.index("id")] = connection.execute(f'SELECT max(id) + 1 FROM "{table}"').fetchone()[0]
    marks = ", ".join("?" * len(row))
    done = connection.execute(f'INSERT OR IGNORE INTO "{table}" VALUES ({marks})', row)
    return f"{table} copied" if done.rowcount else None


def rows_exchanged(connection: sqlite3.Connection, chance: random.Random) -> str | None:
    """Gives one row the key of another and the other way round."""
    table = chance.choice(tables(connection))
    keys = [key for (key,) in connection.execute(f'SELECT id FROM "{table}"')]
    if len(keys) < 2:
        return None
    one, two = chance.sample(keys, 2)
    for was, becomes in ((one, -1), (two, one), (-1, two)):
        connection.execute(f'UPDATE "{table}" SET id = ? WHERE id = ?', (becomes, was))
    return f"{table} {one} and {two} exchanged"


TAMPERS: tuple[Tamper, ...] = (one_byte, one_byte, one_byte, emptied, filled_in, row_gone, row_twice, rows_exchanged)


def tamper(folder: Path, times: int, seed: int = SEED) -> list[str]:
    """What was tampered with and not found, of so many tamperings, each with a fresh copy of the same file."""
    chance = random.Random(seed)
    whole = whole_file(folder / "whole.db")
    unseen: list[str] = []
    done = 0
    while done < times:
        path = folder / f"tampered{done}.db"
        path.write_bytes(whole)
        with closing(sqlite3.connect(path, isolation_level=None)) as connection:
            connection.execute("PRAGMA ignore_check_constraints = ON")
            connection.execute("PRAGMA foreign_keys = OFF")
            said = chance.choice(TAMPERS)(connection, chance)
        if said is None:
            continue
        done += 1
        if first_break(path) is None:
            unseen.append(said)
        for left in folder.glob(f"{path.name}*"):
            left.unlink()
    unseen += changed_pictures(folder, whole)
    path = folder / "untouched.db"
    path.write_bytes(whole)
    return [*unseen, *(["an untouched copy was found broken"] if first_break(path) else [])]


def changed_pictures(folder: Path, whole: bytes) -> list[str]:
    """What was done to the file of a photograph and not found: one bit turned, the file cut short, the file gone."""
    (picture,) = (folder / FOLDER).glob("*.jpg")
    kept, unseen = picture.read_bytes(), []
    path = folder / "pictures.db"
    path.write_bytes(whole)
    for what, data in (("a bit turned", bytes([kept[0] ^ 1]) + kept[1:]), ("cut short", kept[:-1]), ("gone", None)):
        picture.unlink()
        if data is not None:
            picture.write_bytes(data)
        if first_break(path) is None:
            unseen.append(f"photograph {what}")
        picture.write_bytes(kept)
    return unseen


def first_break(path: Path) -> str | None:
    """What verify finds in the file."""
    database = Database(path)
    try:
        return verify(database).first_break
    finally:
        database.close()


def whole_file(path: Path) -> bytes:
    """The bytes of a sound file with a history in it, in one piece."""
    database = open_database(path)
    write_history(database)
    said = verify(database).first_break
    database.close()
    if said is not None:
        raise AssertionError(f"broken before anything was changed: {said}")
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        connection.execute("PRAGMA journal_mode = DELETE")
        connection.execute("PRAGMA synchronous = OFF")
    return path.read_bytes()


def _some_value(connection: sqlite3.Connection, chance: random.Random) -> tuple[str, int, str, Value]:
    table = chance.choice(tables(connection))
    rows = connection.execute(f'SELECT * FROM "{table}"')
    names = [each[0] for each in rows.description]
    row = chance.choice(rows.fetchall())
    columns = [name for name in names if name != "id" and (table, name) not in UNCHECKED]
    column = chance.choice(columns)
    return table, row[names.index("id")], column, row[names.index(column)]


def _put(
    connection: sqlite3.Connection, table: str, key: int, column: str, value: Value, how: str, new: Value
) -> str | None:
    connection.execute(f'UPDATE OR IGNORE "{table}" SET "{column}" = {how} WHERE id = ?', (new, key))
    query = f'SELECT CAST("{column}" AS BLOB), typeof("{column}") FROM "{table}" WHERE id = ?'
    now = connection.execute(query, (key,)).fetchone()
    was = connection.execute("SELECT CAST(? AS BLOB), typeof(?)", (value, value)).fetchone()
    return None if now == was else f"{table} {key} {column}: {value!r} became {now!r}"


def main() -> int:
    """Tampers as often as asked and prints what was not found; 0 where all was."""
    times = int(sys.argv[1]) if len(sys.argv) > 1 else TIMES
    with tempfile.TemporaryDirectory() as folder:
        unseen = tamper(Path(folder), times)
    print(f"{times} tamperings, {len(unseen)} not found")
    print("\n".join(unseen))
    return 1 if unseen else 0


if __name__ == "__main__":
    sys.exit(main())
