"""Whether the tables themselves are those of this program: nothing planted, nothing dropped, no check altered."""

import re
from collections.abc import Iterator
from functools import cache

from sqlalchemy import Connection, create_engine, text
from sqlalchemy.pool import StaticPool

from fleetbench.records.upkeep.migrate import VERSION_TABLE, head_revision, upgrade
from fleetbench.records.upkeep.tables import metadata

PARTS = "SELECT type, name, tbl_name, sql FROM sqlite_master WHERE name NOT LIKE 'sqlite_%'"
ON_SERVER = {
    "trigger": "SELECT t.tgname FROM pg_trigger t JOIN pg_class c ON c.oid = t.tgrelid"
    " WHERE NOT t.tgisinternal AND c.relnamespace = current_schema()::regnamespace",
    "rule": "SELECT rulename FROM pg_rules WHERE schemaname = current_schema()",
    "view": "SELECT viewname FROM pg_views WHERE schemaname = current_schema()",
    "function": "SELECT proname FROM pg_proc WHERE pronamespace = current_schema()::regnamespace",
}
"""What this program never makes on a server, by its kind."""


def planted(connection: Connection) -> Iterator[str]:
    """Every table, column, index, check, trigger or view that is not as this program's migrations make it."""
    if connection.dialect.name == "sqlite":
        yield from _in_file(connection)
    else:
        yield from _on_server(connection)


def _in_file(connection: Connection) -> Iterator[str]:
    there = {(kind, name): _plain(sql) for kind, name, _, sql in connection.execute(text(PARTS))}
    expected = _expected()
    for kind, name in sorted(there.keys() - expected.keys()):
        yield f"{kind} {name}: is not of this program"
    for kind, name in sorted(expected.keys() - there.keys()):
        yield f"{kind} {name}: is missing"
    for kind, name in sorted(there.keys() & expected.keys()):
        if there[kind, name] != expected[kind, name]:
            yield f"{kind} {name}: its columns or checks are not those of this program"
    revision = connection.scalar(text(f"SELECT max(version_num) FROM {VERSION_TABLE}"))
    if revision != head_revision():
        yield f"{VERSION_TABLE}: says {revision}, the tables are of {head_revision()}"


@cache
def _expected() -> dict[tuple[str, str], tuple[str, ...]]:
    """What the migrations make, from a database in memory."""
    engine = create_engine("sqlite://", poolclass=StaticPool)
    with engine.connect() as connection:
        upgrade(connection)
        found = {(kind, name): _plain(sql) for kind, name, _, sql in connection.execute(text(PARTS))}
    engine.dispose()
    return found


def _plain(sql: str | None) -> tuple[str, ...]:
    """The clauses of a statement without regard to their order, which differs where a table was made again."""
    said = re.sub(r"\s+", " ", (sql or "").replace('"', "")).strip()
    depth, clauses = 0, [""]
    for char in said:
        depth += (char == "(") - (char == ")")
        if (char == "," and depth == 1) or (char == "(" and depth == 1) or (char == ")" and depth == 0):
            clauses.append("")
        else:
            clauses[-1] += char
    return tuple(sorted(each.strip() for each in clauses))


def _on_server(connection: Connection) -> Iterator[str]:
    for kind, query in ON_SERVER.items():
        for name in sorted(connection.scalars(text(query))):
            yield f"{kind} {name}: is not of this program"
    query = "SELECT table_name, column_name FROM information_schema.columns WHERE table_schema = current_schema()"
    there = {(table, column) for table, column in connection.execute(text(query))}
    expected = {(table.name, column.name) for table in metadata.tables.values() for column in table.columns}
    for table, column in sorted(there - expected):
        if table != VERSION_TABLE:
            yield f"table {table}: column {column} is not of this program"
    for table, column in sorted(expected - there):
        yield f"table {table}: column {column} is missing"
    indexes = {index.name for table in metadata.tables.values() for index in table.indexes}
    present = set(connection.scalars(text("SELECT indexname FROM pg_indexes WHERE schemaname = current_schema()")))
    for name in sorted(indexes - present, key=str):
        yield f"index {name}: is missing"
