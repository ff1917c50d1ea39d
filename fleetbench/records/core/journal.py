"""The append-only journal: canonical text of every act, chained by SHA-256.

Figures that meters gave: which row and column of the records holds each, and what the meter said.

Units and parts under investigation: nothing may be done to them but add notes, whatever the act is called.
"""

import hashlib
import json
import math
import os
import re
import struct
import unicodedata
from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from decimal import Decimal
from pathlib import Path
from threading import Lock
from typing import Any, NamedTuple
from unicodedata import is_normalized

from sqlalchemy import Connection, String, Table, Text, func, select
from sqlalchemy.orm import Mapped, Session, mapped_column

from fleetbench.calc.bench.meter import Metered, MeterSource
from fleetbench.calc.core.languages import say, strung
from fleetbench.records.core.database import Database
from fleetbench.records.core.errors import Refused
from fleetbench.records.core.schema import Base, Key, Query, built_once, record_or_none, records_of, select_of, to

FIRST_PREVIOUS = "0" * 64
"""What stands as the previous hash before the first entry."""

ALLOWED_CONTROLS = "\n\t"


class Journal(Base):
    """One act: who, when, what, on which subject, the facts, and the chain."""

    __tablename__ = "journal"
    id: Mapped[Key]
    at: Mapped[datetime] = mapped_column(index=True)
    person_id: Mapped[int | None] = to("person", nullable=True)
    act: Mapped[str] = mapped_column(String(60))
    subject: Mapped[str] = mapped_column(String(120), index=True)
    content: Mapped[str] = mapped_column(Text)
    previous: Mapped[str] = mapped_column(String(64))
    hash: Mapped[str] = mapped_column(String(64), unique=True)


class MeterReading(Base):
    """One recorded figure that was read from a meter; a typed figure has none.

    made_of, made_id and figure: table, key and column of the figure. answer: as it came, in `unit`; value: as it was
    recorded. idn: what the meter answered to *IDN? just before. u: its standard uncertainty in `u_unit` as the register
    had it then, None not known.
    """

    __tablename__ = "meter_reading"
    id: Mapped[Key]
    made_of: Mapped[str] = mapped_column(String(40), index=True)
    made_id: Mapped[int]
    figure: Mapped[str] = mapped_column(String(40))
    equipment_id: Mapped[int] = to("test_equipment")
    idn: Mapped[str] = mapped_column(String(256))
    answer: Mapped[str] = mapped_column(String(80))
    unit: Mapped[str] = mapped_column(String(12))
    value: Mapped[float]
    at: Mapped[datetime]
    u: Mapped[float | None]
    u_unit: Mapped[str | None] = mapped_column(String(12))


def metered_in(values: Mapping[str, Any]) -> dict[str, Metered]:
    """The figures among a row's values that meters gave, by column."""
    if not any(issubclass(kind, Metered) for kind in set(map(type, values.values()))):
        return {}
    return {name: value for name, value in values.items() if isinstance(value, Metered)}


def meter_row(table: str, key: int, figure: str, value: Metered) -> dict[str, Any]:
    """The row that keeps where a figure came from."""
    from_ = value.source
    return {
        "made_of": table, "made_id": key, "figure": figure, "equipment_id": from_.equipment_id, "idn": from_.idn,
        "answer": from_.answer, "unit": from_.unit, "value": float(value), "at": from_.at,
        "u": from_.u, "u_unit": from_.u_unit,
    }  # fmt: skip


def sources_of(session: Session, table: str, keys: Iterable[int]) -> dict[tuple[int, str], Metered]:
    """The figures of these rows of a table that meters gave, by key and column, each with its source; one statement."""
    asked = select(MeterReading).where(MeterReading.made_of == table, MeterReading.made_id.in_(sorted(keys)))
    return {
        (row.made_id, row.figure): Metered(
            row.value,
            MeterSource(
                equipment_id=row.equipment_id,
                idn=row.idn,
                answer=row.answer,
                unit=row.unit,
                at=row.at,
                u=row.u,
                u_unit=row.u_unit,
            ),
        )
        for row in session.scalars(asked.order_by(MeterReading.id))
    }


def moment_text(value: datetime) -> str:
    """A moment as UTC text to the microsecond."""
    return value.astimezone(UTC).isoformat(timespec="microseconds").removesuffix("+00:00") + "Z"


def clean_text(value: str) -> str:
    """The text in NFC; control characters other than new line and tab, and lone surrogates, are refused."""
    if value.isascii() and value.isprintable():
        return value
    text = unicodedata.normalize("NFC", value.replace("\r\n", "\n"))
    for char in text:
        if unicodedata.category(char) in ("Cc", "Cs") and char not in ALLOWED_CONTROLS:
            raise Refused(
                say("text: holds the control character U+{ord:04X}; remove it and enter it again", ord=ord(char))
            )
    return text


def canonical(value: Any) -> Any:  # noqa: PLR0911 - one line a kind of value reads best
    """The value in the one form that is hashed: finite floats, Decimal and dates as text, NFC strings."""
    if type(value) in _AS_IT_IS:  # most of what is written; an import asks this of a million values
        return value
    if isinstance(value, float):
        if not math.isfinite(value):
            raise Refused(say("figure: give a finite number"))
        return value + 0.0
    if isinstance(value, str):
        return clean_text(value)
    if isinstance(value, datetime):
        return moment_text(value)
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, Decimal):
        return str(value)
    if isinstance(value, dict):
        return {str(key): canonical(inner) for key, inner in value.items()}
    if isinstance(value, list | tuple):
        return [canonical(inner) for inner in value]
    return value


_AS_IT_IS = frozenset((int, bool, type(None)))


def canonical_text(content: Any) -> str:
    """Canonical JSON: sorted keys, no spaces, shortest float form, UTF-8 as it is."""
    return _PLAIN_ENCODER.encode(canonical(content))


def canonical_rows(content: Mapping[str, Any]) -> str:
    """The same text of what has words for all its keys, at the speed of the encoder.

    Rows of tables hold hardly anything that canonical form changes, and the text shows where one may: the content is
    brought into that form then.
    """
    try:
        text = _ENCODER.encode(content)
    except ValueError:  # a figure that is not finite
        return canonical_text(content)
    changes = _may_change(text) or not is_normalized("NFC", text)
    return canonical_text(content) if changes else text


def _may_change(text: str) -> bool:
    if text.isascii() and "-0.0" not in text and "\\" not in text and "\x7f" not in text:
        return False  # nearly always, and four quick looks instead of a pattern tried at every letter
    return _MAY_CHANGE.search(text) is not None


def _as_text(value: Any) -> str:
    if isinstance(value, datetime | date | Decimal):
        return str(canonical(value))
    raise TypeError(f"{type(value).__name__} stands in no column")


_PLAIN_ENCODER = json.JSONEncoder(sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False)
_ENCODER = json.JSONEncoder(
    sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False, check_circular=False, default=_as_text
)
_MAY_CHANGE = re.compile('-0\\.0(?![0-9])|\\\\[^n"\\\\]|[\x7f-\x9f\ud800-\udfff]')
"""A zero with a sign, control characters, and half a pair of surrogates."""


def entry_hash(
    number: int, at: datetime, person_id: int | None, act: str, subject: str, content: str, previous: str
) -> str:
    """SHA-256 over the previous hash and every field of the entry, as 64 hex digits."""
    head = canonical_text([number, moment_text(at), person_id, act, subject, previous])
    return hashlib.sha256(head.encode() + b"\n" + content.encode()).hexdigest()


def commitment(table: str, row: Mapping[str, Any]) -> str:
    """SHA-256 over the salt and the content of one erasable row, as 64 hex digits; it binds table and key too.

    row: every column but those that are written outside the acts. Texts count as they stand, so that no other spelling
    of the same letters has the same digest.
    """
    said = {name: value if isinstance(value, str) else canonical(value) for name, value in row.items()}
    text = json.dumps([table, said], sort_keys=True, separators=(",", ":"), ensure_ascii=True, allow_nan=False)
    return hashlib.sha256(text.encode()).hexdigest()


def bound_columns(table: Table) -> tuple[str, ...]:
    """The columns of an erasable table that its digest in the journal binds, the salt among them."""
    return tuple(column.name for column in table.columns if not column.info.get("unbound"))


class State(NamedTuple):
    """What tells the state that a connection reads from every other one.

    number, hash: of the journal's last entry. moved: what moves with every change, written by whom- and however.
    commits: how many changes were committed, None where that cannot be told; counted_by: what the count belongs to.
    """

    number: int
    hash: str
    moved: Hashable
    commits: int | None
    counted_by: Hashable


def state_of(database: Database, connection: Connection) -> State | None:
    """The state that a connection reads; ask before its first read.

    The journal's head, which every act moves, and what moves with a change that wrote no entry: on SQLite the files of
    the database, on PostgreSQL the transactions that are seen. None where that cannot be told.
    """
    number = select(func.max(Journal.id)).scalar_subquery()
    head = select(func.coalesce(number, 0), select(Journal.hash).where(Journal.id == number).scalar_subquery())
    if not database.is_sqlite:
        snapshot = func.txid_current_snapshot().cast(Text)
        count, digest, seen = connection.execute(head.add_columns(snapshot)).one()
        oldest, following, running = str(seen).split(":")
        still = oldest == following and not running
        return State(count, digest or "", seen, int(following) if still else None, "")
    if database.path is None or not database.path.exists():
        return None
    # Looked at before the first read, so that what is read may be newer than the files said, never older.
    commits = _commits_to(Path(f"{database.path}-shm"))
    files = tuple(_file_state(Path(f"{database.path}{end}")) for end in ("", "-wal"))
    count, digest = connection.execute(head).one()
    if commits != _commits_to(Path(f"{database.path}-shm")):
        commits = None
    return State(count, digest or "", files, *(commits or (None, None)))


_INDEX_HEADER = struct.Struct("=8xI36x")
"""The header of the index of SQLite's write-ahead log, which counts what was committed: sqlite.org, "WAL-mode File
Format", 2.1. It stands there twice, and where both differ it is being written."""
_HANDLES: dict[tuple[int, int], list[int]] = {}
"""By device and number of an index, the handles by which it is read."""
_handles = Lock()


def _commits_to(index: Path) -> tuple[int, tuple[int, int]] | None:
    """How often something was committed since the index was made, and which file that is; None for not known.

    A handle stays open until SQLite has deleted the file: closing one lets go of every lock that this process holds on
    that file, which are those of SQLite (POSIX.1-2017, fcntl). Where a file cannot be deleted while it is open, as on
    Windows, it is not opened at all.
    """
    if os.name != "posix":
        return None
    try:
        with _handles:
            found = index.stat()
            which = found.st_dev, found.st_ino
            handle = _HANDLES[which][0] if which in _HANDLES else _opened(index)
            header = os.pread(handle, 96, 0)
            which = os.fstat(handle).st_dev, os.fstat(handle).st_ino
    except OSError:
        return None
    first, second = header[:48], header[48:]
    return (*_INDEX_HEADER.unpack(first), which) if len(second) == 48 and first == second else None


def _opened(index: Path) -> int:
    for which, handles in tuple(_HANDLES.items()):
        if not os.fstat(handles[0]).st_nlink:  # deleted, so that nobody holds a lock on it
            for each in _HANDLES.pop(which):
                os.close(each)
    handle = os.open(index, os.O_RDONLY)
    found = os.fstat(handle)
    _HANDLES.setdefault((found.st_dev, found.st_ino), []).append(handle)
    return handle


MOST_ENTRIES = 60
"""So many entries are looked through for what they wrote; after more, everything is read again."""

SAVED_TWICE = 2
"""Transactions that PostgreSQL counts of an act: its own, and that within its savepoint."""


def written_between(
    database: Database, connection: Connection, before: State | None, now: State | None
) -> frozenset[str] | None:
    """The tables that acts wrote from one state to another; None where anything else may have been written.

    Each act is one commit and its entries name every row, so that as many commits as acts leave none without an entry.
    """
    if before is None or now is None or before.commits is None or now.commits is None:
        return None
    entries, acts = now.number - before.number, database.acts_among(before.number, now.number)
    if before.counted_by != now.counted_by or acts is None or not 0 <= entries <= MOST_ENTRIES:
        return None
    if now.commits - before.commits != acts * (1 if database.is_sqlite else SAVED_TWICE):
        return None
    query = select(Journal.id, Journal.hash, Journal.content).where(Journal.id >= before.number).order_by(Journal.id)
    rows = connection.execute(query).all()
    if before.number and (not rows or tuple(rows[0][:2]) != (before.number, before.hash)):
        return None
    if len(rows) != entries + (1 if before.number else 0):
        return None
    tables = {"journal"} if entries else set()
    for _, _, content in rows[len(rows) - entries :]:
        held = json.loads(content)
        tables.update(each[0] for key in ("rows", "bound") for each in held.get(key, ()))
    return frozenset(tables)


def _file_state(path: Path) -> tuple[int, int] | None:
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_mtime_ns, found.st_size


FREEZES, HOLD = "incident", "hold"
"""The kind of hold that freezes what it is placed on, and the table of holds."""

ALLOWED_ACTS = frozenset(("place hold", "lift hold", "receive", "correct clock"))
"""Acts that say where a frozen unit is or hold it."""

PAPER = frozenset((HOLD, "finding", "photograph", "booking", "booking_unit", "booking_terms", "hand_back"))
"""Tables whose rows speak of a unit and do nothing to it."""

TOLD_AFTERWARDS = {"hand back": frozenset(("run", "ticket", "accessory_count"))}
"""What an act may still write of a frozen unit, since it only tells what happened before."""

WHOSE_FILL = frozenset(("diver_id", "booking_unit_id"))
"""Columns of a fill that only tell whose it was."""

LEADS = {
    "ticket_id": "ticket", "removal_ticket_id": "ticket", "fill_id": "fill", "booking_unit_id": "booking_unit",
    "calibration_id": "calibration", "bench_test_id": "bench_test", "failed_id": "booking_unit",
    "instead_id": "booking_unit", "run_id": "run", "turn_round_id": "turn_round", "disinfection_id": "disinfection",
    "task_id": "task",
}  # fmt: skip
"""Columns by which a row belongs to a unit through another row."""


def refuse_frozen(session: Session, act: str, changes: Sequence[Sequence[Any]]) -> bool:
    """Refused where a row written belongs to a frozen unit or part; True where nothing at all is known to be frozen."""
    if act in ALLOWED_ACTS:
        return False
    frozen = _Frozen(session)
    if not frozen.any:
        return True
    told = TOLD_AFTERWARDS.get(act, frozenset())
    for name, key, values in changes:
        if name in told or (told and name == "fill" and WHOSE_FILL.issuperset(values)):
            continue
        said = frozen.touched(name, int(key), values)
        if said is not None:
            why = say("is frozen after an incident; only notes may be added until a manager lifts the hold")
            raise Refused(strung(": ", (said, why)))
    return False


def is_frozen(session: Session, unit_id: int) -> bool:
    """Whether a unit is frozen after an incident."""
    return _Frozen(session).holds(unit_id)


class _Frozen:
    """What is frozen now: units, their parts down to the last cell, and parts held on their own."""

    def __init__(self, session: Session) -> None:
        self._session = session
        self._tables = Base.metadata.tables
        hold = self._tables[HOLD]
        query = select(hold.c.unit_id, hold.c.part_id).where(hold.c.kind == FREEZES, hold.c.lifted_at.is_(None))
        rows = session.execute(query).all()
        self._units = {row.unit_id for row in rows if row.unit_id is not None}
        self._parts = {row.part_id for row in rows if row.part_id is not None}
        if self._units:
            self._parts |= self._fitted_in(self._units)

    def holds(self, unit_id: int) -> bool:
        """Whether that unit is frozen."""
        return unit_id in self._units

    @property
    def any(self) -> bool:
        """Whether anything is frozen."""
        return bool(self._units or self._parts)

    def touched(self, name: str, key: int, values: dict[str, Any]) -> str | None:
        """What frozen thing the written row belongs to, in words; None where to none."""
        if name in PAPER or (name == "ticket" and "opened_at" in values):
            return None
        return self._owner(self._tables[name], key, values)

    def _owner(self, table: Table, key: int, values: dict[str, Any]) -> str | None:
        if table.name == "unit":
            return self._unit(key)
        if table.name == "part":
            return self._part(key)
        wanted = [name for name in ("unit_id", "part_id", "host_part_id", *LEADS) if name in table.c]
        if not wanted:
            return None
        row = values if all(name in values for name in wanted) else self._row(table, key)
        for name in wanted:
            said = self._by_column(name, row.get(name))
            if said is not None:
                return said
        return None

    def _by_column(self, name: str, value: Any) -> str | None:
        if value is None:
            return None
        if name == "unit_id":
            return self._unit(value)
        if name in LEADS:
            return self._owner(self._tables[LEADS[name]], value, {})
        return self._part(value)

    def _row(self, table: Table, key: int) -> dict[str, Any]:
        found = self._session.execute(select(table).where(table.c.id == key)).mappings().first()
        return dict(found) if found is not None else {}

    def _unit(self, key: int) -> str | None:
        return f"unit {self._row(self._tables['unit'], key)['tag']}" if key in self._units else None

    def _part(self, key: int) -> str | None:
        if key not in self._parts:
            return None
        row = self._row(self._tables["part"], key)
        return f"part {row['serial'] or row['lot'] or row['ref'] or key}"

    def _fitted_in(self, units: Iterable[int]) -> set[int]:
        fitting = self._tables["fitting"]
        sits = select(fitting.c.part_id).where(fitting.c.removed_at.is_(None))
        found: set[int] = set()
        inner = set(self._session.scalars(sits.where(fitting.c.unit_id.in_(list(units)))))
        while inner:
            found |= inner
            inner = set(self._session.scalars(sits.where(fitting.c.host_part_id.in_(list(inner))))) - found
        return found


@dataclass(frozen=True, slots=True)
class EntryRecord:
    """A journal entry's number and hash."""

    entry: int
    at: datetime
    person_id: int | None
    act: str
    subject: str
    hash: str


@built_once
def _entries() -> Query:
    return select_of(EntryRecord, Journal, entry=Journal.id)


def read_last_entry_on(connection: Connection, subject: str, act: str | None = None) -> EntryRecord | None:
    """The last journal entry on a subject, of one act where given; one statement."""
    query = _entries().where(Journal.subject == subject).order_by(Journal.id.desc()).limit(1)
    if act is not None:
        query = query.where(Journal.act == act)
    return record_or_none(connection, query, EntryRecord)


def read_entry_at(connection: Connection, at: datetime, act: str) -> EntryRecord | None:
    """The journal entry of an act at that very moment; one statement."""
    query = _entries().where(Journal.at == at, Journal.act == act).order_by(Journal.id.desc()).limit(1)
    return record_or_none(connection, query, EntryRecord)


def read_journal_about(connection: Connection, subject: str) -> tuple[EntryRecord, ...]:
    """Every journal entry about a subject, oldest first; one statement."""
    query = _entries().where(Journal.subject == subject).order_by(Journal.id)
    return records_of(connection, query, EntryRecord)
