"""One act: one transaction and one journal entry that holds every row it wrote."""

import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import date, datetime
from functools import cache, lru_cache
from typing import Any, NamedTuple, TypeVar, cast

from sqlalchemy import ColumnElement, Dialect, String, Table, delete, func, insert, inspect, select
from sqlalchemy.exc import DBAPIError
from sqlalchemy.orm import Session
from sqlalchemy.orm.exc import StaleDataError

from fleetbench.calc.bench.meter import Metered
from fleetbench.calc.core.languages import say
from fleetbench.calc.core.wall_time import SKEW, moment_of_act
from fleetbench.records.core.database import JOURNAL_MOVED, Database
from fleetbench.records.core.errors import Clash, NotFound, Refused, Unreadable
from fleetbench.records.core.journal import (
    FIRST_PREVIOUS,
    HOLD,
    Journal,
    MeterReading,
    bound_columns,
    canonical,
    canonical_rows,
    clean_text,
    commitment,
    entry_hash,
    meter_row,
    metered_in,
    refuse_frozen,
    sources_of,
)
from fleetbench.records.core.schema import Base, new_salt

Row = TypeVar("Row", bound=Base)
Change = list[Any]
"""What the journal keeps of one row: [table, id, {column: value}]; the first of a row holds all its columns."""

FIND_OUT_SECONDS = 8.0
"""So long an act whose answer was lost waits for the server to come back; longer ones are asked for before the next."""

CLOCK_ACT = "correct clock"
"""The one act that counts from the clock alone, since it says that the clock is right."""

CARRIED_ACT = "import records"
"""The act that says where all entries before it were exported."""

WITHOUT_ROWS = frozenset((CLOCK_ACT, CARRIED_ACT))
"""Acts whose entry may hold no row, since it says something of the journal itself."""


MOST_WHOLE, MOST_TEXT = 2**31 - 1, 10**9
"""The largest whole number, and the most characters, that both databases keep in any column; PostgreSQL,
documentation, "Numeric Types" and "Character Types"."""

LONGEST_SUBJECT = 120


class Head(NamedTuple):
    """Number, time and hash of the last entry; zero, None and what stands before the first one where there is none."""

    number: int
    at: datetime | None
    hash: str


class Transaction:
    """The hands of one act: add and change rows through it, so that the journal holds every fact."""

    def __init__(self, session: Session, at: datetime, person_id: int | None, name: str, subject: str) -> None:
        self.session = session
        self.at = at
        self.person_id = person_id
        self.name = name
        self.subject = subject
        self._changes: list[Change] = []
        self._bound: dict[tuple[str, int], str | None] = {}
        self._why: dict[str, Any] = {}
        self._next: dict[str, int] = {}
        self._entries = 0
        self._held: dict[Table, list[Mapping[str, Any]]] | None = None
        self._head: Head | None = None
        self._nothing_frozen = False
        self.clock_said: datetime | None = None
        """What the clock said, where the act counts from the last entry instead."""

    def follow(self, head: Head) -> None:
        """Count from the clock, and never before the last entry; Refused where the two cannot both be right."""
        self._head = head
        if self.name == CLOCK_ACT:
            return
        try:
            counted = moment_of_act(self.at, head.at)
        except ValueError as doubt:
            raise Refused(str(doubt)) from doubt
        if counted - self.at > SKEW:
            self.clock_said = self.at
        self.at = counted

    def mark(self) -> None:
        """Note where the act began, to go back there without letting another one in."""
        self.session.connection().exec_driver_sql("SAVEPOINT begun")

    def back_to_mark(self) -> None:
        """Undo everything that was written since; the act goes on alone."""
        self._nothing_frozen = False
        self.session.expunge_all()
        self.session.connection().exec_driver_sql("ROLLBACK TO SAVEPOINT begun")

    def next_id(self, table: Table, count: int = 1) -> int:
        """The first of `count` free keys of the table; safe because one act runs at a time."""
        if table.name not in self._next:
            highest = self.session.scalar(select(func.max(table.c.id)))
            self._next[table.name] = (highest or 0) + 1
        first = self._next[table.name]
        self._next[table.name] = first + count
        return first

    def add(self, row: Row) -> Row:
        """Write a new row at once (its key is handed out here) and note it for the journal.

        Of one that takes another's place, a figure that stays as a meter gave it keeps its source.
        """
        table = cast("Table", row.__table__)
        if row.__dict__.get("id") is None:
            row.id = self.next_id(table)  # type: ignore[attr-defined]
        metered = metered_in(row.__dict__)
        if (earlier := row.__dict__.get("supersedes_id")) is not None:
            stays = sources_of(self.session, table.name, (earlier,))
            metered = {name: value for (_, name), value in stays.items() if row.__dict__.get(name) == value} | metered
        for column, value in list(row.__dict__.items()):
            if isinstance(value, str | int | Metered):
                setattr(row, column, _fitting(table, column, value))
        self.session.add(row)
        self.session.flush()
        written = {column.name: getattr(row, column.key) for column in table.columns}
        self._note(table, int(written["id"]), written)
        self._keep_sources(table, {int(written["id"]): metered})
        return row

    def change(self, row: Base, **values: Any) -> None:
        """Set columns of a row and note them; a row that another desk changed first is a Clash."""
        table = cast("Table", row.__table__)
        for column, value in values.items():
            setattr(row, column, _fitting(table, column, value))
        touched = [key for key in values if inspect(row).attrs[key].history.has_changes()]
        if not touched:
            return
        if _is_erasable(table):
            row.salt = new_salt()  # type: ignore[attr-defined]
        try:
            self.session.flush()
        except StaleDataError as fault:
            raise Clash(
                say("{subject}: changed at another desk meanwhile; look again, then repeat", subject=self.subject)
            ) from fault
        kept = {key: getattr(row, key) for key in (touched if not _is_erasable(table) else table.columns.keys())}
        if "version" in table.columns:
            kept["version"] = row.version  # type: ignore[attr-defined]
        self._note(table, int(row.__dict__["id"]), kept)
        self._keep_sources(table, {int(row.__dict__["id"]): metered_in(values)})

    def bulk(self, kind: type[Base], rows: Sequence[Mapping[str, Any]]) -> int:
        """Write many new rows at driver speed, all with the same columns; returns the first key."""
        table = cast("Table", kind.__table__)
        if not rows:
            return self._next.get(table.name, 1)
        first, defaults = self.next_id(table, len(rows)), _defaults(table)
        filled = [
            {
                **defaults,
                **{
                    key: value if type(value) in _FIT_ANYWHERE else _fitting(table, key, value)
                    for key, value in row.items()
                },
                **_salted(table),
                "id": first + place,
            }
            for place, row in enumerate(rows)
        ]
        self._write(table, filled)
        for row in filled:
            self._note(table, row["id"], row)
        metered = {first + place: found for place, row in enumerate(rows) if (found := metered_in(row))}
        if metered:
            self._keep_sources(table, metered)
        return first

    def _keep_sources(self, table: Table, metered: Mapping[int, Mapping[str, Metered]]) -> None:
        """Write down of the figures that meters gave, by key and column, where they came from."""
        kept = [
            meter_row(table.name, key, name, value) for key, each in metered.items() for name, value in each.items()
        ]
        if kept:
            self.bulk(MeterReading, kept)

    def erase(self, kind: type[Base], chosen: ColumnElement[bool]) -> int:
        """Delete rows of an erasable table and note which went, never what stood in them; returns how many."""
        table = cast("Table", kind.__table__)
        if not _is_erasable(table):
            raise TypeError(say("{name}: is history, of which no row is deleted", name=table.name))
        self.session.flush()
        gone = list(self.session.scalars(select(table.c.id).where(chosen)))
        self.session.execute(delete(kind).where(table.c.id.in_(gone)))
        self._bound.update(((table.name, key), None) for key in gone)
        return len(gone)

    @contextmanager
    def gathering(self) -> Iterator[Callable[[], None]]:
        """Hold what `bulk` and `close_entry` write until the caller says so, and at the end, to go in few statements.

        Held rows cannot be read yet. The entries, their order and their hashes are those of writing each at once.
        """
        self._held = {}
        yield self._let_go
        self._let_go()
        self._held = None

    def _let_go(self) -> None:
        for table, rows in (self._held or {}).items():
            _insert(self.session, table, rows)
        self._held = {}

    def _write(self, table: Table, rows: Sequence[Mapping[str, Any]]) -> None:
        if self._held is None:
            _insert(self.session, table, rows)
        else:
            self._held.setdefault(table, []).extend(rows)

    def get(self, kind: type[Row], key: int | None, what: str) -> Row:
        """The row with this key, or NotFound in the words given."""
        row = self.session.get(kind, key) if key is not None else None
        if row is None:
            raise NotFound(say("{what}: not recorded; check the entry", what=say(what)))
        return row

    def explain(self, **why: Any) -> None:
        """Keep with the next journal entry why rows were changed and what stood in them before."""
        self._why = why

    def close_entry(self, at: datetime | None = None, name: str | None = None, subject: str | None = None) -> str:
        """Write the journal entry of what was done since the last one; returns its hash."""
        if not self.pending and self.name not in WITHOUT_ROWS:
            raise Refused(say("{name}: nothing changed, so nothing was recorded", name=self.name))
        self._refuse_frozen()
        head = self.head
        number, previous = head.number + 1, head.hash
        said = {"clock": self.clock_said} if self.clock_said is not None else {}
        why = {"why": canonical(self._why)} if self._why else {}
        bound = {"bound": [[*key, self._bound[key]] for key in sorted(self._bound)]} if self._bound else {}
        content = canonical_rows({"rows": self._changes, **bound, **why, **said})
        when, act, about = at or self.at, name or self.name, clean_text(subject or self.subject)[:LONGEST_SUBJECT]
        digest = entry_hash(number, when, self.person_id, act, about, content, previous)
        entry = {
            "id": number, "at": when, "person_id": self.person_id, "act": act, "subject": about, "content": content,
            "previous": previous, "hash": digest,
        }  # fmt: skip
        self._write(cast("Table", Journal.__table__), [entry])
        self._changes, self._bound, self._why = [], {}, {}
        self._entries += 1
        self._head = Head(number, when, digest)
        return digest

    def _refuse_frozen(self) -> None:
        """Refused where a row of this entry belongs to what is frozen; only a hold that was written can freeze more."""
        if not self._nothing_frozen or any(change[0] == HOLD for change in self._changes):
            self._nothing_frozen = refuse_frozen(self.session, self.name, self._changes)

    def _note(self, table: Table, key: int, values: dict[str, Any]) -> None:
        if _is_erasable(table):
            self._bound[table.name, key] = commitment(table.name, {each: values[each] for each in bound_columns(table)})
        else:
            noted = dict(values)
            noted.pop("id", None)
            self._changes.append([table.name, key, noted])

    @property
    def pending(self) -> bool:
        """Whether something was written that no journal entry holds yet."""
        return bool(self._changes or self._bound)

    @property
    def head(self) -> Head:
        """The last entry, as this act left it."""
        return self._head or last_entry(self.session)

    @property
    def entries(self) -> int:
        """How many journal entries this act has written."""
        return self._entries


def last_entry(session: Session) -> Head:
    """The last entry of the journal; one statement."""
    query = select(Journal.id, Journal.at, Journal.hash).order_by(Journal.id.desc()).limit(1)
    found = session.execute(query).first()
    return Head(*found) if found is not None else Head(0, None, FIRST_PREVIOUS)


def _insert(session: Session, table: Table, rows: Sequence[Mapping[str, Any]]) -> None:
    """Write rows that all have the same columns.

    A driver that takes values by their place is given columns bound at once: SQLAlchemy binds row by row.
    """
    connection = session.connection()
    made = _insert_of(table, connection.dialect, tuple(rows[0]))
    if made is None:
        session.execute(insert(table), rows)
        return
    statement, columns = made
    bound = [
        [row[name] for row in rows] if bind is None else [bind(row[name]) for row in rows] for name, bind in columns
    ]
    connection.exec_driver_sql(statement, list(zip(*bound, strict=True)))


Binds = Callable[[Any], Any] | None
"""What turns a value into what the driver takes; None where it takes it as it is."""


@lru_cache(maxsize=256)
def _insert_of(table: Table, dialect: Dialect, names: tuple[str, ...]) -> tuple[str, list[tuple[str, Binds]]] | None:
    """The statement, and in its order each column with what binds a value of it; None where values go by name."""
    compiled = insert(table).compile(dialect=dialect, column_keys=list(names))
    placed = getattr(compiled, "positiontup", None)
    if placed is None:
        return None
    kinds = ((name, table.c[name].type.dialect_impl(dialect)) for name in placed)
    return str(compiled), [(name, kind.bind_processor(dialect)) for name, kind in kinds]


def _fitting(table: Table, name: str, value: Any) -> Any:
    """The value as its column holds it; Refused for one that is too long or large there, which a server cannot keep."""
    if isinstance(value, str):
        value = clean_text(value)
        if len(value) > (most := _longest(table).get(name, MOST_TEXT)):
            raise Refused(
                say("{what}: is longer than {most} characters; shorten it", what=name.replace("_", " "), most=most)
            )
    elif isinstance(value, int) and not -MOST_WHOLE <= value <= MOST_WHOLE:
        raise Refused(
            say(
                "{what}: is larger than {most_whole}; enter it again",
                what=name.replace("_", " "),
                most_whole=MOST_WHOLE,
            )
        )
    return float(value) if isinstance(value, Metered) else value


@cache
def _longest(table: Table) -> dict[str, int]:
    """Characters that each column of a table may hold, where that is stated."""
    return {each.name: each.type.length for each in table.columns if isinstance(each.type, String) and each.type.length}


_FIT_ANYWHERE = frozenset((type(None), bool, float, datetime, date))
"""Kinds of values that any column of theirs holds as they are."""


def _is_erasable(table: Table) -> bool:
    return bool(table.info.get("erasable"))


@cache
def _defaults(table: Table) -> dict[str, Any]:
    """Each column's plain default, or nothing."""
    return {column.name: getattr(column.default, "arg", None) for column in table.columns}


def _salted(table: Table) -> dict[str, str]:
    return {"salt": new_salt()} if _is_erasable(table) else {}


@contextmanager
def transaction(
    database: Database, clock: Callable[[], datetime], person_id: int | None, name: str, subject: str
) -> Iterator[Transaction]:
    """One act in one transaction; it is committed with its journal entry, or nothing of it is kept."""
    with database.writing() as session:
        _refuse_repeated(database, session)
        act = Transaction(session, clock(), person_id, name, subject)
        act.follow(last_entry(session))
        session.info["at"] = act.at
        yield act
        if act.pending or not act.entries:
            act.close_entry()
        _commit(database, session, act)


def _commit(database: Database, session: Session, act: Transaction) -> None:
    """Commit an act, and tell the other desks; where the answer is lost, find out whether it was recorded.

    Raises Unreadable where it was not, and where that cannot be found out now.
    """
    head = act.head
    entries = range(head.number - act.entries + 1, head.number + 1)
    if not database.is_sqlite:
        session.execute(select(func.pg_notify(JOURNAL_MOVED, str(head.number))))
        session.flush()
        session.expunge_all()  # what was written stays readable for who wrote it, whatever is heard of the commit
    database.writes(entries)
    try:
        session.commit()
    except DBAPIError as fault:
        if not fault.connection_invalidated or not _was_recorded(database, act):
            database.wrote_not(entries)
            raise


def _was_recorded(database: Database, act: Transaction) -> bool:
    """Whether the act stands in the journal, asked on a new connection once the server has ended the cut one.

    Raises Unreadable where the server does not come back in time; what became of it is asked before the next act then.
    """
    wait, left = 0.1, FIND_OUT_SECONDS
    while True:
        try:
            with database.writing() as session:
                return _stands(session, act.head.hash)
        except (Unreadable, DBAPIError) as fault:
            if left <= 0:
                what = say("'{act}' of {subject}", act=act.name, subject=act.subject)
                database.in_doubt = act.head.hash, what
                raise Unreadable(
                    say(
                        "the connection was cut while {what} was recorded; whether it was is looked up once the "
                        "server is back, before anything else is recorded",
                        what=what,
                    )
                ) from fault
        time.sleep(wait)
        wait, left = min(2 * wait, 2.0), left - wait


def _stands(session: Session, digest: str) -> bool:
    return session.scalar(select(Journal.id).where(Journal.hash == digest)) is not None


def settle_doubt(database: Database) -> str:
    """What became of the act whose answer was lost, in one sentence; empty where there is none.

    Raises Unreadable where the server does not answer yet.
    """
    if database.in_doubt is None:
        return ""
    with database.writing() as session:  # the server has ended the cut one by now
        return _settled(database, session)[1]


def _settled(database: Database, session: Session) -> tuple[bool, str]:
    if database.in_doubt is None:
        return False, ""
    digest, what = database.in_doubt
    stands = _stands(session, digest)
    database.in_doubt = None
    if not stands:
        return False, say("{what} was not recorded; repeat it", what=what)
    return True, say("{what} was recorded before the connection was cut; look at it before you repeat it", what=what)


def _refuse_repeated(database: Database, session: Session) -> None:
    """Nothing where no act is in doubt, or it was not recorded; Refused once where it was."""
    stands, said = _settled(database, session)
    if stands:
        raise Refused(said)
