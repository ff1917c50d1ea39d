"""A row in every table of whatever revision a database has, made from what the tables say of themselves.

A value is of its column's type, one of those that a check allows, and points to the row of the same number; it says
nothing of the trade.
"""

import re
from collections.abc import Iterator
from contextlib import suppress
from datetime import UTC, date, datetime, timedelta
from graphlib import TopologicalSorter
from typing import Any

from sqlalchemy import (
    Boolean,
    Connection,
    CursorResult,
    Date,
    DateTime,
    Float,
    Integer,
    Numeric,
    TextClause,
    bindparam,
    inspect,
    text,
)
from sqlalchemy.engine.interfaces import ReflectedColumn
from sqlalchemy.exc import IntegrityError

VERSION_TABLE = "alembic_version"
IN = re.compile(r"""["(\s]*(\w+)["]?(?:::text|\)|\s)*\s*(?:IN\s*\(|=\s*ANY\s*\(+ARRAY\[)(.*?)[\])]""", re.DOTALL)
EITHER = re.compile(r"(\w+) IS NULL\) <> \(")
WORD = re.compile(r"'((?:[^']|'')*)'")


def fill_every_table(connection: Connection, number: int) -> None:
    """Write row `number` into every table, but where each word that a column may hold stands in one already.

    Every third says nothing where a column may hold nothing, and its table lets such a row in.
    """
    told = inspect(connection)  # its tables as objects, with every index, would cost twice as much at each revision
    columns = {name: found for (_, name), found in told.get_multi_columns().items() if name != VERSION_TABLE}
    keys = {name: found for (_, name), found in told.get_multi_foreign_keys().items()}
    listed = {name: found for (_, name), found in told.get_multi_check_constraints().items()}
    before = {name: {key["referred_table"] for key in keys[name]} - {name} for name in sorted(columns)}
    for name in TopologicalSorter(before).static_order():
        checks = [each["sqltext"] for each in listed[name]]
        pointing = {column for key in keys[name] for column in key["constrained_columns"]}
        full = dict(_values(columns[name], pointing, checks, number))
        bare = {each["name"]: None if each["nullable"] else full[each["name"]] for each in columns[name]}
        query = _insert(name, columns[name])
        for row in (bare, full) if number % 3 == 0 else (full,):
            with suppress(IntegrityError), connection.begin_nested():
                connection.execute(query, row)
                break
        assert connection.scalar(text(f'SELECT count(*) FROM "{name}"')), f"{name} is empty"


def _insert(table: str, columns: list[ReflectedColumn]) -> TextClause:
    names = [each["name"] for each in columns]
    into, values = ", ".join(f'"{name}"' for name in names), ", ".join(f":{name}" for name in names)
    typed = [bindparam(each["name"], type_=each["type"]) for each in columns]
    return text(f'INSERT INTO "{table}" ({into}) VALUES ({values})').bindparams(*typed)


def rows_of_every_table(connection: Connection) -> dict[str, list[dict[str, Any]]]:
    """All rows by table, in the order of their keys, as the driver gives them."""
    names = set(inspect(connection).get_table_names()) - {VERSION_TABLE}
    asked = {name: text(f'SELECT * FROM "{name}" ORDER BY id') for name in sorted(names)}
    return {name: _by_column(connection.execute(query)) for name, query in asked.items()}


def _by_column(found: CursorResult[Any]) -> list[dict[str, Any]]:
    names = tuple(found.keys())
    return [dict(zip(names, row, strict=True)) for row in found]


def _values(
    columns: list[ReflectedColumn], pointing: set[str], checks: list[str], number: int
) -> Iterator[tuple[str, Any]]:
    left_out = {name for check in checks for name in EITHER.findall(check)}
    allowed = _allowed({each["name"] for each in columns}, checks)
    for column in columns:
        name = column["name"]
        words = allowed.get(name)
        if name in left_out:
            yield name, None
        elif words:
            yield name, words[number % len(words)]
        elif name == "id" or name in pointing:
            yield name, number
        else:
            yield name, _value(column["type"], number)


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


def _allowed(columns: set[str], checks: list[str]) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for column, listed in (each for check in checks for each in IN.findall(check)):
        if column in columns and (words := WORD.findall(listed)):
            found.setdefault(column, [each.replace("''", "'") for each in words])
    return found
