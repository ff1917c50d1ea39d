"""What a table holds, told without SQL: its columns with their rules, what stands in it once only, and its rows."""

import re
from dataclasses import dataclass
from enum import Enum
from typing import Any, cast

from sqlalchemy import (
    Boolean,
    CheckConstraint,
    Column,
    ColumnElement,
    Connection,
    Date,
    Integer,
    String,
    Table,
    UniqueConstraint,
    select,
)

from fleetbench.records.core.schema import Base, Figure, Moment

__all__ = ["ColumnFacts", "Connection", "Holds", "column_facts", "rows_of", "table_name", "unique_sets"]


class Holds(Enum):
    """What a column holds."""

    TEXT = "text"
    WORD = "word"
    WHOLE = "whole number"
    FIGURE = "number"
    YES_NO = "yes or no"
    DAY = "date"
    MOMENT = "date and time"
    KEY = "key"


@dataclass(frozen=True, slots=True)
class ColumnFacts:
    """One column: what it holds, whether it must, and its words, length or target table where it has them."""

    name: str
    holds: Holds
    required: bool
    default: Any
    words: tuple[str, ...]
    longest: int | None
    target: str | None


def table_name(kind: type[Base]) -> str:
    """The table's name in the database."""
    return _table(kind).name


def column_facts(kind: type[Base]) -> dict[str, ColumnFacts]:
    """Every column of a table by name."""
    table = _table(kind)
    return {column.name: _facts(table, column) for column in table.columns}


def unique_sets(kind: type[Base]) -> tuple[tuple[str, ...], ...]:
    """Columns whose values together may stand only once in a table, whatever else the rows hold."""
    table = _table(kind)
    found = [tuple(each.columns.keys()) for each in table.constraints if isinstance(each, UniqueConstraint)]
    for index in table.indexes:
        if index.unique and index.dialect_options["sqlite"].get("where") is None:
            found.append(tuple(index.columns.keys()))
    return tuple(sorted(found))


def rows_of(
    connection: Connection, kind: type[Base], chosen: ColumnElement[bool] | None = None, *order: Any
) -> list[dict[str, Any]]:
    """The rows of a table as column and value, all or chosen ones, by key or in the order asked for; one statement."""
    table = _table(kind)
    query = select(table).order_by(*(order or (table.c.id,)))
    if chosen is not None:
        query = query.where(chosen)
    return [dict(row) for row in connection.execute(query).mappings()]


def _table(kind: type[Base]) -> Table:
    return cast("Table", kind.__table__)


def _facts(table: Table, column: Column[Any]) -> ColumnFacts:
    words = _words(table, column.name)
    key = next(iter(column.foreign_keys), None)
    return ColumnFacts(
        name=column.name,
        holds=Holds.KEY if key is not None else Holds.WORD if words else _holds(column),
        required=not (column.nullable or column.default is not None),
        default=getattr(column.default, "arg", None),
        words=words,
        longest=column.type.length if isinstance(column.type, String) else None,
        target=key.column.table.name if key is not None else None,
    )


def _holds(column: Column[Any]) -> Holds:
    for kind, holds in (
        (Moment, Holds.MOMENT), (Date, Holds.DAY), (Figure, Holds.FIGURE), (Boolean, Holds.YES_NO),
        (Integer, Holds.WHOLE),
    ):  # fmt: skip
        if isinstance(column.type, kind):
            return holds
    return Holds.TEXT


def _words(table: Table, column: str) -> tuple[str, ...]:
    for constraint in table.constraints:
        if isinstance(constraint, CheckConstraint) and str(constraint.name).endswith(f"{table.name}_{column}_word"):
            return tuple(re.findall(r"'([^']*)'", str(constraint.sqltext)))
    return ()
