"""Whether the journal is one unbroken chain, every row and photograph is what it says, and rules are kept.

What no chain can show: that the last entries were dropped, or a chain was calculated again from some entry on (compare
the head that was printed on a ticket or a backup); changed names, contacts, words about renters and counts of wrong
PINs, which stay outside the journal so that they can be erased; and that an act told an untruth when it was done.
"""

import json
import re
import sqlite3
from collections.abc import Callable, Generator, Iterator
from contextlib import closing
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from typing import Any

from sqlalchemy import Boolean, Column, Connection, Date, Integer, Table, select
from sqlalchemy.exc import SQLAlchemyError

from fleetbench.records.core.act import CLOCK_ACT
from fleetbench.records.core.database import Database
from fleetbench.records.core.errors import Refused
from fleetbench.records.core.journal import FIRST_PREVIOUS, Journal, entry_hash
from fleetbench.records.core.schema import Figure, Moment
from fleetbench.records.hires.tables import SheetSignature, SignatureDrawing
from fleetbench.records.people.tables import digest_of, exchanged_pin
from fleetbench.records.tickets.photographs import broken_photograph
from fleetbench.records.upkeep.planted import planted
from fleetbench.records.upkeep.tables import broken_rules, metadata

Read = Callable[[Any], Any]
"""From a value as the journal writes it to the same value as the driver gives it."""

State = dict[str, dict[int, list[Any]]]
"""What the journal says every row holds: table, key, values in the order of the columns."""

STEP = 2000
MOST_LISTED = 500
SAFE_DIGITS = 16
"""Digits of a printed head that cannot be met by trial: 64 bits."""

CONTENT = frozenset(("rows", "clock", "why"))
"""What an entry's content may hold: the rows, and what the clock said where it was behind the last entry."""
HEAD = re.compile(r"(?:(?P<number>\d+)[:# ,]+)?(?P<hash>[0-9a-f]{8,64})")


class _BreakError(Exception):
    """A break of the chain or the records, in words."""


@dataclass(frozen=True, slots=True)
class VerifyReport:
    """How many entries were walked, the last one, every break found, and what is no break but worth knowing."""

    entries: int
    head_number: int
    head_hash: str | None
    breaks: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()

    @property
    def first_break(self) -> str | None:
        """The first break, None where nothing was found."""
        return self.breaks[0] if self.breaks else None

    @property
    def told(self) -> str:
        """The first break, with how many there are; empty where nothing was found."""
        return f"{self.breaks[0]} (1 of {len(self.breaks)} breaks)" if len(self.breaks) > 1 else "".join(self.breaks)

    @property
    def whole(self) -> bool:
        """Whether nothing was found."""
        return not self.breaks


@dataclass(slots=True)
class _Walk:
    """How far the chain was followed, and what was found on the way."""

    number: int = 0
    digest: str = FIRST_PREVIOUS
    at: datetime | None = None
    wanted: tuple[int | None, str] | None = None
    met: bool = False
    breaks: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

    def meet(self, number: int, at: datetime, act: str, digest: str) -> None:
        """Go on to an entry; a break where it has the printed head's number and another hash."""
        if self.wanted is not None and digest.startswith(self.wanted[1]) and self.wanted[0] in (None, number):
            self.met = True
        elif self.wanted is not None and self.wanted[0] == number:
            printed = self.wanted[1][:12]
            self.breaks.append(f"entry {number}: its hash is not the printed {printed}; the chain was made anew")
            self.met = True
        if self.at is not None and at < self.at and act != CLOCK_ACT:
            back = f"{at:%Y-%m-%d %H:%M} follows {self.at:%Y-%m-%d %H:%M} UTC"
            self.notes.append(f"entry {number}: a clock was set back ({back}); the order of the entries is whole")
        self.number, self.digest, self.at = number, digest, at

    def settle(self) -> None:
        """A break where the printed head was not met."""
        if self.wanted is not None and not self.met:
            printed = self.wanted[1][:12]
            self.breaks.append(f"the printed head {printed} is not in the journal: entries were dropped or made anew")


def verify(database: Database, head: str | None = None) -> VerifyReport:
    """Everything that the walk over the chain, the replay against every row and the referential rules found.

    head: number and hash as printed, `1234:0f3a…`, or the hash alone, with at least 8 of its digits; the chain must
    hold that entry. A head that cannot be read raises Refused.
    """
    walk = _Walk(wanted=_parse_head(head))
    if walk.wanted is not None and len(walk.wanted[1]) < SAFE_DIGITS:
        walk.notes.append(
            f"the head was given with {len(walk.wanted[1])} digits, which trial can meet in hours;"
            f" give {SAFE_DIGITS} digits or more"
        )
    try:
        with database.reading() as connection:
            _look_at_everything(connection, database, walk)
    except (Refused, SQLAlchemyError, sqlite3.Error, UnicodeDecodeError, ValueError) as fault:
        walk.breaks.append(_unreadable(walk, fault))
    return VerifyReport(
        walk.number, walk.number, walk.digest if walk.number else None, _listed(walk.breaks), _listed(walk.notes)
    )


def _unreadable(walk: _Walk, fault: Exception) -> str:
    return f"after entry {walk.number}: the database cannot be read on ({str(fault).splitlines()[0]})"


def _listed(found: list[str]) -> tuple[str, ...]:
    """What was found, each thing once, and how many more there are after the first few hundred."""
    once = list(dict.fromkeys(found))
    return (*once[:MOST_LISTED], *([f"and {len(once) - MOST_LISTED} more"] if len(once) > MOST_LISTED else []))


def journal_head(database: Database) -> str | None:
    """Number and hash of the last entry as they are printed and as `--head` reads them; None where there is none."""
    with database.reading() as connection:
        number, digest = head_of(connection)
    return f"{number}:{digest}" if digest is not None else None


def journal_end(database: Database) -> tuple[int, str | None]:
    """Number and hash of the last entry; nought and None where there is none."""
    with database.reading() as connection:
        return head_of(connection)


def head_of(connection: Connection) -> tuple[int, str | None]:
    """Number and hash of the last entry inside a transaction; nought and None where there is none."""
    head = connection.execute(select(Journal.id, Journal.hash).order_by(Journal.id.desc()).limit(1)).first()
    return (head.id, head.hash) if head is not None else (0, None)


def _look_at_everything(connection: Connection, database: Database, walk: _Walk) -> None:
    if database.is_sqlite and (said := connection.exec_driver_sql("PRAGMA integrity_check(1)").scalar()) != "ok":
        walk.breaks.append(f"the file is torn: {str(said).splitlines()[0]}; restore a backup")
    state = _replay(connection, database.is_sqlite, walk)
    walk.settle()
    for table in _kept_tables():
        _ask(walk, _compare, connection, table, state[table.name])
    for look in (_orphans, _exchanged, _exchanged_drawings, broken_rules, broken_photographs_of(database), planted):
        _ask(walk, look, connection)


def _ask(walk: _Walk, look: Callable[..., Iterator[str]], connection: Connection, *about: Any) -> None:
    """Note what a look finds; one that cannot be read on is a break and keeps no other from being looked at."""
    try:
        with connection.begin_nested():
            walk.breaks.extend(look(connection, *about))
    except (SQLAlchemyError, sqlite3.Error, UnicodeDecodeError, ValueError) as fault:
        walk.breaks.append(_unreadable(walk, fault))


def _exchanged(connection: Connection) -> Iterator[str]:
    if (person := exchanged_pin(connection)) is not None:
        yield f"person_pin of person {person}: is not the one that the journal's digest speaks of"


def _exchanged_drawings(connection: Connection) -> Iterator[str]:
    drawn = select(SheetSignature.id, SheetSignature.digest, SignatureDrawing.strokes)
    query = drawn.join(SignatureDrawing, SignatureDrawing.sheet_signature_id == SheetSignature.id)
    for key, digest, strokes in connection.execute(query.order_by(SheetSignature.id)):
        if digest != digest_of(strokes):
            yield f"signature_drawing of sheet_signature {key}: is not the one that the journal's digest speaks of"


def broken_photographs_of(database: Database) -> Callable[[Connection], Iterator[str]]:
    """The look that finds photographs beside a database that are not what they say."""

    def look(connection: Connection) -> Iterator[str]:
        if (said := broken_photograph(connection, database.path)) is not None:
            yield said

    return look


def _parse_head(head: str | None) -> tuple[int | None, str] | None:
    if head is None:
        return None
    match = HEAD.fullmatch(head.strip().lower())
    if match is None:
        said = "write the number and 16 digits of the hash as printed, for instance 1234:0f3a9c77d2b1e860"
        raise Refused(f"head: {said}")
    return int(match["number"]) if match["number"] else None, match["hash"]


def _entries(connection: Connection) -> Generator[list[Any], None, None]:
    """Journal rows in order of their number, raw from the driver, a few thousand at a time."""
    columns = ", ".join(f'"{column.name}"' for column in Journal.__table__.columns)
    query = f"SELECT {columns} FROM journal ORDER BY id"
    with connection.exec_driver_sql(query, execution_options={"yield_per": STEP}) as result:
        for row in result:
            yield list(row)


def _moment_of_sqlite(value: Any, number: Any) -> datetime:
    try:
        moment = datetime.strptime(value, "%Y-%m-%d %H:%M:%S.%f").replace(tzinfo=UTC)
    except (TypeError, ValueError) as fault:
        raise _BreakError(f"entry {number}: its time {value!r} is not a moment") from fault
    return moment


def _replay(connection: Connection, is_sqlite: bool, walk: _Walk) -> State:
    readers = {table.name: _readers(table, is_sqlite) for table in _kept_tables()}
    state: State = {name: {} for name in readers}
    with closing(_entries(connection)) as entries:
        for entry in entries:
            try:
                _follow(entry, is_sqlite, walk)
                _take_in(entry[0], entry[5], readers, state)
            except (_BreakError, ValueError, TypeError, KeyError) as found:
                said = str(found) if isinstance(found, _BreakError) else f"entry {entry[0]}: cannot be read ({found})"
                walk.breaks.append(said)
    return state


def _follow(entry: list[Any], is_sqlite: bool, walk: _Walk) -> None:
    """Hold one entry against the one before; a broken one is followed all the same."""
    number, at, person_id, act, subject, content, previous, digest = entry
    if number != walk.number + 1:
        walk.breaks.append(f"entry {walk.number + 1} is missing: the next one is {number}")
    elif previous != walk.digest:
        walk.breaks.append(f"entry {number}: it does not carry the hash of entry {walk.number} before it")
    moment = _moment_of_sqlite(at, number) if is_sqlite else at
    if entry_hash(number, moment, person_id, act, subject, content, previous) != digest:
        walk.breaks.append(f"entry {number} ({act}, {subject}): its content does not give its hash")
    walk.meet(number, moment, act, digest)
    _note_keys(number, json.loads(content), walk)


def _note_keys(number: int, content: dict[str, Any], walk: _Walk) -> None:
    strange = sorted(content.keys() - CONTENT)
    if strange:
        walk.breaks.append(f"entry {number}: holds {strange[0]!r}, which no act writes")
    if "clock" in content:
        said = str(content["clock"])[:19].replace("T", " ")
        walk.notes.append(f"entry {number}: the clock said {said} UTC, before the last entry; it counts after it")


def _take_in(number: int, content: str, readers: dict[str, dict[str, tuple[int, Read]]], state: State) -> None:
    for name, key, values in json.loads(content)["rows"]:
        columns = readers.get(name)
        if columns is None:
            raise _BreakError(f"entry {number}: it speaks of the table {name}, which is not known")
        row = state[name].get(key)
        if row is None:
            row = state[name][key] = [None] * len(columns)
        for column, value in values.items():
            if column in columns:
                place, read = columns[column]
                row[place] = None if value is None else read(value)


def _kept_tables() -> list[Table]:
    """Every table whose rows the journal holds: all but itself and the erasable ones."""
    return [
        table
        for table in metadata.sorted_tables
        if not table.info.get("erasable") and table.name != Journal.__tablename__
    ]


def _readers(table: Table, is_sqlite: bool) -> dict[str, tuple[int, Read]]:
    return {column.name: (place, _reader(column, is_sqlite)) for place, column in enumerate(_columns(table))}


def _columns(table: Table) -> list[Column[Any]]:
    return [column for column in table.columns if column.name != "id"]


def _reader(column: Column[Any], is_sqlite: bool) -> Read:
    if isinstance(column.type, Moment):
        return _sqlite_moment if is_sqlite else datetime.fromisoformat
    if isinstance(column.type, Figure):
        return float
    if isinstance(column.type, Boolean):
        return int if is_sqlite else bool
    if isinstance(column.type, Date):
        return str if is_sqlite else date.fromisoformat
    return int if isinstance(column.type, Integer) else str


def _sqlite_moment(value: str) -> str:
    return f"{value[:10]} {value[11:26]}"


def _compare(connection: Connection, table: Table, recorded: dict[int, list[Any]]) -> Iterator[str]:
    """Hold every row, raw as the driver gives it, against the journal; what is left over is missing."""
    columns = _columns(table)
    listed = ", ".join(f'"{name}"' for name in ["id", *(column.name for column in columns)])
    query = f'SELECT {listed} FROM "{table.name}" ORDER BY id'
    present: set[int] = set()
    with connection.exec_driver_sql(query, execution_options={"yield_per": STEP}) as result:
        for key, *values in result:
            expected = recorded.get(key)
            present.add(key)
            if expected is None:
                yield f"{table.name} row {key}: no journal entry made it"
            elif values != expected or list(map(type, values)) != list(map(type, expected)):
                yield from _differences(table.name, key, columns, values, expected)
    for key in sorted(set(recorded) - present):
        yield f"{table.name} row {key}: the journal holds it, the table does not"


def _differences(
    name: str, key: int, columns: list[Column[Any]], values: list[Any], expected: list[Any]
) -> Iterator[str]:
    for column, value, said in zip(columns, values, expected, strict=True):
        if value != said or type(value) is not type(said):
            yield f"{name} row {key}: {column.name} is {value!r}, the journal says {said!r}"


def _orphans(connection: Connection) -> Iterator[str]:
    """Every foreign key, erasable tables too, points at a row; one query a key."""
    for table in metadata.sorted_tables:
        for key in sorted(table.foreign_keys, key=lambda each: each.parent.name):
            parent = key.column.table.alias()
            missing = (
                select(table.c.id, key.parent)
                .select_from(table.outerjoin(parent, key.parent == parent.c[key.column.name]))
                .where(key.parent.is_not(None), parent.c[key.column.name].is_(None))
                .order_by(table.c.id)
            )
            for row, lost in connection.execute(missing).all():
                yield f"{table.name} row {row}: {key.parent.name} {lost} is not in {key.column.table.name}"
