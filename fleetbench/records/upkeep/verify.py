"""Whether the journal is one unbroken chain, every row and photograph is what it says, and rules are kept.

Names, contacts, notes, PINs and drawn signatures stand outside the journal, so that they can be erased; an entry binds
each by a salted digest, and an erasure leaves the entry that says so. What no chain can show stands in `NOT_SHOWN`.
"""

import json
import re
import sqlite3
from collections import Counter
from collections.abc import Callable, Generator, Iterator
from contextlib import closing, suppress
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from typing import Any

from sqlalchemy import Boolean, Column, Connection, Date, Integer, Table, select
from sqlalchemy.exc import SQLAlchemyError

from fleetbench.records.core.database import Database
from fleetbench.records.core.errors import Refused
from fleetbench.records.core.journal import FIRST_PREVIOUS, Journal, bound_columns, commitment, entry_hash
from fleetbench.records.core.schema import Figure, Query, UtcTimestamp, built_once
from fleetbench.records.core.transaction import CARRIED_ACT, CLOCK_ACT, WITHOUT_ROWS
from fleetbench.records.hires.lookups import read_signed_pages
from fleetbench.records.hires.tables import SheetSignature, SignatureDrawing
from fleetbench.records.people.tables import digest_of, exchanged_pin
from fleetbench.records.tickets.photographs import PDF, broken_photograph, file_fault, photograph_folder
from fleetbench.records.upkeep.planted import planted
from fleetbench.records.upkeep.tables import broken_rules, metadata

Read = Callable[[Any], Any]
"""From a value as the journal writes it to the same value as the driver gives it."""

State = dict[str, dict[int, list[Any]]]
"""What the journal says every row holds: table, key, values in the order of the columns."""

Bound = dict[str, dict[int, tuple[int, str | None]]]
"""The entry and digest that bind every erasable row: table, key; no digest where that entry erased it."""

MOMENT = "%Y-%m-%d %H:%M:%S.%f"  # as a file holds it
STEP = 2000
MOST_LISTED = 500
SAFE_DIGITS = 16
"""Digits of a printed head that cannot be met by trial: 64 bits."""

CONTENT = frozenset(("rows", "bound", "clock", "why"))
"""What an entry may hold: rows, digests of erasable rows, what a clock said that was behind, and reasons."""

BINDS = "bind what can be erased"
"""The entry by which an upgrade binds the erasable rows that were written before it."""

NOT_SHOWN = (
    "that last entries were dropped, or all entries from one on were calculated again: compare a head kept elsewhere",
    "an entry added by this program or with its rules after the last head kept elsewhere",
    "that what was recorded was true when it was recorded, or that the user at the desk was who they said",
    "how often a PIN was entered wrongly, and names, notes, PINs and drawings before the entry that first binds them",
    "what stood in an erased record",
)
"""What no chain of entries can show."""

BOUND_FROM_HERE = "names, contacts, notes, PINs and drawings that were written before it are bound from here on"
OLDER = "the file is of an older revision, which binds no names, contacts, notes, PINs or drawings; an upgrade will"

COLUMNS_GONE = frozenset((("person", "pin_hash"),))
"""Columns of earlier revisions that entries still speak of."""
HEAD = re.compile(rf"(?:(?P<number>\d+)[:# ,]+)?(?P<hash>[0-9a-f]{{{SAFE_DIGITS},64}})")


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

    @property
    def lines(self) -> tuple[str, ...]:
        """The whole report, a line a finding, with what no chain can show."""
        counted = f"{self.entries} {'entry' if self.entries == 1 else 'entries'}"
        return (
            f"{counted}, head {self.head_number} {self.head_hash or 'empty'}",
            *self.breaks,
            *(f"note: {note}" for note in self.notes),
            *(f"not shown by any chain: {each}" for each in NOT_SHOWN),
        )


@dataclass(slots=True)
class _Walk:
    """How far the chain was followed, and what was found on the way."""

    number: int = 0
    digest: str = FIRST_PREVIOUS
    at: datetime | None = None
    of_copy: bool = False
    head: tuple[int, str | None] = (0, None)
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
            self.breaks.append(f"entry {number}: its hash is not the printed {printed}; the chain was made again")
            self.met = True
        if self.at is not None and at < self.at and act != CLOCK_ACT:
            back = f"{at:%Y-%m-%d %H:%M} follows {self.at:%Y-%m-%d %H:%M} UTC"
            self.notes.append(f"entry {number}: a clock was set back ({back}); the order of the entries is whole")
        self.number, self.digest, self.at = number, digest, at
        if not (self.of_copy and act == BINDS):  # that entry is the copy's own
            self.head = number, digest

    def settle(self) -> None:
        """A break where the printed head was not met."""
        if self.wanted is not None and not self.met:
            printed = self.wanted[1][:12]
            self.breaks.append(f"the printed head {printed} is not in the journal: entries were dropped or made again")


def verify(database: Database, head: str | None = None) -> VerifyReport:
    """Everything that the walk over the chain, the replay against every row and the referential rules found.

    head: number and hash as printed, `1234:0f3a…`, or the hash alone, with at least 16 of its digits, since fewer can
    be met by trial; the chain must hold that entry. A head that cannot be read raises Refused.
    """
    walk = _Walk(of_copy=database.is_copy, wanted=_parse_head(head))
    try:
        with database.reading() as connection:
            _look_at_everything(connection, database, walk)
    except UNREADABLE as fault:
        walk.breaks.append(_unreadable(walk, fault))
    return _reported(walk)


def verify_on(database: Database, connection: Connection, head: str | None = None) -> VerifyReport:
    """The same inside a transaction that has not ended; database: the one whose photographs it speaks of."""
    walk = _Walk(wanted=_parse_head(head))
    _look_at_everything(connection, database, walk)
    return _reported(walk)


UNREADABLE = (Refused, SQLAlchemyError, sqlite3.Error, UnicodeDecodeError, ValueError)


def _reported(walk: _Walk) -> VerifyReport:
    return VerifyReport(walk.head[0], *walk.head, _listed(walk.breaks), _listed(walk.notes))


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
    state, bound = _replay(connection, database.is_sqlite, walk)
    walk.settle()
    for table in _kept_tables():
        _ask(walk, _compare, connection, table, state[table.name])
    for table in _erasable_tables():
        _ask(walk, _compare_bound, connection, table, bound[table.name])
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
    """The look that finds photographs and signed pages beside a database that are not what they say."""

    def look(connection: Connection) -> Iterator[str]:
        if (said := broken_photograph(connection, database.path)) is not None:
            yield said
        for page in read_signed_pages(connection):
            said = file_fault(photograph_folder(database.path), page.sha256, page.size, PDF)
            if said is not None:
                yield f"signed_page of sheet_signature {page.signature_id}: {said}"

    return look


def _parse_head(head: str | None) -> tuple[int | None, str] | None:
    if head is None:
        return None
    match = HEAD.fullmatch(head.strip().lower())
    if match is None:
        said = f"write the number and {SAFE_DIGITS} digits or more of the hash, for instance 1234:0f3a9c77d2b1e860"
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
    with suppress(TypeError, ValueError):
        moment = datetime.strptime(value, MOMENT).replace(tzinfo=UTC)
        if moment.strftime(MOMENT) == value:  # another spelling of a moment is read all the same
            return moment
    raise _BreakError(f"entry {number}: its time {value!r} is not a moment")


def _replay(connection: Connection, is_sqlite: bool, walk: _Walk) -> tuple[State, Bound]:
    readers = {table.name: _readers(table, is_sqlite) for table in _kept_tables()}
    state: State = {name: {} for name in readers}
    bound: Bound = {table.name: {} for table in _erasable_tables()}
    with closing(_entries(connection)) as entries:
        for entry in entries:
            try:
                content = _follow(entry, is_sqlite, walk)
                changed = _take_in(entry[0], content, readers, state) + _take_bound(entry, content, bound, walk)
                if not changed and entry[3] not in WITHOUT_ROWS:
                    _note_empty(entry, content, walk)
                if entry[3] == CARRIED_ACT:
                    _note_carried(entry, content, walk)
            except (_BreakError, ValueError, TypeError, KeyError) as found:
                said = str(found) if isinstance(found, _BreakError) else f"entry {entry[0]}: cannot be read ({found})"
                walk.breaks.append(said)
    return state, bound


def _follow(entry: list[Any], is_sqlite: bool, walk: _Walk) -> dict[str, Any]:
    """Hold one entry against the one before, and give what it holds; a broken one is followed all the same."""
    number, at, person_id, act, subject, content, previous, digest = entry
    if number != walk.number + 1:
        walk.breaks.append(f"entry {walk.number + 1} is missing: the next one is {number}")
    elif previous != walk.digest:
        walk.breaks.append(f"entry {number}: it does not carry the hash of entry {walk.number} before it")
    moment = _moment_of_sqlite(at, number) if is_sqlite else at
    if entry_hash(number, moment, person_id, act, subject, content, previous) != digest:
        walk.breaks.append(f"entry {number} ({act}, {subject}): its content does not give its hash")
    walk.meet(number, moment, act, digest)
    held: dict[str, Any] = json.loads(content)
    _note_keys(number, held, walk)
    return held


def _note_keys(number: int, content: dict[str, Any], walk: _Walk) -> None:
    strange = sorted(content.keys() - CONTENT)
    if strange:
        walk.breaks.append(f"entry {number}: holds {strange[0]!r}, which no act writes")
    if "clock" in content:
        said = str(content["clock"])[:19].replace("T", " ")
        walk.notes.append(f"entry {number}: the clock said {said} UTC, before the last entry; it counts after it")


def _note_empty(entry: list[Any], content: dict[str, Any], walk: _Walk) -> None:
    if content["rows"]:
        walk.notes.append(f"entry {entry[0]} ({entry[3]}): what it writes stood there before")
    else:
        walk.breaks.append(f"entry {entry[0]} ({entry[3]}): writes nothing, which no act does")


def _note_carried(entry: list[Any], content: dict[str, Any], walk: _Walk) -> None:
    said = content["why"]
    if (said["entry"], said["hash"]) != (entry[0] - 1, entry[6]):
        walk.breaks.append(f"entry {entry[0]}: says that other entries were imported than stand before it")
    by = f"by desk key {said['key']}, program {said['program']}"
    walk.notes.append(f"entry {entry[0]}: all entries before it were imported, exported {said['at'][:16]} UTC {by}")


def _take_in(
    number: int, content: dict[str, Any], readers: dict[str, dict[str, tuple[int, Read]]], state: State
) -> int:
    """Bring the state on by the rows of an entry; how many values it wrote that differ from what stood there."""
    changed = 0
    for name, key, values in content["rows"]:
        columns = readers.get(name)
        if columns is None:
            raise _BreakError(f"entry {number}: it speaks of the table {name}, which is not known")
        row = state[name].get(key)
        if row is None:
            row = state[name][key] = [None] * len(columns)
            changed += 1
        for column, value in values.items():
            found = columns.get(column)
            if found is None:
                if (name, column) not in COLUMNS_GONE:
                    raise _BreakError(f"entry {number}: it speaks of {name}.{column}, which never was a column")
                changed += 1
                continue
            place, read = found
            said = None if value is None else read(value)
            changed += row[place] != said
            row[place] = said
    return changed


def _take_bound(entry: list[Any], content: dict[str, Any], bound: Bound, walk: _Walk) -> int:
    """Note which erasable rows an entry binds or erases; how many."""
    number, _, person_id, act = entry[:4]
    said = content.get("bound", ())
    gone = Counter(name for name, _, digest in said if digest is None)
    for name, key, digest in said:
        if name not in bound:
            raise _BreakError(f"entry {number}: it binds the table {name}, which cannot be erased")
        bound[name][key] = number, digest
    if act == BINDS:
        walk.notes.append(OLDER if walk.of_copy else f"entry {number}: {BOUND_FROM_HERE}")
    elif gone and act != "reset PIN" and gone.keys() != {"person_pin"}:
        listed = ", ".join(f"{count} of {name}" for name, count in sorted(gone.items()))
        by = f"person row {person_id}" if person_id is not None else "the program"
        walk.notes.append(f"entry {number} ({entry[4]}): erased on {walk.at:%Y-%m-%d} by {by}: {listed}")
    return len(said)


def _kept_tables() -> list[Table]:
    """Every table whose rows the journal holds: all but itself and the erasable ones."""
    return [
        table
        for table in metadata.sorted_tables
        if not table.info.get("erasable") and table.name != Journal.__tablename__
    ]


def _erasable_tables() -> list[Table]:
    return [table for table in metadata.sorted_tables if table.info.get("erasable")]


def _readers(table: Table, is_sqlite: bool) -> dict[str, tuple[int, Read]]:
    return {column.name: (place, _reader(column, is_sqlite)) for place, column in enumerate(_columns(table))}


def _columns(table: Table) -> list[Column[Any]]:
    return [column for column in table.columns if column.name != "id"]


def _reader(column: Column[Any], is_sqlite: bool) -> Read:
    if isinstance(column.type, UtcTimestamp):
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


def _compare_bound(connection: Connection, table: Table, recorded: dict[int, tuple[int, str | None]]) -> Iterator[str]:
    """Hold every erasable row against the digest that binds it; no word of what stands in it is told."""
    columns = bound_columns(table)
    present: set[int] = set()
    for row in connection.execute(select(*(table.c[name] for name in columns)).order_by(table.c.id)).mappings():
        key = row["id"]
        present.add(key)
        number, digest = recorded.get(key, (0, None))
        if digest is None and not number:
            yield f"{table.name} row {key}: no journal entry binds it; it was planted"
        elif digest is None:
            yield f"{table.name} row {key}: entry {number} erased it, and it stands there again"
        elif not _is_bound(table, dict(row), digest):
            yield f"{table.name} row {key}: is not what entry {number} binds; it was changed or exchanged"
    for key, (number, digest) in sorted(recorded.items()):
        if digest is not None and key not in present:
            yield f"{table.name} row {key}: entry {number} binds it, and it is gone without an erasure"


def _is_bound(table: Table, row: dict[str, Any], digest: str) -> bool:
    try:
        return commitment(table.name, row) == digest
    except (Refused, TypeError, ValueError):  # a value of another kind than the column's
        return False


def _differences(
    name: str, key: int, columns: list[Column[Any]], values: list[Any], expected: list[Any]
) -> Iterator[str]:
    for column, value, said in zip(columns, values, expected, strict=True):
        if value != said or type(value) is not type(said):
            yield f"{name} row {key}: {column.name} is {value!r}, the journal says {said!r}"


def _orphans(connection: Connection) -> Iterator[str]:
    """Every foreign key, erasable tables too, points at a row; one query a key."""
    for said, missing in _of_no_row():
        for row, lost in connection.execute(missing).all():
            yield said.format(row=row, lost=lost)


@built_once
def _of_no_row() -> tuple[tuple[str, Query], ...]:
    """For each foreign key what is said of a row whose own is missing, and the statement that finds them."""
    found: list[tuple[str, Query]] = []
    for table in metadata.sorted_tables:
        for key in sorted(table.foreign_keys, key=lambda each: each.parent.name):
            parent = key.column.table.alias()
            missing: Query = (
                select(table.c.id, key.parent)
                .select_from(table.outerjoin(parent, key.parent == parent.c[key.column.name]))
                .where(key.parent.is_not(None), parent.c[key.column.name].is_(None))
                .order_by(table.c.id)
            )
            said = f"{table.name} row {{row}}: {key.parent.name} {{lost}} is not in {key.column.table.name}"
            found.append((said, missing))
    return tuple(found)
