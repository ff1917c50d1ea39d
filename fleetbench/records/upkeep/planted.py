"""What cannot be true in the records: rows and tables planted, dropped or altered, and a clock that ran ahead."""

import json
import re
from collections.abc import Iterator
from datetime import date, datetime, timedelta, tzinfo
from functools import cache
from itertools import chain
from typing import Any

from sqlalchemy import Column, Connection, Table, create_engine, select, text
from sqlalchemy.pool import StaticPool

from fleetbench.calc.core.languages import say
from fleetbench.records.core.database import VERSION_TABLE
from fleetbench.records.core.errors import Refused
from fleetbench.records.core.journal import Journal, bound_columns, commitment
from fleetbench.records.core.schema import Base
from fleetbench.records.core.transaction import Transaction
from fleetbench.records.upkeep.migrate import head_revision, upgrade
from fleetbench.records.upkeep.tables import days_and_moments_past, metadata

PARTS = (
    "SELECT type, name, tbl_name, sql FROM sqlite_master"
    " WHERE NOT (type = 'index' AND sql IS NULL AND name GLOB 'sqlite_autoindex_*')"
    " AND NOT (type = 'table' AND name IN ('sqlite_stat1', 'sqlite_stat4'))"
)
"""What stands in a file, but for SQLite's own indexes and counts of rows."""

HERE = "current_schema()::regnamespace"
FOREIGN = {
    "trigger": "SELECT t.tgname FROM pg_trigger t JOIN pg_class c ON c.oid = t.tgrelid"
    f" WHERE NOT t.tgisinternal AND c.relnamespace = {HERE}",
    "disabled check of keys": "SELECT DISTINCT c.relname FROM pg_trigger t JOIN pg_class c ON c.oid = t.tgrelid"
    f" WHERE t.tgisinternal AND t.tgenabled <> 'O' AND c.relnamespace = {HERE}",
    "event trigger": "SELECT evtname FROM pg_event_trigger",
    "rule": "SELECT rulename FROM pg_rules WHERE schemaname = current_schema()",
    "view": f"SELECT relname FROM pg_class WHERE relkind IN ('v', 'm') AND relnamespace = {HERE}",
    "sequence or foreign table": f"SELECT relname FROM pg_class WHERE relkind IN ('S', 'f') AND relnamespace = {HERE}",
    "function": f"SELECT proname FROM pg_proc WHERE pronamespace = {HERE}",
    "row policy": "SELECT p.polname FROM pg_policy p JOIN pg_class c ON c.oid = p.polrelid"
    f" WHERE c.relnamespace = {HERE}",
    "rule that hides rows of table": "SELECT relname FROM pg_class"
    f" WHERE (relrowsecurity OR relforcerowsecurity) AND relnamespace = {HERE}",
    "setting by which a crash empties table": "SELECT relname FROM pg_class WHERE relkind IN ('r', 'p')"
    f" AND relpersistence = 'u' AND relnamespace = {HERE}",
    "child table": "SELECT i.inhrelid::regclass::text FROM pg_inherits i JOIN pg_class c ON c.oid = i.inhparent"
    f" WHERE c.relnamespace = {HERE}",
}
"""What this program never makes on a server, by its kind."""

SHAPES = {
    "table": "SELECT c.relname, '', '' FROM pg_class c WHERE c.relkind IN ('r', 'p') AND {here}",
    "column": "SELECT c.relname, a.attname, format_type(a.atttypid, a.atttypmod) || ' ' || a.attnotnull::text || ' '"
    " || coalesce(pg_get_expr(d.adbin, d.adrelid), '') || a.attgenerated::text || a.attidentity::text"
    " FROM pg_attribute a JOIN pg_class c ON c.oid = a.attrelid"
    " LEFT JOIN pg_attrdef d ON d.adrelid = a.attrelid AND d.adnum = a.attnum"
    " WHERE c.relkind IN ('r', 'p') AND a.attnum > 0 AND NOT a.attisdropped AND {here}",
    "check": "SELECT c.relname, k.conname, pg_get_constraintdef(k.oid) FROM pg_constraint k"
    " JOIN pg_class c ON c.oid = k.conrelid WHERE k.contype <> 'n' AND {here}",
    "index": "SELECT t.relname, c.relname, pg_get_indexdef(c.oid) FROM pg_class c"
    " JOIN pg_index x ON x.indexrelid = c.oid JOIN pg_class t ON t.oid = x.indrelid"
    " WHERE c.relkind IN ('i', 'I') AND {here}",
}
"""Table, name and definition of everything that belongs to a table on a server, by its kind."""


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
        yield say("{kind} {name}: is not of this program", kind=say(kind), name=name)
    for kind, name in sorted(expected.keys() - there.keys()):
        yield say("{kind} {name}: is missing", kind=say(kind), name=name)
    for kind, name in sorted(there.keys() & expected.keys()):
        if there[kind, name] != expected[kind, name]:
            yield say("{kind} {name}: its columns or checks are not those of this program", kind=say(kind), name=name)
    yield from _revision(connection)


def _revision(connection: Connection) -> Iterator[str]:
    said = sorted(map(str, connection.scalars(text(f"SELECT version_num FROM {VERSION_TABLE}"))))
    if said != [head_revision()]:
        yield say("{table}: says {found}, the tables are of {head}",
                  table=VERSION_TABLE, found=", ".join(said) or say("nothing"), head=head_revision())  # fmt: skip


@cache
def _expected() -> dict[tuple[str, str], tuple[str, ...]]:
    """What a new file is made with, from a database in memory."""
    engine = create_engine("sqlite://", poolclass=StaticPool)
    with engine.connect() as connection:
        upgrade(connection)
        found = {(kind, name): _plain(sql) for kind, name, _, sql in connection.execute(text(PARTS))}
    engine.dispose()
    return found


def _plain(sql: str | None) -> tuple[str, ...]:
    """The clauses of a statement without regard to their order, which differs where a table was made again."""
    return tuple(sorted(clauses(sql)))


def clauses(sql: str | None) -> list[str]:
    """What a statement begins with, each of its columns and rules in their order, and what it ends with."""
    said = re.sub(r"\s+", " ", (sql or "").replace('"', "")).strip()
    depth, found = 0, [""]
    for char in said:
        depth += (char == "(") - (char == ")")
        if (char == "," and depth == 1) or (char == "(" and depth == 1) or (char == ")" and depth == 0):
            found.append("")
        else:
            found[-1] += char
    return [each.strip() for each in found]


def _on_server(connection: Connection) -> Iterator[str]:
    yield from _revision(connection)
    for kind, query in FOREIGN.items():
        for name in sorted(connection.scalars(text(query))):
            yield say("{kind} {name}: is not of this program", kind=say(kind), name=name)
    if not connection.scalar(text("SELECT has_database_privilege(current_database(), 'TEMPORARY')")):
        yield say(
            "tables: cannot be compared, since this user may make no temporary ones; run desk_roles.sql on the server"
        )
        return
    there = _shapes(connection, f"c.relnamespace = {HERE}")
    expected = _shapes_on_server(connection)
    for kind, table, name in sorted(there.keys() - expected.keys()):
        if table != VERSION_TABLE:
            yield say("{place} is not of this program", place=_place(kind, table, name))
    for kind, table, name in sorted(expected.keys() - there.keys()):
        yield say("{place} is missing", place=_place(kind, table, name))
    for kind, table, name in sorted(there.keys() & expected.keys()):
        if there[kind, table, name] != expected[kind, table, name]:
            yield say("{place} is not as this program makes it", place=_place(kind, table, name))


def _place(kind: str, table: str, name: str) -> str:
    if not name:
        return say("{kind} {table}:", kind=say(kind), table=table)
    return say("{kind} {name} of table {table}:", kind=say(kind), name=name, table=table)


Shapes = dict[tuple[str, str, str], str]
"""Definitions by kind, table and name."""

_EXPECTED: dict[Any, Shapes] = {}
"""What each release of the server tells of this program's tables; none words a definition of its own differently."""


def _shapes_on_server(connection: Connection) -> Shapes:
    """The shapes of this program's tables as this very server tells them, from temporary ones that are rolled back."""
    release = connection.dialect.server_version_info
    if release not in _EXPECTED:
        made = connection.begin_nested()
        try:
            beside = connection.execution_options(schema_translate_map={None: "pg_temp"})
            metadata.create_all(beside, checkfirst=False)
            _EXPECTED[release] = _shapes(connection, "c.relnamespace = pg_my_temp_schema()")
        finally:
            connection.execution_options(schema_translate_map=None)
            made.rollback()
    return _EXPECTED[release]


def _shapes(connection: Connection, here: str) -> Shapes:
    found = {}
    for kind, query in SHAPES.items():
        for table, name, said in connection.execute(text(query.format(here=here))):
            found[kind, table, name] = re.sub(r"\b(pg_temp_\d+|pg_temp|public)\.", "", said)
    return found


# ---- rows ----------------------------------------------------------------------------------------------------------

STEP = 2000
"""Rows that are fetched at once."""


def columns_of(table: Table) -> list[Column[Any]]:
    """The columns of a table but for its key."""
    return [column for column in table.columns if column.name != "id"]


def compare_rows(table: Table, connection: Connection, recorded: dict[int, list[Any]]) -> Iterator[str]:
    """Hold every row, raw as the driver gives it, against the journal; what is left over is missing."""
    columns = columns_of(table)
    listed = ", ".join(f'"{name}"' for name in ["id", *(column.name for column in columns)])
    query = f'SELECT {listed} FROM "{table.name}" ORDER BY id'
    present: set[int] = set()
    with connection.exec_driver_sql(query, execution_options={"yield_per": STEP}) as result:
        for key, *values in chain.from_iterable(result.partitions()):
            expected = recorded.get(key)
            present.add(key)
            if expected is None:
                yield say("{name} row {key}: no journal entry made it", name=table.name, key=key)
            elif values != expected or list(map(type, values)) != list(map(type, expected)):
                yield from _differences(table.name, key, columns, values, expected)
    for key in sorted(set(recorded) - present):
        yield say("{name} row {key}: the journal holds it, the table does not", name=table.name, key=key)


def compare_bound(table: Table, connection: Connection, recorded: dict[int, tuple[int, str | None]]) -> Iterator[str]:
    """Hold every erasable row against the digest that binds it; no word of what stands in it is told."""
    columns = bound_columns(table)
    present: set[int] = set()
    for row in connection.execute(select(*(table.c[name] for name in columns)).order_by(table.c.id)).mappings():
        key = row["id"]
        present.add(key)
        number, digest = recorded.get(key, (0, None))
        if digest is None and not number:
            yield say("{name} row {key}: no journal entry binds it; it was planted", name=table.name, key=key)
        elif digest is None:
            yield say("{name} row {key}: entry {number} erased it, and it stands there again",
                name=table.name, key=key, number=number)  # fmt: skip
        elif not _is_bound(table, dict(row), digest):
            yield say(
                "{name} row {key}: is not what entry {number} binds; it was changed or exchanged",
                name=table.name, key=key, number=number)  # fmt: skip
    for key, (number, digest) in sorted(recorded.items()):
        if digest is not None and key not in present:
            yield say(
                "{name} row {key}: entry {number} binds it, and it is gone without an erasure",
                name=table.name, key=key, number=number)  # fmt: skip


def _is_bound(table: Table, row: dict[str, Any], digest: str) -> bool:
    try:
        return commitment(table.name, row) == digest
    except (Refused, TypeError, ValueError):  # a value of another kind than the column's
        return False


def _differences(
    name: str, key: int, columns: list[Column[Any]], values: list[Any], expected: list[Any]
) -> Iterator[str]:
    for column, value, said in zip(columns, values, expected, strict=True):
        if value != said or type(value) is not type(said):
            yield say("{name} row {key}: {column} is {value!r}, the journal says {said!r}", name=name,
                key=key, column=column.name, value=value, said=said)  # fmt: skip


TICK = timedelta(microseconds=1)


def move_back_what_lies_ahead(act: Transaction, zone: tzinfo) -> int:
    """How many rows of entries dated after the act's clock got the earliest time that they can have, in their order.

    That is what another desk's clock said, or the moment after the entry before: a rated life is never lengthened.
    """
    moved = 0
    for key, (table, shift) in _written_ahead(act).items():
        row = act.session.get(_class_of(table), key[1])
        values = _sooner(act, row, shift, zone) if row is not None else {}
        if row is not None and values:
            act.change(row, **values)
            moved += 1
    return moved


def _written_ahead(act: Transaction) -> dict[tuple[str, int], tuple[Table, timedelta]]:
    """Every row that an entry dated ahead wrote, with by how much that entry's time is too late."""
    before = select(Journal.at).where(Journal.at <= act.at).order_by(Journal.id.desc()).limit(1)
    last = act.session.scalar(before)
    ahead = select(Journal.at, Journal.content).where(Journal.at > act.at).order_by(Journal.id)
    found: dict[tuple[str, int], tuple[Table, timedelta]] = {}
    for at, written in act.session.execute(ahead).all():
        content = json.loads(written)
        said = content.get("clock")
        true = datetime.fromisoformat(said) if said is not None else (last or act.at) + TICK
        last = min(max(true, last or true), act.at)
        for name, key, _ in content["rows"]:
            found[name, key] = (Base.metadata.tables[name], at - last)
    return found


def _sooner(act: Transaction, row: Base, shift: timedelta, zone: tzinfo) -> dict[str, Any]:
    values: dict[str, Any] = {}
    today = act.at.astimezone(zone).date()
    for name in days_and_moments_past(type(row)):
        value = getattr(row, name)
        if isinstance(value, datetime) and value > act.at:
            values[name] = min(value - shift, act.at)
        elif isinstance(value, date) and not isinstance(value, datetime) and value > today:
            values[name] = min(value - shift, today)
    return values


def _class_of(table: Table) -> type[Base]:
    found: type[Base] = next(each.class_ for each in Base.registry.mappers if each.local_table is table)
    return found
