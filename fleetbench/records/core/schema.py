"""Base of all tables, and the column types that make SQLite and PostgreSQL hold the same values.

Rows of one statement as frozen records.
"""

import math
from collections.abc import Callable, Hashable, Iterable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, is_dataclass
from datetime import UTC, date, datetime
from functools import cache, lru_cache, wraps
from itertools import accumulate, pairwise, starmap
from secrets import token_hex
from typing import TYPE_CHECKING, Annotated, Any, Concatenate, ParamSpec, TypeVar, cast, get_type_hints
from weakref import WeakSet

from sqlalchemy import (
    Boolean,
    CheckConstraint,
    ClauseElement,
    Connection,
    CursorResult,
    Date,
    DateTime,
    Dialect,
    Engine,
    Executable,
    Float,
    ForeignKey,
    FromClause,
    Index,
    Integer,
    MetaData,
    Select,
    String,
    Table,
    TextClause,
    event,
    inspect,
    select,
    text,
)
from sqlalchemy.ext.compiler import compiles
from sqlalchemy.orm import DeclarativeBase, mapped_column
from sqlalchemy.schema import CreateIndex
from sqlalchemy.sql.visitors import iterate
from sqlalchemy.types import TypeDecorator

from fleetbench.calc.core.languages import say
from fleetbench.calc.parts.kinds import slot_said

APPLICATION_ID = 0x666C6274
"""SQLite application id of a fleetbench database, so that a foreign file is known before it is touched."""

NAMING = {
    "ix": "ix_%(column_0_label)s",
    "uq": "uq_%(table_name)s_%(column_0_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_name)s",
    "pk": "pk_%(table_name)s",
}


class UtcTimestamp(TypeDecorator[datetime]):
    """A UTC timestamp with zone on both databases; a naive one is refused."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError("timestamp: give its zone; a moment without one cannot be kept")
        return value.astimezone(UTC).replace(tzinfo=None) if dialect.name == "sqlite" else value.astimezone(UTC)

    def result_processor(self, dialect: Dialect, coltype: Any) -> Callable[[Any], datetime | None]:
        """What makes a moment of the driver's value, once for equal ones in a row: lists read tens of thousands."""
        inner = self.impl_instance.result_processor(dialect, coltype)

        @lru_cache(4096)
        def moment(value: Any) -> datetime | None:
            found: datetime | None = value if inner is None else inner(value)
            if found is None:
                return None
            return found.replace(tzinfo=UTC) if found.tzinfo is None else found.astimezone(UTC)

        return moment


class Figure(TypeDecorator[float]):
    """A finite double; -0.0 becomes 0.0, so that both databases hash alike."""

    impl = Float(53)
    cache_ok = True

    def process_bind_param(self, value: float | None, dialect: Dialect) -> float | None:
        if value is None:
            return None
        if not math.isfinite(value):
            raise ValueError("figure: give a finite number")
        return float(value) + 0.0


class CalendarDay(TypeDecorator[date]):
    """A day; one object for equal ones that are read together."""

    impl = Date
    cache_ok = True

    def result_processor(self, dialect: Dialect, coltype: Any) -> Callable[[Any], date | None]:
        inner = self.impl_instance.result_processor(dialect, coltype)
        return _itself if inner is None else lru_cache(4096)(inner)


class Words(String):
    """Words; one object for equal ones that are read together, as nearly all rows hold one of a few in most columns."""

    def result_processor(self, dialect: Dialect, coltype: object) -> Callable[[Any], str | None]:
        return _itself


@lru_cache(4096)
def _itself(value: Any) -> Any:
    return value


class OwnWord(TypeDecorator[str]):
    """A word of a set that the program itself gives: kept plain, and said when it is read."""

    impl = String
    cache_ok = True

    def process_bind_param(self, value: str | None, dialect: Dialect) -> str | None:
        return None if value is None else value[:]

    def result_processor(self, dialect: Dialect, coltype: Any) -> Callable[[str | None], str | None]:
        """What says a word of the database; each is one of few, and lists read tens of thousands."""
        return _word_said


@lru_cache(10_000)
def _word_said(value: str | None) -> str | None:
    return None if value is None else say(value)


class SlotName(OwnWord):
    """The name of a slot: kept plain, and said where it is the usual one; any other is a centre's own."""

    cache_ok = True

    def result_processor(self, dialect: Dialect, coltype: Any) -> Callable[[str | None], str | None]:
        """What says a slot's name, as OwnWord says a word."""
        return _slot_name_said


@lru_cache(10_000)
def _slot_name_said(value: str | None) -> str | None:
    return None if value is None else slot_said(value)


class Base(DeclarativeBase):
    """Every table: a plain integer key handed out under the act's lock, no database sequence."""

    metadata = MetaData(naming_convention=NAMING)
    type_annotation_map = {  # noqa: RUF012 - SQLAlchemy reads it as a class attribute
        datetime: UtcTimestamp(),
        date: CalendarDay(),
        float: Figure(),
        str: Words(),
        bool: Boolean(),
        int: Integer(),
    }


Key = Annotated[int, mapped_column(primary_key=True, autoincrement=False)]
Ref = Annotated[str | None, mapped_column(String(80), unique=True)]
"""The record's number on a centre's own sheet, so that the same sheet taken in twice changes nothing."""


def new_salt() -> str:
    """A random salt of 128 bits in hex, so that what a digest binds cannot be found by trying names."""
    return token_hex(16)


Salt = Annotated[str, mapped_column(String(32), default=new_salt)]
"""What the digest of an erasable row is made with; it goes when the row goes, and the digest then tells nothing."""

UNBOUND = {"unbound": True}
"""Marks a column of an erasable table that is written outside the acts, such as wrong PINs."""


def to(target: str, *, nullable: bool = False, index: bool = True, **more: Any) -> Any:
    """A foreign key column to `table.id`, indexed."""
    return mapped_column(ForeignKey(f"{target}.id"), nullable=nullable, index=index, **more)


def one_of(column: str, words: Iterable[str]) -> CheckConstraint:
    """A check that the column holds one of the words, or of the members of an enumeration (or nothing)."""
    listed = ", ".join(f"'{word}'" for word in words)
    return CheckConstraint(f"{column} IS NULL OR {column} IN ({listed})", name=f"{column}_word")


def one_while(name: str, *columns: str, where: str) -> Index:
    """A unique index of the rows for which a condition holds, on both databases.

    PostgreSQL is told of the condition when the index is written: named here, it would be imported at every start.
    """
    return Index(name, *columns, unique=True, sqlite_where=text(where), info={_WHILE: where})


_WHILE = "while"


@compiles(CreateIndex, "postgresql")
def _with_condition(element: CreateIndex, compiler: Any, **more: Any) -> str:
    condition = element.element.info.get(_WHILE)
    if condition is not None:
        element.element.dialect_options["postgresql"]["where"] = text(condition)
    return str(compiler.visit_create_index(element, **more))


Record = TypeVar("Record")
Asked = ParamSpec("Asked")
Built = TypeVar("Built")

if TYPE_CHECKING:
    Query = Select[*tuple[Any, ...]]
else:
    Query = Select


def built_once(build: Callable[Asked, Built]) -> Callable[Asked, Built]:
    """A function that makes a statement, or a piece of one, which is made once for the same arguments and shared.

    Statements are never changed, only made into others; making one costs more than SQLite takes to answer it.
    """
    return cast("Callable[Asked, Built]", lru_cache(maxsize=128)(build))


def columns_of(kind: type[Any], /, *tables: Any, **stated: Any) -> tuple[Any, ...]:
    """The column for each field of a record class, in the order of its fields, so that no two can be swapped.

    A field takes what is stated for it by name, else the column of that name in the first table that has one;
    `unit_id` is the key of a table `unit`. A field that holds another record takes that record's columns, of the same
    tables or as stated by `columns_of`. Each column bears its field's name, so that a subquery of them is a table for
    another `columns_of`. Raises TypeError for a field without a column, and for a stated name that is no field.
    """
    held_in = _shape(kind).held
    strange = sorted(stated.keys() - held_in.keys())
    if strange:
        raise TypeError(f"{kind.__name__}: has no field {strange[0]}")
    found: list[Any] = []
    for name, held in held_in.items():
        if held is None:
            column = stated[name] if name in stated else _column_for(kind, name, tables)
            found.append(column if getattr(column, "key", None) == name else column.label(name))
        else:
            found.extend(stated[name] if name in stated else columns_of(held, *tables))
    return tuple(found)


def select_of(kind: type[Any], /, *tables: Any, **stated: Any) -> Query:
    """A SELECT of the columns of a record class, which `records_of` fills it from; see columns_of.

    Where nothing is stated the statement is the same at every call, and is built once.
    """
    if stated or any(isinstance(each, FromClause) for each in tables):
        return select(*columns_of(kind, *tables, **stated)).execution_options(**{_FILLS: kind}, **_BY_PLACE)
    return _plain_select(cast("Hashable", kind), tables)


@cache
def _plain_select(kind: Any, tables: tuple[Any, ...]) -> Query:
    return select(*columns_of(kind, *tables)).execution_options(**{_FILLS: kind}, **_BY_PLACE)


_FILLS = "fills"
"""The execution option that names the record class a statement was made for."""
_BY_PLACE = {"_result_disable_adapt_to_context": True}
"""As the ORM asks its own statements: rows are taken by place, so no column is looked up to name them, which took as
long as SQLite's answer."""


def record_of(query: Executable) -> type[Any] | None:
    """The record class a statement was made for by select_of, None for any other statement."""
    found: type[Any] | None = query.get_execution_options().get(_FILLS)
    return found


def _column_for(kind: type[Any], name: str, tables: tuple[Any, ...]) -> Any:
    for table in tables:
        if isinstance(table, FromClause):
            if name in table.c:
                return table.c[name]
            continue
        mapper = inspect(table).mapper
        if name in mapper.columns:
            return getattr(table, name)
        if name == f"{mapper.local_table.name}_id":
            return table.id
    raise TypeError(f"{kind.__name__}.{name}: no column of that name; state which it is")


@dataclass(frozen=True, slots=True)
class _Shape:
    """The fields of a record class, each with the record class it holds or None; how many columns; how to fill it."""

    held: dict[str, type[Any] | None]
    width: int
    fill: Callable[..., Any]


_SHAPES: dict[type[Any], _Shape] = {}


def _shape(kind: type[Any]) -> _Shape:
    """The shape of a dataclass or a named tuple, found once."""
    if kind not in _SHAPES:
        types = get_type_hints(kind)
        held = {name: each if is_dataclass(each) and isinstance(each, type) else None for name, each in types.items()}
        widths = [1 if each is None else _shape(each).width for each in held.values()]
        _SHAPES[kind] = _Shape(held, sum(widths), _filling(kind, list(held.values()), widths))
    return _SHAPES[kind]


def _filling(kind: type[Any], held: list[type[Any] | None], widths: list[int]) -> Callable[..., Any]:
    if all(each is None for each in held):
        return kind
    fills = [None if each is None else _shape(each).fill for each in held]
    ends = accumulate(widths, initial=0)
    cuts = [(start, end, fill) for (start, end), fill in zip(pairwise(ends), fills, strict=True)]

    def filled(*row: Any) -> Any:
        return kind(*[row[start] if fill is None else fill(*row[start:end]) for start, end, fill in cuts])

    return filled


def records_of(connection: Connection, query: Executable, kind: type[Record]) -> tuple[Record, ...]:
    """What the statement selects as records; TypeError for a statement that `select_of` did not make for them."""
    if record_of(query) is not kind:
        raise TypeError(f"{kind.__name__}: the statement was not made for it; make it with select_of")
    return tuple(starmap(_shape(kind).fill, connection.execute(query).all()))


_KEPT = "kept reads"
_IN_FORCE: ContextVar["tuple[Engine, KeptReads] | None"] = ContextVar("kept reads", default=None)
UNKNOWN_TABLE = "?"
"""Stands for what a statement of plain text reads: it counts as changed with any table."""


class KeptReads:
    """What was read of one database, for as long as no table that it was read from was changed.

    Through one connection that nobody else writes to, or while `serving` through every one of this thread; its
    user says what was changed. What is kept is never changed by those to whom it is given.
    """

    def __init__(self, connection: Connection | None = None) -> None:
        self._found: dict[Hashable, tuple[frozenset[str], int, Any]] = {}
        self._changed: dict[str, int] = {}
        self._reading: list[set[str]] = []
        self._now = self._all = 0
        if connection is not None:
            connection.info[_KEPT] = self
            event.listen(connection, "before_execute", self.note_tables)

    @contextmanager
    def serving(self, engine: Engine) -> Iterator[None]:
        """Serve every read that this thread asks of the engine meanwhile."""
        if engine not in _NOTED:
            event.listen(engine, "before_execute", _note_in_force)
            _NOTED.add(engine)
        before = _IN_FORCE.set((engine, self))
        try:
            yield
        finally:
            _IN_FORCE.reset(before)

    def changed(self, tables: Iterable[str]) -> None:
        """Read again what was read of these tables."""
        changed = [*tables]
        self._now += 1
        self._changed.update(dict.fromkeys([*changed, *([UNKNOWN_TABLE] if changed else ())], self._now))

    def forget(self) -> None:
        """Read everything again, also what is being read just now."""
        self._now += 1
        self._all = self._now
        self._found.clear()

    def of(self, what: Hashable, read: Callable[[], Built]) -> Built:
        """What is read, known where none of its tables was changed since it was begun."""
        tables, since, answer = self._found.get(what, (frozenset(), 0, None))
        if not self.stands(what):
            self._reading.append(set())
            since = self._now
            try:
                answer = read()
            finally:
                tables = frozenset(self._reading.pop() or {UNKNOWN_TABLE})
            self._found[what] = tables, since, answer
        if self._reading:
            self._reading[-1] |= tables
        return cast("Built", answer)

    def stands(self, what: Hashable) -> bool:
        """Whether this is known, since none of its tables was changed."""
        tables, since, _ = self._found.get(what, (None, 0, None))
        return tables is not None and since >= self._all and all(self._changed.get(name, 0) <= since for name in tables)

    def note_tables(self, _connection: Connection, query: ClauseElement, *_rest: object) -> None:
        """Note which tables a statement reads, for what is being read."""
        if self._reading:
            self._reading[-1] |= _tables_of(query)


_NOTED: WeakSet[Engine] = WeakSet()


def _note_in_force(connection: Connection, query: ClauseElement, *rest: object) -> None:
    kept = _kept_of(connection)
    if kept is not None:
        kept.note_tables(connection, query, *rest)


def _kept_of(connection: Connection) -> KeptReads | None:
    own: KeptReads | None = connection.info.get(_KEPT)
    if own is not None:
        return own
    engine, kept = _IN_FORCE.get() or (None, None)
    return kept if engine is connection.engine else None


@lru_cache(maxsize=512)
def _tables_of(query: ClauseElement) -> frozenset[str]:
    """The names of the tables of a statement, which is the same object at every call where it was built once."""
    parts = [*iterate(query)]
    told = {each.name for each in parts if isinstance(each, Table)}
    return frozenset(told | {UNKNOWN_TABLE} if any(isinstance(each, TextClause) for each in parts) else told)


def read_if_changed(
    read: Callable[Concatenate[Connection, Asked], Built],
) -> Callable[Concatenate[Connection, Asked], Built]:
    """A read that is asked again only where a table of it was changed, if the connection has its `KeptReads`."""

    @wraps(read)
    def ask(connection: Connection, /, *asked: Asked.args, **more: Asked.kwargs) -> Built:
        return known_or_read(connection, (read, asked, *more.items()), lambda: read(connection, *asked, **more))

    return ask


def known_or_read(connection: Connection, what: Hashable, read: Callable[[], Built]) -> Built:
    """What is read, known where the connection has its `KeptReads` and no table of it was changed."""
    kept = _kept_of(connection)
    return read() if kept is None else kept.of(what, read)


def reads(
    kind: type[Record],
) -> Callable[[Callable[Asked, Query]], Callable[Concatenate[Connection, Asked], tuple[Record, ...]]]:
    """Make a function that gives a statement into one that asks it of a connection, and gives its records.

    The statement is made once for the same arguments, which are numbers, words or other statements.
    """

    def reader(build: Callable[Asked, Query]) -> Callable[Concatenate[Connection, Asked], tuple[Record, ...]]:
        statement = built_once(build)

        @wraps(build)
        def read(connection: Connection, /, *asked: Asked.args, **more: Asked.kwargs) -> tuple[Record, ...]:
            query = statement(*asked, **more)
            return known_or_read(connection, query, lambda: records_of(connection, query, kind))

        return read

    return reader


def record_or_none(connection: Connection, query: Executable, kind: type[Record]) -> Record | None:
    """The first of what the statement selects, as `records_of` gives it, None where it selects nothing."""
    return next(iter(records_of(connection, query, kind)), None)


def plain_rows(connection: Connection, query: Executable) -> list[tuple[Any, ...]]:
    """What the statement selects as the driver gives it: for hundreds of thousands of rows of plain numbers and text.

    No column is turned into a Python date or moment on the way.
    """
    result = cast("CursorResult[Any]", connection.execute(query))
    cursor = result.cursor
    if cursor is None:
        raise TypeError("query: selects nothing; give a SELECT")
    rows = list(cursor.fetchall())
    result.close()
    return rows
