"""Keeps what the newest revision is: `python -m tests.records.keep_schema`, after a migration and before a release.

A small real file with rows, and the scripts by which a new database is made without going through every migration.
"""

import gzip
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

from sqlalchemy import Connection, create_engine
from sqlalchemy.dialects import postgresql
from sqlalchemy.schema import CreateIndex, CreateTable

from fleetbench.records.core.database import VERSION_TABLE, as_url
from fleetbench.records.upkeep.migrate import head_revision, known_revisions, open_database, upgrade
from fleetbench.records.upkeep.planted import clauses
from fleetbench.records.upkeep.tables import metadata
from fleetbench.shipped import shipped
from tests.records.few_rows import write_few_rows

SCHEMAS = Path(__file__).parent / "schemas"
IN_FILE = "SELECT sql FROM sqlite_master WHERE sql IS NOT NULL ORDER BY type DESC, name"
NOTES = (
    f"CREATE TABLE {VERSION_TABLE} (\n\tversion_num VARCHAR(32) NOT NULL,\n"
    f"\tCONSTRAINT {VERSION_TABLE}_pkc PRIMARY KEY (version_num)\n)"
)


def through_migrations(connection: Connection) -> None:
    """Bring an empty database up by every migration, which a new one no longer goes through."""
    upgrade(connection, known_revisions()[0])
    upgrade(connection)


def scripts() -> dict[str, str]:
    """What a new database is made by, by the name of its file: the tables that the migrations end at, and the revision.

    For SQLite it is what they left in a file. For a server it is made of the tables' definitions,
    since a server words a check otherwise each time it is told it, with columns in the order of the migrations.
    """
    with tempfile.TemporaryDirectory() as folder:
        engine = create_engine(as_url(Path(folder) / "new.db"))
        with engine.begin() as connection:
            through_migrations(connection)
            in_file = [in_order(sql) for sql in connection.exec_driver_sql(IN_FILE).scalars()]
            columns = {
                name: [row[1] for row in connection.exec_driver_sql(f"PRAGMA table_info({name})")]
                for name in metadata.tables
            }
        engine.dispose()
    stamp = f"INSERT INTO {VERSION_TABLE} (version_num) VALUES ('{head_revision()}')"
    return {
        f"newest.{kind}.sql": "".join(f"{each};\n" for each in [*statements, stamp])
        for kind, statements in (("sqlite", in_file), ("postgresql", [NOTES, *_on_server(columns)]))
    }


def in_order(sql: str) -> str:
    """A statement of SQLite with columns in their order and rules by name: migrations leave those in any order."""
    if not sql.startswith("CREATE TABLE"):
        return sql
    begins, *lines, _ = clauses(sql)
    rules = [line for line in lines if line.startswith("CONSTRAINT ")]
    return f"{begins} (\n\t" + ",\n\t".join([*(line for line in lines if line not in rules), *sorted(rules)]) + "\n)"


def _on_server(columns: dict[str, list[str]]) -> Iterator[str]:
    server = postgresql.dialect()  # type: ignore[no-untyped-call]
    after = []
    for table in sorted(metadata.tables.values(), key=lambda table: table.name):
        begins, *lines, ends = str(CreateTable(table).compile(dialect=server)).strip().split("\n")
        parts = [line.strip().rstrip(",") for line in lines]
        rules = parts[len(table.columns) :]
        keys = [rule for rule in rules if " FOREIGN KEY" in rule]
        own = {part.split()[0].strip('"'): part for part in parts[: len(table.columns)]}
        inside = [own[name] for name in columns[table.name]] + [rule for rule in rules if rule not in keys]
        yield "\n".join([begins, ",\n".join(f"\t{part}" for part in inside), ends])
        after += [f"ALTER TABLE {table.name} ADD {key}" for key in sorted(keys)]
        indexes = sorted(table.indexes, key=lambda index: str(index.name))
        after += [str(CreateIndex(index).compile(dialect=server)) for index in indexes]
    yield from after


def keep() -> Path:
    """The kept file, made anew."""
    kept = SCHEMAS / f"{head_revision()}.db.gz"
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "kept.db"
        database = open_database(path)
        write_few_rows(database)
        database.close()
        with closing(sqlite3.connect(path)) as connection:
            connection.execute("PRAGMA journal_mode = DELETE")
            connection.execute("VACUUM")
        kept.write_bytes(gzip.compress(path.read_bytes(), mtime=0))
    return kept


if __name__ == "__main__":
    for name, script in scripts().items():
        (shipped("alembic") / name).write_text(script, encoding="utf-8")
    print(keep())
