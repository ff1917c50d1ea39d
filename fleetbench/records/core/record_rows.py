"""Rows of one statement as frozen records."""

from collections.abc import Callable
from itertools import starmap
from typing import TYPE_CHECKING, Any, TypeVar, cast

from sqlalchemy import Connection, CursorResult, Executable, Select

Record = TypeVar("Record")

if TYPE_CHECKING:
    Query = Select[*tuple[Any, ...]]
else:
    Query = Select


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
