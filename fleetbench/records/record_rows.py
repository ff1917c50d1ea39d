"""Rows of one statement as frozen records."""

from collections.abc import Callable
from itertools import starmap
from typing import TYPE_CHECKING, Any, TypeVar

from sqlalchemy import Connection, Executable, Select

Record = TypeVar("Record")

if TYPE_CHECKING:
    Query = Select[*tuple[Any, ...]]
else:
    Query = Select


def records_of(connection: Connection, query: Executable, kind: Callable[..., Record]) -> tuple[Record, ...]:
    """What the statement selects, each row's columns given to `kind` in their order."""
    return tuple(starmap(kind, connection.execute(query)))
