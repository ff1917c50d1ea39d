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
from functools import partial
from typing import Any

from sqlalchemy import Boolean, Column, Connection, Integer, Table, select
from sqlalchemy.exc import SQLAlchemyError

from fleetbench.calc.core.languages import say, say_count, strung
from fleetbench.records.core.database import Database
from fleetbench.records.core.errors import Refused
from fleetbench.records.core.journal import FIRST_PREVIOUS, Journal, entry_hash
from fleetbench.records.core.schema import CalendarDay, Figure, UtcTimestamp, built_once
from fleetbench.records.core.transaction import CARRIED_ACT, CLOCK_ACT, WITHOUT_ROWS
from fleetbench.records.hires.lookups import read_signed_pages
from fleetbench.records.hires.tables import SheetSignature, SignatureDrawing
from fleetbench.records.people.tables import digest_of, exchanged_pin
from fleetbench.records.tickets.photographs import PDF, broken_photograph, file_fault, photograph_folder
from fleetbench.records.upkeep.planted import STEP, columns_of, compare_bound, compare_rows, planted
from fleetbench.records.upkeep.tables import broken_rules, metadata

Read = Callable[[Any], Any]
"""From a value as the journal writes it to the same value as the driver gives it."""

State = dict[str, dict[int, list[Any]]]
"""What the journal says every row holds: table, key, values in the order of the columns."""

Bound = dict[str, dict[int, tuple[int, str | None]]]
"""The entry and digest that bind every erasable row: table, key; no digest where that entry erased it."""

MOST_LISTED = 500
SAFE_DIGITS = 16
"""Digits of a printed head that cannot be met by trial: 64 bits."""

CONTENT = frozenset(("rows", "bound", "clock", "why"))
"""What an entry may hold: rows, digests of erasable rows, what a clock said that was behind, and reasons."""

BINDS = "bind what can be erased"
"""The entry by which an upgrade binds the erasable rows that were written before it."""

NOT_SHOWN = (
    say(
        "that last entries were dropped, or all entries from one on were calculated again: compare a "
        "head kept elsewhere"
    ),
    say("an entry added by this program or with its rules after the last head kept elsewhere"),
    say("that what was recorded was true when it was recorded, or that the user at the desk was who they said"),
    say(
        "how often a PIN was entered wrongly, and names, notes, PINs and drawings before the entry "
        "that first binds them"
    ),
    say("what stood in an erased record"),
)
"""What no chain of entries can show."""

BOUND_FROM_HERE = say("names, contacts, notes, PINs and drawings that were written before it are bound from here on")
OLDER = say(
    "the file is of an older revision, which binds no names, contacts, notes, PINs or drawings; an upgrade will"
)

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
        if len(self.breaks) < 2:
            return self.breaks[0] if self.breaks else ""
        return say("{first} (1 of {count} breaks)", first=self.breaks[0], count=len(self.breaks))

    @property
    def whole(self) -> bool:
        """Whether nothing was found."""
        return not self.breaks

    @property
    def lines(self) -> tuple[str, ...]:
        """The whole report, a line a finding, with what no chain can show."""
        head = say("head {number} {hash}", number=self.head_number, hash=self.head_hash or say("empty"))
        return (
            strung(", ", (say_count("{count} entry", "{count} entries", self.entries), head)),
            *self.breaks,
            *(say("note: {note}", note=note) for note in self.notes),
            *(say("not shown by any chain: {each}", each=each) for each in NOT_SHOWN),
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
            self.breaks.append(say(
                "entry {number}: its hash is not the printed {printed}; the chain was made again",
                number=number, printed=printed))  # fmt: skip
            self.met = True
        if self.at is not None and at < self.at and act != CLOCK_ACT:
            back = say("{at:%Y-%m-%d %H:%M} follows {before:%Y-%m-%d %H:%M} UTC", at=at, before=self.at)
            self.notes.append(say(
                "entry {number}: a clock was set back ({back}); the order of the entries is whole",
                number=number, back=back))  # fmt: skip
        self.number, self.digest, self.at = number, digest, at
        if not (self.of_copy and act == BINDS):  # that entry is the copy's own
            self.head = number, digest

    def settle(self) -> None:
        """A break where the printed head was not met."""
        if self.wanted is not None and not self.met:
            printed = self.wanted[1][:12]
            self.breaks.append(say(
                "the printed head {printed} is not in the journal: entries were dropped or made again",
                printed=printed))  # fmt: skip


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
    return say("after entry {number}: the database cannot be read on ({fault})", number=walk.number,
        fault=str(fault).splitlines()[0])  # fmt: skip


def _listed(found: list[str]) -> tuple[str, ...]:
    """What was found, each thing once, and how many more there are after the first few hundred."""
    once = list(dict.fromkeys(found))
    return (
        *once[:MOST_LISTED],
        *([say("and {more} more", more=len(once) - MOST_LISTED)] if len(once) > MOST_LISTED else []),
    )


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
        walk.breaks.append(say("the file is torn: {found}; restore a backup", found=str(said).splitlines()[0]))
    state, bound = _replay(connection, database.is_sqlite, walk)
    walk.settle()
    for table in _kept_tables():
        _ask(walk, partial(compare_rows, table), connection, state[table.name])
    for table in _erasable_tables():
        _ask(walk, partial(compare_bound, table), connection, bound[table.name])
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
        yield say("person_pin of person {person}: is not the one that the journal's digest speaks of", person=person)


def _exchanged_drawings(connection: Connection) -> Iterator[str]:
    drawn = select(SheetSignature.id, SheetSignature.digest, SignatureDrawing.strokes)
    query = drawn.join(SignatureDrawing, SignatureDrawing.sheet_signature_id == SheetSignature.id)
    for key, digest, strokes in connection.execute(query.order_by(SheetSignature.id)):
        if digest != digest_of(strokes):
            yield say(
                "signature_drawing of sheet_signature {key}: is not the one that the journal's digest speaks of",
                key=key)  # fmt: skip


def broken_photographs_of(database: Database) -> Callable[[Connection], Iterator[str]]:
    """The look that finds photographs and signed pages beside a database that are not what they say."""

    def look(connection: Connection) -> Iterator[str]:
        if (said := broken_photograph(connection, database.path)) is not None:
            yield said
        for page in read_signed_pages(connection):
            said = file_fault(photograph_folder(database.path), page.sha256, page.size, PDF)
            if said is not None:
                yield say(
                    "signed_page of sheet_signature {signature_id}: {said}", signature_id=page.signature_id, said=said
                )

    return look


def _parse_head(head: str | None) -> tuple[int | None, str] | None:
    if head is None:
        return None
    match = HEAD.fullmatch(head.strip().lower())
    if match is None:
        said = say(
            "write the number and {digits} digits or more of the hash, for instance 1234:0f3a9c77d2b1e860",
            digits=SAFE_DIGITS,
        )
        raise Refused(strung(": ", ("head", said)))
    return int(match["number"]) if match["number"] else None, match["hash"]


def _entries(connection: Connection) -> Generator[list[Any], None, None]:
    """Journal rows in order of their number, raw from the driver, a few thousand at a time."""
    columns = ", ".join(f'"{column.name}"' for column in Journal.__table__.columns)
    query = f"SELECT {columns} FROM journal ORDER BY id"
    with connection.exec_driver_sql(query, execution_options={"yield_per": STEP}) as result:
        for rows in result.partitions():
            yield from map(list, rows)


def _moment_of_sqlite(value: Any, number: Any) -> datetime:
    with suppress(TypeError, ValueError):
        moment = datetime.fromisoformat(value)
        if moment.tzinfo is None and moment.isoformat(" ", "microseconds") == value:  # other spellings are read, too
            return moment.replace(tzinfo=UTC)
    raise _BreakError(say("entry {number}: its time {value!r} is not a moment", number=number, value=value))


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
                said = (
                    str(found)
                    if isinstance(found, _BreakError)
                    else say("entry {entry}: cannot be read ({found})", entry=entry[0], found=str(found))
                )
                walk.breaks.append(said)
    return state, bound


def _follow(entry: list[Any], is_sqlite: bool, walk: _Walk) -> dict[str, Any]:
    """Hold one entry against the one before, and give what it holds; a broken one is followed all the same."""
    number, at, person_id, act, subject, content, previous, digest = entry
    if number != walk.number + 1:
        walk.breaks.append(
            say("entry {missing} is missing: the next one is {number}", missing=walk.number + 1, number=number)
        )
    elif previous != walk.digest:
        walk.breaks.append(say(
            "entry {number}: it does not carry the hash of entry {before} before it", number=number,
            before=walk.number))  # fmt: skip
    moment = _moment_of_sqlite(at, number) if is_sqlite else at
    if entry_hash(number, moment, person_id, act, subject, content, previous) != digest:
        walk.breaks.append(say(
            "entry {number} ({act}, {subject}): its content does not give its hash", number=number,
            act=act, subject=subject))  # fmt: skip
    walk.meet(number, moment, act, digest)
    held: dict[str, Any] = json.loads(content)
    _note_keys(number, held, walk)
    return held


def _note_keys(number: int, content: dict[str, Any], walk: _Walk) -> None:
    strange = sorted(content.keys() - CONTENT)
    if strange:
        walk.breaks.append(
            say("entry {number}: holds {strange!r}, which no act writes", number=number, strange=strange[0])
        )
    if "clock" in content:
        said = str(content["clock"])[:19].replace("T", " ")
        walk.notes.append(say(
            "entry {number}: the clock said {said} UTC, before the last entry; it counts after it",
            number=number, said=said))  # fmt: skip


def _note_empty(entry: list[Any], content: dict[str, Any], walk: _Walk) -> None:
    if content["rows"]:
        walk.notes.append(say("entry {entry} ({act}): what it writes stood there before", entry=entry[0], act=entry[3]))
    else:
        walk.breaks.append(
            say("entry {entry} ({act}): writes nothing, which no act does", entry=entry[0], act=entry[3])
        )


def _note_carried(entry: list[Any], content: dict[str, Any], walk: _Walk) -> None:
    said = content["why"]
    if (said["entry"], said["hash"]) != (entry[0] - 1, entry[6]):
        walk.breaks.append(
            say("entry {entry}: says that other entries were imported than stand before it", entry=entry[0])
        )
    walk.notes.append(say(
        "entry {entry}: all entries before it were imported, exported {at} UTC by desk key {key}, program {program}",
        entry=entry[0], at=said["at"][:16], key=said["key"], program=said["program"],
    ))  # fmt: skip


def _take_in(
    number: int, content: dict[str, Any], readers: dict[str, dict[str, tuple[int, Read]]], state: State
) -> int:
    """Bring the state on by the rows of an entry; how many values it wrote that differ from what stood there."""
    changed = 0
    for name, key, values in content["rows"]:
        columns = readers.get(name)
        if columns is None:
            raise _BreakError(
                say("entry {number}: it speaks of the table {name}, which is not known", number=number, name=name)
            )
        row = state[name].get(key)
        if row is None and values.keys() == columns.keys():  # as every row that is written whole
            state[name][key] = [
                None if (said := values[column]) is None else read(said) for column, (_, read) in columns.items()
            ]
            changed += 1
            continue
        if row is None:
            row = state[name][key] = [None] * len(columns)
            changed += 1
        for column, value in values.items():
            found = columns.get(column)
            if found is None:
                if (name, column) not in COLUMNS_GONE:
                    raise _BreakError(say(
                        "entry {number}: it speaks of {name}.{column}, which never was a column",
                        number=number, name=name, column=column))  # fmt: skip
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
            raise _BreakError(
                say("entry {number}: it binds the table {name}, which cannot be erased", number=number, name=name)
            )
        bound[name][key] = number, digest
    if act == BINDS:
        walk.notes.append(OLDER if walk.of_copy else say("entry {number}: {note}", number=number, note=BOUND_FROM_HERE))
    elif gone and act != "reset PIN" and gone.keys() != {"person_pin"}:
        listed = ", ".join(f"{count} of {name}" for name, count in sorted(gone.items()))
        by = say("person row {person}", person=person_id) if person_id is not None else say("the program")
        walk.notes.append(say(
            "entry {number} ({subject}): erased on {at:%Y-%m-%d} by {by}: {listed}", number=number,
            subject=entry[4], at=walk.at, by=by, listed=listed))  # fmt: skip
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
    return {column.name: (place, _reader(column, is_sqlite)) for place, column in enumerate(columns_of(table))}


def _reader(column: Column[Any], is_sqlite: bool) -> Read:
    if isinstance(column.type, UtcTimestamp):
        return _sqlite_moment if is_sqlite else datetime.fromisoformat
    if isinstance(column.type, Figure):
        return float
    if isinstance(column.type, Boolean):
        return int if is_sqlite else bool
    if isinstance(column.type, CalendarDay):
        return str if is_sqlite else date.fromisoformat
    return int if isinstance(column.type, Integer) else str


def _sqlite_moment(value: str) -> str:
    return f"{value[:10]} {value[11:26]}"


def _orphans(connection: Connection) -> Iterator[str]:
    """Every foreign key, erasable tables too, points at a row; one query a key."""
    for (table, column, other), missing in _of_no_row():
        for row, lost in connection.exec_driver_sql(missing).all():
            yield say("{table} row {row}: {column} {lost} is not in {other}",
                      table=table, row=row, column=column, lost=lost, other=other)  # fmt: skip


@built_once
def _of_no_row() -> tuple[tuple[tuple[str, str, str], str], ...]:
    """For each foreign key its table, column and other table, and the statement that finds rows that lack theirs."""
    found = []
    for table in metadata.sorted_tables:
        for key in sorted(table.foreign_keys, key=lambda each: each.parent.name):
            own, other = key.parent.name, key.column
            missing = (
                f'SELECT one.id, one."{own}" FROM "{table.name}" AS one LEFT JOIN "{other.table.name}" AS other'
                f' ON other."{other.name}" = one."{own}" WHERE one."{own}" IS NOT NULL AND other."{other.name}" IS NULL'
                " ORDER BY one.id"
            )
            found.append(((table.name, own, other.table.name), missing))
    return tuple(found)
