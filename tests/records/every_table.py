"""A row in every table of whatever revision a database has, made from what the tables say of themselves.

A value is of its column's type, one of those that a check allows, and points to the row of the same number; it says
nothing of the trade.
"""

import re
from collections.abc import Iterator
from contextlib import suppress
from datetime import UTC, date, datetime, timedelta
from typing import Any

from sqlalchemy import (
    Boolean,
    Connection,
    CursorResult,
    Date,
    DateTime,
    Float,
    Integer,
    MetaData,
    Numeric,
    Table,
    func,
    inspect,
    select,
    text,
)
from sqlalchemy.exc import IntegrityError

VERSION_TABLE = "alembic_version"
IN = re.compile(r"""["(\s]*(\w+)["]?(?:::text|\)|\s)*\s*(?:IN\s*\(|=\s*ANY\s*\(+ARRAY\[)(.*?)[\])]""", re.DOTALL)
EITHER = re.compile(r"(\w+) IS NULL\) <> \(")
WORD = re.compile(r"'((?:[^']|'')*)'")


def fill_every_table(connection: Connection, number: int) -> None:
    """Write row `number` into every table, but where each word that a column may hold stands in one already.

    Every third says nothing where a column may hold nothing, and its table lets such a row in.
    """
    there = MetaData()
    there.reflect(connection)
    listed = {name: found for (_, name), found in inspect(connection).get_multi_check_constraints().items()}
    for table in there.sorted_tables:
        if table.name != VERSION_TABLE:
            checks = [each["sqltext"] for each in listed[table.name]]
            full = dict(_values(table, checks, number))
            bare = {name: None if table.columns[name].nullable else value for name, value in full.items()}
            for row in (bare, full) if number % 3 == 0 else (full,):
                with suppress(IntegrityError), connection.begin_nested():
                    connection.execute(table.insert(), [row])
                    break
            assert connection.scalar(select(func.count()).select_from(table)), f"{table.name} is empty"


def rows_of_every_table(connection: Connection) -> dict[str, list[dict[str, Any]]]:
    """All rows by table, in the order of their keys, as the driver gives them."""
    names = set(inspect(connection).get_table_names()) - {VERSION_TABLE}
    asked = {name: text(f'SELECT * FROM "{name}" ORDER BY id') for name in sorted(names)}
    return {name: _by_column(connection.execute(query)) for name, query in asked.items()}


def _by_column(found: CursorResult[Any]) -> list[dict[str, Any]]:
    names = tuple(found.keys())
    return [dict(zip(names, row, strict=True)) for row in found]


def _values(table: Table, checks: list[str], number: int) -> Iterator[tuple[str, Any]]:
    left_out = {name for check in checks for name in EITHER.findall(check)}
    keys = {key.parent.name for key in table.foreign_keys}
    allowed = _allowed(table, checks)
    for column in table.columns:
        words = allowed.get(column.name)
        if column.name in left_out:
            yield column.name, None
        elif words:
            yield column.name, words[number % len(words)]
        elif column.name == "id" or column.name in keys:
            yield column.name, number
        else:
            yield column.name, _value(column.type, number)


def _value(kind: Any, number: int) -> Any:
    moment = datetime(2025, 1, 1, 8, tzinfo=UTC) + timedelta(days=number)
    for type_, value in (
        (Boolean, number % 2 == 0), (DateTime, moment), (Date, date(2025, 1, 1) + timedelta(days=number)),
        (Integer, number), (Float, number + 0.5), (Numeric, number + 0.5),
    ):  # fmt: skip
        if isinstance(kind, type_):
            return value
    length = getattr(kind, "length", None) or 12
    return f"ÄÖ {number}"[-length:]


def _allowed(table: Table, checks: list[str]) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for column, listed in (each for check in checks for each in IN.findall(check)):
        if column in table.columns and (words := WORD.findall(listed)):
            found.setdefault(column, [each.replace("''", "'") for each in words])
    return found
