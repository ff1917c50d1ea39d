"""Tampers with single bytes and single rows and sees that verify finds each: `python -m tests.fuzz_tampering [TIMES]`.

A thousand times by default; the suite runs forty. Only how often a PIN was entered wrongly is in no journal: left out.
"""

import os
import random
import sqlite3
import sys
import tempfile
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from datetime import UTC, datetime
from pathlib import Path

from PIL import Image

from fleetbench.records.core.database import Database
from fleetbench.records.core.errors import Refused
from fleetbench.records.tickets.photographs import ENVIRONMENT, FOLDER, photograph_folder
from fleetbench.records.upkeep.migrate import open_database
from fleetbench.records.upkeep.verify import UNREADABLE, verify, verify_on
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
from tests.conftest import Server
from tests.faults.stranger import REFUSED, Stranger, Value

TIMES, SEED = 1000, 20260504
NOW = datetime(2026, 5, 4, 7, 30, tzinfo=UTC)
UNCHECKED = {("person_pin", "tries"), ("person_pin", "last_wrong")}
Tamper = Callable[[Stranger, random.Random], str | None]
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
    picture = photograph_folder(database.path).parent / "seen.png"
    Image.new("RGB", (24, 16), "grey").save(picture)
    add_photograph(workplace, ticket, picture, "Nick in the sealing face")
    renter = enter_person(workplace, "R-7", "renter", "Zoë Ångström")
    see_paper(workplace, renter, "medical", unit_type=None, seen_on=NOW.date(), valid_until=None)
    note_near_miss(workplace, "LK-02", "Oxygen valve found shut on the surface")
    for person, pin in ((keys.technician, "4711"), (keys.manager, "2468")):
        give_pin(workplace, person, pin)
    sign_ticket(workplace, other, signer_id=keys.technician, pin="4711", second=SecondPerson(keys.manager, "2468"))


def one_byte(stranger: Stranger, chance: random.Random) -> str | None:
    """Turns one bit of one byte of one stored value, a number in its written form."""
    table, key, column, value = _some_value(stranger, chance)
    return turned(stranger, chance, (table, key, column), value)


def turned(stranger: Stranger, chance: random.Random, of: tuple[str, int, str], value: Value) -> str | None:
    """Turns one bit of the value of a table's row and column."""
    said = value if isinstance(value, bytes) and not stranger.server else str(value).encode()
    if stranger.server:
        said = stranger.stored(*of)[0] or b""
    if value is None or not said:
        return None
    place = chance.randrange(len(said))
    other = said[:place] + bytes([said[place] ^ (1 << chance.randrange(8))]) + said[place + 1 :]
    kind = {int: "NUMERIC", float: "NUMERIC", str: "TEXT"}.get(type(value), "BLOB")
    return _put(stranger, of, value, other, kind)


def emptied(stranger: Stranger, chance: random.Random) -> str | None:
    """Takes one value away."""
    *of, value = _some_value(stranger, chance)
    return None if value is None else _put(stranger, (of[0], of[1], of[2]), value, None)


def filled_in(stranger: Stranger, chance: random.Random) -> str | None:
    """Puts a value where none was."""
    *of, value = _some_value(stranger, chance)
    new = chance.choice((0, 1, "x", "2026-01-01"))
    return _put(stranger, (of[0], of[1], of[2]), value, new) if value is None else None


def row_gone(stranger: Stranger, chance: random.Random) -> str | None:
    """Drops a row."""
    table = chance.choice(stranger.tables())
    key = chance.choice(stranger.keys(table))
    stranger.does(f'DELETE FROM "{table}" WHERE id = ?', key)
    return f"{table} {key} dropped"


def row_twice(stranger: Stranger, chance: random.Random) -> str | None:
    """Copies a row under a new key."""
    table = chance.choice(stranger.tables())
    keys = stranger.keys(table)
    row = stranger.row(table, chance.choice(keys)) | {"id": max(keys) + 1}
    names, marks = ", ".join(f'"{name}"' for name in row), ", ".join("?" * len(row))
    stranger.does(f'INSERT INTO "{table}" ({names}) VALUES ({marks})', *row.values())
    return f"{table} copied"


def rows_exchanged(stranger: Stranger, chance: random.Random) -> str | None:
    """Gives one row the key of another and the other way round."""
    table = chance.choice(stranger.tables())
    keys = stranger.keys(table)
    if len(keys) < 2:
        return None
    one, two = chance.sample(keys, 2)
    for was, becomes in ((one, -1), (two, one), (-1, two)):
        stranger.does(f'UPDATE "{table}" SET id = ? WHERE id = ?', becomes, was)
    return f"{table} {one} and {two} exchanged"


TAMPERS: tuple[Tamper, ...] = (one_byte, one_byte, one_byte, emptied, filled_in, row_gone, row_twice, rows_exchanged)


def tamper(folder: Path, times: int, seed: int = SEED, server: Server | None = None) -> list[str]:
    """What was tampered with and not found, of so many tamperings, each of the same sound database."""
    chance = random.Random(seed)
    with Copies(folder, server) as copies:
        unseen, done = list[str](), 0
        while done < times:
            said, found = copies.tampered(chance.choice(TAMPERS), chance)
            done += said is not None
            if said is not None and not found:
                unseen.append(said)
        with copies.fresh() as where:
            unseen += changed_pictures(where, copies.pictures)
            return [*unseen, *(["an untouched copy was found broken"] if first_break(where) else [])]


class Copies:
    """A sound database with a history in it, a file or on a server, and fresh copies of it.

    While it is entered, every desk of a server reaches the folder of its photographs.
    """

    def __init__(self, folder: Path, server: Server | None = None) -> None:
        self._folder, self._server = folder, server
        self.pictures = folder / FOLDER
        self._before = os.environ.get(ENVIRONMENT)
        self._opened: Database | None = None

    def __enter__(self) -> "Copies":
        server = self._server
        if server is None:
            self.whole = str(self._folder / "whole.db")
        else:
            os.environ[ENVIRONMENT] = str(self.pictures)
            server.drop("whole")
            self.whole = server.fresh("whole")
        with closing(open_database(self.whole)) as database:
            write_history(database)
            said = verify(database)
            if said.first_break is not None:
                raise AssertionError(f"broken before anything was changed: {said.first_break}")
            self.head = f"{said.head_number}:{said.head_hash}"
        if server is None:
            with closing(sqlite3.connect(self.whole, isolation_level=None)) as connection:
                connection.execute("PRAGMA journal_mode = DELETE")
            self._bytes = Path(self.whole).read_bytes()
        else:
            self._opened = Database(self.whole)
        return self

    def __exit__(self, *_fault: object) -> None:
        if self._opened is not None:
            self._opened.close()
            os.environ.pop(ENVIRONMENT, None)
            os.environ.update({ENVIRONMENT: self._before} if self._before is not None else {})

    def tampered(self, tamper: Tamper, chance: random.Random) -> tuple[str | None, bool]:
        """What was changed, None where the database would not have it or nothing came of it; whether it is found.

        On a server it is looked at within the stranger's own transaction, which is then taken back: a fresh database
        for each costs three times as much and holds the same.
        """
        if self._server is None:
            with self.fresh() as where:
                with closing(Stranger(where)) as stranger:
                    said = _done(tamper, stranger, chance)
                return said, said is not None and is_found(where)
        assert self._opened is not None
        with self._opened.reading() as connection:
            said = _done(tamper, Stranger(self.whole, connection.connection.driver_connection), chance)
            try:
                return said, said is not None and not verify_on(self._opened, connection).whole
            except UNREADABLE:
                return said, True

    @contextmanager
    def fresh(self) -> Iterator[str]:
        """The file or address of a copy, gone afterwards."""
        if self._server is not None:
            if self._opened is not None:
                self._opened.engine.dispose()  # what somebody is in cannot be copied
            self._server.drop("tampered")
            yield self._server.fresh("tampered", "whole")
            self._server.drop("tampered")
            return
        path = self._folder / "tampered.db"
        path.write_bytes(self._bytes)
        yield str(path)
        for left in self._folder.glob("tampered.db*"):
            left.unlink()


def _done(tamper: Tamper, stranger: Stranger, chance: random.Random) -> str | None:
    try:
        return tamper(stranger, chance)
    except REFUSED:
        return None


def is_found(where: str, head: str | None = None) -> bool:
    """Whether verify finds anything, or the database cannot be opened any more."""
    try:
        with closing(Database(where)) as database:
            return verify(database, head).first_break is not None
    except Refused:
        return True


def changed_pictures(where: str, folder: Path) -> list[str]:
    """What was done to the file of a photograph and not found: one bit turned, the file cut short, the file gone."""
    (picture,) = folder.glob("*.jpg")
    kept, unseen = picture.read_bytes(), []
    for what, data in (("a bit turned", bytes([kept[0] ^ 1]) + kept[1:]), ("cut short", kept[:-1]), ("gone", None)):
        picture.unlink()
        if data is not None:
            picture.write_bytes(data)
        if first_break(where) is None:
            unseen.append(f"photograph {what}")
        picture.write_bytes(kept)
    return unseen


def first_break(where: str) -> str | None:
    """What verify finds in the database."""
    with closing(Database(where)) as database:
        return verify(database).first_break


def _some_value(stranger: Stranger, chance: random.Random) -> tuple[str, int, str, Value]:
    table = chance.choice(stranger.tables())
    key = chance.choice(stranger.keys(table))
    row = stranger.row(table, key)
    column = chance.choice([name for name in row if name != "id" and (table, name) not in UNCHECKED])
    return table, key, column, row[column]


def _put(stranger: Stranger, of: tuple[str, int, str], was: Value, new: Value, kind: str = "") -> str | None:
    said = f"{' '.join(map(str, of))}: {was!r} became {new!r}"
    return said if stranger.puts(*of, new, as_kind=kind) else None


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
