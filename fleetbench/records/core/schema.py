"""Base of all tables, and the column types that make SQLite and PostgreSQL hold the same values.

Rows of one statement as frozen records.
"""

import math
from collections.abc import Callable
from dataclasses import fields
from datetime import UTC, date, datetime
from itertools import starmap
from typing import TYPE_CHECKING, Annotated, Any, TypeVar, cast

from sqlalchemy import (
    Boolean,
    CheckConstraint,
    Connection,
    CursorResult,
    Date,
    DateTime,
    Dialect,
    Executable,
    Float,
    ForeignKey,
    Integer,
    MetaData,
    Select,
    String,
    inspect,
    select,
)
from sqlalchemy.orm import DeclarativeBase, mapped_column
from sqlalchemy.types import TypeDecorator

APPLICATION_ID = 0x666C6274
"""SQLite application id of a fleetbench database, so that a foreign file is known before it is touched."""

NAMING = {
    "ix": "ix_%(column_0_label)s",
    "uq": "uq_%(table_name)s_%(column_0_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_name)s",
    "pk": "pk_%(table_name)s",
}


class Moment(TypeDecorator[datetime]):
    """A UTC timestamp with zone on both databases; a naive one is refused."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError("timestamp: give its zone; a moment without one cannot be kept")
        return value.astimezone(UTC).replace(tzinfo=None) if dialect.name == "sqlite" else value.astimezone(UTC)

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


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


class Base(DeclarativeBase):
    """Every table: a plain integer key handed out under the act's lock, no database sequence."""

    metadata = MetaData(naming_convention=NAMING)
    type_annotation_map = {  # noqa: RUF012 - SQLAlchemy reads it as a class attribute
        datetime: Moment(),
        date: Date(),
        float: Figure(),
        str: String(),
        bool: Boolean(),
        int: Integer(),
    }


Key = Annotated[int, mapped_column(primary_key=True, autoincrement=False)]
Ref = Annotated[str | None, mapped_column(String(80), unique=True)]
"""The record's number on a centre's own sheet, so that the same sheet taken in twice changes nothing."""


def to(target: str, *, nullable: bool = False, index: bool = True, **more: Any) -> Any:
    """A foreign key column to `table.id`, indexed."""
    return mapped_column(ForeignKey(f"{target}.id"), nullable=nullable, index=index, **more)


def one_of(column: str, words: tuple[str, ...]) -> CheckConstraint:
    """A check that the column holds one of the words (or nothing)."""
    listed = ", ".join(f"'{word}'" for word in words)
    return CheckConstraint(f"{column} IS NULL OR {column} IN ({listed})", name=f"{column}_word")


Record = TypeVar("Record")

if TYPE_CHECKING:
    Query = Select[*tuple[Any, ...]]
else:
    Query = Select


def columns_of(kind: type[Any], /, *tables: Any, **stated: Any) -> tuple[Any, ...]:
    """The column for each field of a record class, in the order of its fields, so that no two can be swapped.

    A field takes what is stated for it by name, else the column of that name in the first table that has one;
    `unit_id` is the key of a table `unit`. Raises TypeError for a field without a column, and for a stated name that
    is no field.
    """
    names = [each.name for each in fields(kind)]
    strange = sorted(stated.keys() - set(names))
    if strange:
        raise TypeError(f"{kind.__name__}: has no field {strange[0]}")
    return tuple(stated[name] if name in stated else _column_for(kind, name, tables) for name in names)


def select_of(kind: type[Any], /, *tables: Any, **stated: Any) -> Query:
    """A SELECT of the columns of a record class; see columns_of."""
    return select(*columns_of(kind, *tables, **stated))


def _column_for(kind: type[Any], name: str, tables: tuple[Any, ...]) -> Any:
    for table in tables:
        mapper = inspect(table).mapper
        if name in mapper.columns:
            return getattr(table, name)
        if name == f"{mapper.local_table.name}_id":
            return table.id
    raise TypeError(f"{kind.__name__}.{name}: no column of that name; state which it is")


def records_of(connection: Connection, query: Executable, kind: Callable[..., Record]) -> tuple[Record, ...]:
    """What the statement selects, each row's columns given to `kind` in their order."""
    return tuple(starmap(kind, connection.execute(query).all()))


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
